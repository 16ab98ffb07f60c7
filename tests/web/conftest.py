import pytest
from starlette.testclient import TestClient
from web_browser import SCREENS, Pages, browsing, served

from benchlore.library import init_library
from benchlore.web import create_app


@pytest.fixture
def library(tmp_path):
    return init_library(tmp_path / "library", title="Quay bench", board="my-board")


@pytest.fixture
def client(library):
    """A browser's own requests, without a browser."""
    return TestClient(create_app(library), base_url="http://127.0.0.1")


@pytest.fixture(scope="module")
def browser():
    """A real browser."""
    with browsing() as found:
        yield found


@pytest.fixture
def pages(browser, library):
    """Opens pages of the app in a real browser: ``pages.open("/books", screen)``; override ``library``."""
    with served(library) as address:
        found = Pages(browser, address)
        yield found
        found.close()
    assert found.complaints == []


@pytest.fixture(params=SCREENS, ids=str)
def screen(request):
    """A telephone and a desk, light and dark."""
    return request.param
