from importlib import import_module

import pytest
from site_samples import make_library, press

from benchlore.press.drawing import Picture


@pytest.fixture(scope="session")
def quay(tmp_path_factory):
    """A library that all share; whoever changes it makes a copy."""
    return make_library(tmp_path_factory.mktemp("quay") / "library")


@pytest.fixture(scope="session")
def out(quay, tmp_path_factory):
    """Its site, with an address of its own. A proof's pictures take seconds, and have tests of their own."""
    folder = tmp_path_factory.mktemp("site") / "out"
    with pytest.MonkeyPatch.context() as patched:
        drawing = import_module("benchlore.press.proof_page")
        for name in ("draw_spreads", "draw_reliability", "draw_coverage", "draw_gains", "draw_belief"):
            patched.setattr(drawing, name, _undrawn)
        press(quay, folder, base="https://quay.example/lib/")
    return folder


def _undrawn(*_, **options):
    svg = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9" role="img" aria-label="Not drawn here"></svg>'
    return Picture(options.get("title", "A picture"), "Not drawn here", svg, svg)
