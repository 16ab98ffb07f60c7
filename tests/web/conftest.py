import pytest
from starlette.testclient import TestClient

from benchlore.library import init_library
from benchlore.web import create_app


@pytest.fixture
def library(tmp_path):
    return init_library(tmp_path / "library", title="Quay bench", board="my-board")


@pytest.fixture
def client(library):
    """A browser's own requests, without a browser."""
    return TestClient(create_app(library), base_url="http://127.0.0.1")
