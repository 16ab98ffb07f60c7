"""What all tests share."""

import gc
import os

import pytest
from hypothesis import HealthCheck, settings

# openpyxl takes lxml where it is there: the tests have it, the product does not, and is to be tested as it is.
os.environ["OPENPYXL_LXML"] = "False"

# New examples are drawn at each run, so that fewer to a run find as much in the end; BENCHLORE_EXAMPLES asks for more.
# Nothing is judged by the clock: a busy machine is slow, not wrong.
settings.register_profile(
    "each run",
    max_examples=int(os.environ.get("BENCHLORE_EXAMPLES", "40")),
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("each run")


def pytest_collection_finish():
    """What is imported by now stays: the collector need not walk it again and again, a tenth of the time."""
    gc.collect()
    gc.freeze()


@pytest.fixture(scope="session")
def browser():
    """A real browser, started once by each process that looks at screens; each test opens windows of its own."""
    from web_browser import browsing

    with browsing() as found:
        yield found
