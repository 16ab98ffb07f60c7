"""The API keeps to its own description: Schemathesis asks it sense and nonsense of every operation."""

from pathlib import Path

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, settings
from schemathesis.config import SchemathesisConfig

from benchlore.library import Library, init_library, plan_complaint
from benchlore.web import create_app

HERE = {"host": "127.0.0.1"}
"""The app answers this machine's own names alone."""
schema = schemathesis.openapi.from_asgi(
    "/api/openapi.json",
    create_app(Library(Path("nowhere"), "", "")),
    config=SchemathesisConfig.from_dict({"seed": 1}),
    headers=HERE,
)


@pytest.fixture(scope="module", autouse=True)
def app(tmp_path_factory):
    library = init_library(tmp_path_factory.mktemp("api") / "library", title="Quay bench", board="my-board")
    plan_complaint(library, "my-board", "no-power")
    schema.app = create_app(library)


@schema.parametrize()
@settings(
    max_examples=15,
    deadline=None,
    derandomize=True,
    database=None,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=list(HealthCheck),
)
def test_every_answer_is_as_described(case):
    if "board" in case.path_parameters and case.meta and case.meta.generation.mode.is_positive:
        case.path_parameters |= {"board": "my-board"}  # a name that is drawn is never a book's
    case.call_and_validate(headers=HERE)
