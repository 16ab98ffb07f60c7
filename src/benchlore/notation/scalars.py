"""Field types for shapes: each reads the text of one scalar, and describes itself in JSON Schema.

All scalars arrive as the text that was written (see ``document``), so nothing here guesses a type from its
look. Readers raise ``ValueError``, which pydantic collects.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Annotated, Any, Final, TypeAlias

from pydantic import BeforeValidator, GetCoreSchemaHandler, GetJsonSchemaHandler, WithJsonSchema
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema, core_schema

from benchlore.notation.names import LONGEST_NAME, did_you_mean, is_name, listed, quoted
from benchlore.units import CHANCE_WORDS, Chance, parse_chance, parse_duration


def as_text(value: object) -> str:
    """Return a scalar's text.

    Raises
    ------
    ValueError
        If ``value`` is a list or names with values.
    """
    if isinstance(value, dict):
        pairs = ", ".join(f"{name}: {inner}" if inner else str(name) for name, inner in value.items())
        raise ValueError(f"a text is expected, not {quoted('{' + pairs + '}')}; put it in quotes")  # noqa: TRY004
    if isinstance(value, list):
        raise ValueError("a text is expected, not a list")  # noqa: TRY004  pydantic collects value errors only
    return "" if value is None else str(value).strip()


def as_filled_text(value: object) -> str:
    """Return a scalar's text, which must not be empty."""
    if not (text := as_text(value)):
        raise ValueError("a text is expected here, and there is none")
    return text


def as_name(value: object) -> str:
    """Return a name."""
    text = as_filled_text(value)
    if is_name(text):
        return text
    made = "-".join(
        "".join(part if part.isascii() and part.isalnum() else " " for part in text.lower()).split()
    )
    hint = f"; did you mean {quoted(made)}?" if is_name(made) else ""
    raise ValueError(f"{quoted(text)} is no name; use lower-case letters, digits and single hyphens{hint}")


def as_list(value: object) -> object:
    """Let one item stand for a list of one."""
    return value if value is None or isinstance(value, list | tuple) else [value]


def as_number(value: object) -> float:
    """Return a plain number of zero or more."""
    text = as_filled_text(value)
    try:
        number = float(text.replace(",", "."))
    except ValueError:
        raise ValueError(f"{quoted(text)} is no number") from None
    if not 0 <= number < 1e12:
        raise ValueError(f"{quoted(text)} is out of range; write a number of zero or more, below 1e12")
    return number


def as_positive(value: object) -> float:
    """Return a number above zero."""
    if (number := as_number(value)) > 0:
        return number
    raise ValueError("a number above zero is expected")


def as_minutes(value: object) -> float:
    """Return a duration in minutes."""
    return parse_duration(as_filled_text(value))


@dataclass(frozen=True, slots=True)
class StatedChance:
    """A chance, and whether it was stated by a word, which no sum can be held to."""

    chance: Chance
    is_word: bool


def as_chance(value: object) -> StatedChance:
    """Return a chance."""
    text = as_filled_text(value)
    return StatedChance(parse_chance(text), text.lower() in CHANCE_WORDS)


@dataclass(frozen=True, slots=True)
class Money:
    """An amount, and its currency where that was written."""

    amount: float
    currency: str | None = None


def as_money(value: object) -> Money:
    """Return an amount such as ``48``, ``48.50`` or ``48 EUR``."""
    text = as_filled_text(value)
    parts = text.split()
    currency = next((part for part in parts if part.isalpha()), None)
    amounts = [part for part in parts if part != currency]
    if len(amounts) != 1:
        raise ValueError(f"{quoted(text)} is no amount; write it as 48, 48.50 or 48 EUR")
    return Money(as_number(amounts[0]), as_currency(currency) if currency else None)


def as_currency(value: object) -> str:
    """Return a currency's three-letter code (ISO 4217)."""
    text = as_filled_text(value)
    code = text.upper()
    if len(code) != 3 or not (code.isascii() and code.isalpha()):
        raise ValueError(f"{quoted(text)} is no currency; write its three-letter code, such as EUR")
    return code


def one_of(names: Iterable[str], kind: str) -> Callable[[object], str]:
    """Return a reader of one of ``names``, which forgives hyphens and case."""
    known = tuple(names)

    def read(value: object) -> str:
        text = as_filled_text(value)
        same = " ".join(text.lower().replace("-", " ").replace("_", " ").split())
        if same in known:
            return same
        hint = did_you_mean(text, known) or f"; write {listed(known, 'or')}"
        raise ValueError(f"no {kind} {quoted(text)}{hint}")

    return read


@dataclass(frozen=True, eq=False)
class Shorthand:
    """A second, shorter way of writing a field: ``read`` spells it out, ``schema`` describes it."""

    read: Callable[[object], object]
    schema: JsonSchemaValue

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Spell out before reading."""
        return core_schema.no_info_before_validator_function(self.read, handler(source))

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        """Allow either way."""
        return {"anyOf": [dict(self.schema), handler(schema)]}


def described(read: Callable[[object], object], schema: JsonSchemaValue) -> tuple[Any, WithJsonSchema]:
    """Return what makes a type of ``read``: the reader, and what JSON Schema says of the text."""
    return BeforeValidator(read), WithJsonSchema(schema)


SCALAR: Final[JsonSchemaValue] = {"type": ["string", "number"]}
"""JSON Schema of a text that may look like a number."""

NAME: Final[JsonSchemaValue] = {
    "type": "string",
    "pattern": "^[a-z0-9]+(-[a-z0-9]+)*$",
    "maxLength": LONGEST_NAME,
}
"""JSON Schema of a name."""

Text: TypeAlias = Annotated[str, *described(as_text, SCALAR)]
FilledText: TypeAlias = Annotated[str, *described(as_filled_text, {**SCALAR, "minLength": 1})]
Name: TypeAlias = Annotated[str, *described(as_name, NAME)]
Number: TypeAlias = Annotated[float, *described(as_number, {**SCALAR, "minimum": 0})]
Positive: TypeAlias = Annotated[float, *described(as_positive, {**SCALAR, "exclusiveMinimum": 0})]
Minutes: TypeAlias = Annotated[float, *described(as_minutes, SCALAR)]
ChanceText: TypeAlias = Annotated[StatedChance, *described(as_chance, SCALAR)]
MoneyText: TypeAlias = Annotated[Money, *described(as_money, SCALAR)]
Currency: TypeAlias = Annotated[str, *described(as_currency, {"type": "string", "pattern": "^[A-Za-z]{3}$"})]
FilledTexts: TypeAlias = Annotated[tuple[FilledText, ...], Shorthand(as_list, SCALAR)]
Names: TypeAlias = Annotated[tuple[Name, ...], Shorthand(as_list, NAME)]
