from pathlib import Path

import pytest

from benchlore.model import schema

PAGE = (Path(__file__).parents[2] / "docs" / "model.md").read_text(encoding="utf-8")
FORMS = [form for form in vars(schema).values() if isinstance(form, type) and hasattr(form, "model_fields")]


@pytest.mark.parametrize(
    ("form", "field"), [(form.__name__, field) for form in FORMS for field in form.model_fields]
)
def test_every_field_of_the_json_form_is_documented(form, field):
    table = PAGE[PAGE.index("## `model.json`") :]
    assert any(f"`{field}{after}" in table for after in ("`", "[")), f"{form}.{field}"
