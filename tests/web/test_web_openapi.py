"""The API keeps to its own description: Schemathesis asks it sense and nonsense of every operation.

The library has an account, so that an answer without a session is looked at as well; the rate of wrong
passwords is not, as the API takes none.
"""

import tempfile
from datetime import UTC, datetime
from pathlib import Path

import pytest
import schemathesis
from argon2 import PasswordHasher
from hypothesis import HealthCheck, Phase, settings
from schemathesis.config import SchemathesisConfig

from benchlore.jobs import Outcome
from benchlore.library import Accounts, Close, Desk, Library, Role, Sessions, init_library, plan_complaint
from benchlore.web import create_app

HERE = {"host": "127.0.0.1"}
"""The app answers this machine's own names alone."""
OPEN, CLOSED = "an-open-job", "a-closed-job"
NAMES = {
    "board": "my-board",
    "complaint": "no-power",
    "facts": [{"check": "rail-ohms", "text": "3R3"}],
    "comeback_of": None,
    "kind": "note",
    "data": {"text": "smells burnt"},
    "fault": "unlisted",
}
signed_in = dict(HERE)
folder = tempfile.TemporaryDirectory(prefix="benchlore-api-")
"""The description is wanted when tests are collected, so the app is there before its library."""
LIBRARY = Library(Path(folder.name) / "library", "Quay bench", "")
schema = schemathesis.openapi.from_asgi(
    "/api/openapi.json",
    create_app(LIBRARY),
    config=SchemathesisConfig.from_dict({"seed": 1, "generation": {"with-security-parameters": False}}),
    headers=HERE,
)


@pytest.fixture(scope="module", autouse=True)
def app():
    library = init_library(LIBRARY.folder, title="Quay bench", board="my-board")
    plan_complaint(library, "my-board", "no-power")
    accounts = Accounts(library, hasher=PasswordHasher(time_cost=1, memory_cost=8, parallelism=1))
    now = datetime.now(UTC)
    steward = accounts.add("Ines", Role.STEWARD, "a lamp, a loupe")
    signed_in["cookie"] = f"benchlore={Sessions(library, accounts).begin(steward, now)}"
    with Desk(library) as desk:
        for key in (OPEN, CLOSED):
            desk.start("my-board", "no-power", key=key, now=now)
        desk.close(CLOSED, Close(Outcome.RETURNED), expected=0, token="close-it", by="", now=now)
    yield
    folder.cleanup()


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
    if case.meta and case.meta.generation.mode.is_positive:
        make_it_mean_something(case)
    case.call_and_validate(headers=signed_in)


def make_it_mean_something(case):
    """Put names of the library where names are expected: those that are drawn are never any that there are."""
    if "board" in case.path_parameters:
        case.path_parameters |= {"board": "my-board"}
    if "key" in case.path_parameters:
        case.path_parameters |= {"key": CLOSED if case.path.endswith("reopen") else OPEN}
    if isinstance(case.body, dict):
        case.body |= {name: value for name, value in NAMES.items() if name in case.body}
