import pytest
from starlette.testclient import TestClient
from web_browser import SCREENS, Pages, served

from benchlore.library import init_library
from benchlore.web import create_app


def pytest_itemcollected(item):
    """Tell Schemathesis' tests of one function apart: of those with one id, xdist runs the first alone."""
    if operation := getattr(item, "operation_label", None):
        item._id = item.id.with_params(operation)


@pytest.fixture
def library(tmp_path):
    return init_library(tmp_path / "library", title="Quay bench", board="my-board")


@pytest.fixture
def client(library):
    """A browser's own requests, without a browser."""
    return TestClient(create_app(library), base_url="http://127.0.0.1")


@pytest.fixture
def address(library):
    """The address of the running app; a module that only reads may override it with one of its own scope."""
    with served(library) as found:
        yield found


@pytest.fixture
def pages(browser, address):
    """Opens pages of the app in a real browser: ``pages.open("/books", screen)``; override ``library``."""
    found = Pages(browser, address)
    yield found
    found.close()
    assert found.complaints == []


@pytest.fixture(params=SCREENS, ids=str)
def screen(request):
    """A telephone and a desk, light and dark."""
    return request.param
