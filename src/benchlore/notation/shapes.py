"""Base of the pydantic models that say what a text file may hold, and their errors in plain words."""

from collections.abc import Iterable
from types import UnionType
from typing import Annotated, Any, Final, TypeVar, Union, get_args, get_origin

from pydantic import BaseModel, ConfigDict, ValidationError, model_validator
from pydantic.json_schema import GenerateJsonSchema
from pydantic_core import ErrorDetails

from benchlore.notation.findings import Findings
from benchlore.notation.names import did_you_mean, listed, nearest, quoted
from benchlore.notation.problem import Key


def _spaced(field: str) -> str:
    return field.rstrip("_").replace("_", " ")


def _titled(shape: type[BaseModel]) -> str:
    return shape.__name__.removesuffix("Shape")


class Shape(BaseModel):
    """What one group of names may hold.

    ``only_after`` is written ``only after``. An empty value is as good as none.
    """

    model_config = ConfigDict(
        extra="forbid", frozen=True, alias_generator=_spaced, model_title_generator=_titled
    )

    @model_validator(mode="before")
    @classmethod
    def _drop_empty(cls, data: object) -> object:
        if not isinstance(data, dict):
            return data
        return {name: value for name, value in data.items() if value is not None or name not in aliases(cls)}


SCHEMA_DIALECT: Final = "https://json-schema.org/draft/2020-12/schema"

ShapeT = TypeVar("ShapeT", bound=Shape)


def aliases(shape: type[BaseModel]) -> tuple[str, ...]:
    """Return the names that a shape knows, as they are written."""
    return tuple(field.alias or name for name, field in shape.model_fields.items())


def schema_of(shape: type[Shape], title: str) -> dict[str, Any]:
    """Return a shape as JSON Schema (draft 2020-12)."""
    schema = shape.model_json_schema(schema_generator=_WithoutFieldTitles)
    return {"$schema": SCHEMA_DIALECT, **schema, "title": title}


class _WithoutFieldTitles(GenerateJsonSchema):
    """A field's title would only repeat its name."""

    def field_title_should_be_set(self, schema: object) -> bool:  # noqa: ARG002  the base class's signature
        return False


def read_shape(shape: type[ShapeT], data: object, key: Key, findings: Findings) -> ShapeT | None:
    """Read ``data``, which stands at ``key``; ``None`` where it has errors, all of which are collected."""
    try:
        return shape.model_validate(data)
    except ValidationError as error:
        details = error.errors(include_url=False)
        mistyped = {meant for detail in details if (meant := _meant(shape, detail)) is not None}
        for detail in details:
            if detail["type"] != "missing" or detail["loc"] not in mistyped:
                _say(shape, detail, key, findings)
        return None


_WORDS: Final = {
    "dict_type": "names with values are expected here ('name: value')",
    "model_type": "names with values are expected here ('name: value')",
    "model_attributes_type": "names with values are expected here ('name: value')",
    "list_type": "a list is expected here, such as [first, second]",
    "tuple_type": "a list is expected here, such as [first, second]",
}


def _say(shape: type[Shape], detail: ErrorDetails, key: Key, findings: Findings) -> None:
    """Translate one of pydantic's errors."""
    place = tuple(part for part in detail["loc"] if part != "[key]")
    kind, value = detail["type"], detail["input"]
    if kind == "extra_forbidden":
        message = _unknown(str(place[-1]), value, aliases(_shape_at(shape, place[:-1])))
        findings.error((*key, *place), "unknown-key", message, about=(*key, *place[:-1]))
    elif kind == "missing":
        message = _missing(_shape_at(shape, place[:-1]), str(place[-1]))
        findings.error((*key, *place), "missing", message, about=(*key, *place[:-1]))
    elif kind == "value_error":
        findings.error((*key, *place), "bad-value", str(detail.get("ctx", {}).get("error", detail["msg"])))
    else:
        message = _WORDS.get(kind, "this cannot be read")
        findings.error((*key, *place), "bad-value", f"{message}, not {_kind(value)}")


def _meant(shape: type[Shape], detail: ErrorDetails) -> tuple[int | str, ...] | None:
    """Return the place of the key that an unknown one was meant to be: it is then not missing besides."""
    if detail["type"] != "extra_forbidden":
        return None
    *parents, name = detail["loc"]
    near = nearest(str(name), aliases(_shape_at(shape, parents)))
    return None if near is None else (*parents, near)


def _unknown(name: str, value: object, known: tuple[str, ...]) -> str:
    if value is None and " " in name and len(name) > 20:
        return f"unknown key {quoted(name)}; a text with a comma in it needs quotes"
    hint = did_you_mean(name, known)
    comma = "; a text with a comma in it needs quotes" if value is None and "mean" not in hint else ""
    return f"unknown key {quoted(name)}{comma or hint}"


def _missing(shape: type[BaseModel], alias: str) -> str:
    field = next(field for name, field in shape.model_fields.items() if (field.alias or name) == alias)
    example = f", such as '{alias}: {field.examples[0]}'" if field.examples else ""
    return f"'{alias}' is missing; add it{example}"


def _kind(value: object) -> str:
    if isinstance(value, dict):
        return f"the names {listed([str(name) for name in value][:3])}" if value else "an empty group"
    return "a list" if isinstance(value, list) else "nothing" if value is None else quoted(value)


def _shape_at(shape: type[Shape], place: Iterable[int | str]) -> type[BaseModel]:
    """Follow ``place`` through models, lists and mappings to the model that stands there."""
    at: Any = shape
    for part in place:
        if _is_model(at):
            field = next(
                field for name, field in at.model_fields.items() if part in (field.alias or name, name)
            )
            at = _inner(field.annotation)
        else:
            at = _inner(get_args(at)[-1])
    model: type[BaseModel] = at
    return model


def _inner(annotation: Any) -> Any:
    """Unwrap ``Annotated`` and ``| None``; leave ``dict``, ``list`` and ``tuple`` for the next step."""
    while get_origin(annotation) in (Annotated, Union, UnionType):
        options = [each for each in get_args(annotation) if each is not type(None)]
        annotation = options[0]
    if get_origin(annotation) is tuple and get_args(annotation)[-1] is Ellipsis:
        return list[get_args(annotation)[0]]  # type: ignore[misc]
    return annotation


def _is_model(annotation: Any) -> bool:
    return isinstance(annotation, type) and issubclass(annotation, BaseModel)
