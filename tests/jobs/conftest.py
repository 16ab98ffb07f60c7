import os
from pathlib import Path

import pytest
from postgresql_server import NoServerError, running


@pytest.fixture(scope="session")
def server():
    """A PostgreSQL server; without one the tests that need it are skipped, but never in continuous integration."""
    try:
        with running() as server:
            yield server
    except NoServerError as reason:
        if os.environ.get("CI") == "true":
            pytest.fail(f"PostgreSQL must be tested here: {reason}")
        pytest.skip(f"PostgreSQL IS NOT TESTED: {reason}")


@pytest.fixture(params=["sqlite", "postgresql"])
def place(request: pytest.FixtureRequest, tmp_path: Path) -> Path | str:
    """An empty place for a store: a folder, then a part of a server's database."""
    return tmp_path if request.param == "sqlite" else request.getfixturevalue("server").schema()
