"""Examples in docstrings give what they show."""

import doctest
import importlib

import pytest


@pytest.mark.parametrize(("module", "examples"), [("drawing", 2), ("page", 1), ("text", 2)])
def test_examples_give_what_they_show(module, examples):
    result = doctest.testmod(importlib.import_module(f"benchlore.press.{module}"))
    assert result.failed == 0
    assert result.attempted >= examples
