import pytest

from benchlore.library import init_library


@pytest.fixture
def library(tmp_path):
    return init_library(tmp_path / "library", title="Test", board="my-board")
