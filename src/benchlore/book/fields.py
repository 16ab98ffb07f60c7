"""Field types that only fault books have."""

from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import Annotated, Any, Final, TypeAlias

from benchlore.book.values import Hazard
from benchlore.notation import Key, quoted
from benchlore.notation.scalars import NAME, SCALAR, as_filled_text, as_name, as_number, described, one_of
from benchlore.units import Measure, parse_quantity

PICTURE_KINDS: Final = (".svg", ".png", ".jpg", ".jpeg", ".webp")
OTHERS: Final = "others"
"""Stands for all kinds of restart record that are not named."""
RECORD_KINDS: Final = ("fixed", "roughly even", "tied", "rarer", "oftener", "bursts", "random", OTHERS)
"""What a restart record may be found to be; ``soak`` finds it."""
_NOT: Final = "not "


@dataclass(frozen=True, slots=True)
class GateText:
    """One ``only after`` as it was written; ``key`` leads to it from its check or fix."""

    check: str
    state: str | None
    negated: bool
    key: Key


def as_gates(value: object) -> tuple[GateText, ...]:
    """Read ``{check: state}``, ``{check: not state}``, a check, or a list of these."""
    items = value if isinstance(value, list) else [value]
    in_list = isinstance(value, list)
    return tuple(
        gate for place, item in enumerate(items) for gate in _gates_in(item, (place,) if in_list else ())
    )


def _gates_in(item: object, key: Key) -> list[GateText]:
    if not isinstance(item, dict):
        return [GateText(as_name(item), None, negated=False, key=key)]
    return [_gate(as_name(check), state, (*key, str(check))) for check, state in item.items()]


def _gate(check: str, state: object, key: Key) -> GateText:
    if state is None:
        return GateText(check, None, negated=False, key=key)
    if isinstance(state, list):
        raise ValueError(f"one state is expected for {quoted(check)}, not a list; use 'not' or another check")  # noqa: TRY004
    text = as_filled_text(state)
    negated = text.startswith(_NOT)
    return GateText(check, as_name(text.removeprefix(_NOT).strip()), negated, key)


def as_shown(value: object) -> dict[str, Any]:
    """Read what each state shows; spans and chances are read once it is known what is measured."""
    if not isinstance(value, dict) or not value:
        raise ValueError("names with values are expected here, such as '{normal: 3.3 V ± 3 %}'")
    return {as_name(state): _one_shown(state, shown) for state, shown in value.items()}


def _one_shown(state: object, shown: object) -> Any:
    if shown is None or isinstance(shown, list):
        raise ValueError(f"{quoted(state)} says nothing of what it shows")
    return shown


def as_record(value: object) -> dict[str, str]:
    """Read which kinds of restart record give which result, as the result of each kind."""
    if not isinstance(value, dict) or not value:
        raise ValueError("results with kinds are expected here, such as '{even: fixed, uneven: others}'")
    found: dict[str, str] = {}
    read = one_of(RECORD_KINDS, "kind of record")
    for result, kinds in value.items():
        for kind in map(read, kinds if isinstance(kinds, list) else [kinds]):
            if kind in found:
                raise ValueError(f"{quoted(kind)} stands for two results; take one away")
            found[kind] = as_name(result)
    return found


def as_file_name(value: object) -> str:
    """Return the name of a picture beside the book; anything that leads out of the folder is refused."""
    text = as_filled_text(value)
    path = PurePosixPath(text)
    is_inside = not path.is_absolute() and ".." not in path.parts and not set(text) & set('\\:*?"<>|')
    if not is_inside or any(part.startswith(".") for part in path.parts):
        raise ValueError(f"{quoted(text)} is no file in the book's folder; write its name only")
    if path.suffix.lower() not in PICTURE_KINDS:
        raise ValueError(f"{quoted(text)} is no picture that can be shown; use {', '.join(PICTURE_KINDS)}")
    return text


def as_place(value: object) -> tuple[float, float]:
    """Return a place in a picture: pixels from the left and from the top."""
    if not isinstance(value, list) or len(value) != 2:
        raise ValueError("a place is two numbers: pixels from the left and from the top, such as [412, 230]")
    return as_number(value[0]), as_number(value[1])


def as_orcid(value: object) -> str:
    """Return an ORCID identifier; its last character is a check digit (ISO 7064, MOD 11-2)."""
    text = as_filled_text(value).removeprefix("https://orcid.org/")
    digits = text.replace("-", "")
    if len(text) != 19 or [text[k] for k in (4, 9, 14)] != ["-"] * 3 or not _is_digits(digits):
        raise ValueError(f"{quoted(text)} is no ORCID identifier; it looks like 0000-0002-1825-0097")
    if digits[-1] != orcid_check_digit(digits[:-1]):
        raise ValueError(f"{quoted(text)} is no ORCID identifier: its check digit is wrong; look for a slip")
    return text


def orcid_check_digit(digits: str) -> str:
    """Return the check digit of 15 digits by ISO 7064 MOD 11-2, as ORCID's help pages give it."""
    total = 0
    for digit in digits:
        total = (total + int(digit)) * 2
    rest = (12 - total % 11) % 11
    return "X" if rest == 10 else str(rest)


def _is_digits(digits: str) -> bool:
    body, last = digits[:-1], digits[-1:]
    return len(digits) == 16 and body.isascii() and body.isdecimal() and (last == "X" or "0" <= last <= "9")


def as_hazard(value: object) -> Hazard:
    """Return a hazard by its words."""
    by_words = {hazard.lower(): hazard for hazard in Hazard}
    return by_words[one_of(by_words, "caution")(value)]


def as_measure(value: object) -> Measure:
    """Return what is measured by its words."""
    return Measure(one_of([measure.value for measure in Measure], "measure")(value))


def as_current(value: object) -> float:
    """Return a current in amperes."""
    return parse_quantity(as_filled_text(value), Measure.CURRENT)


def as_voltage(value: object) -> float:
    """Return a voltage in volts."""
    return parse_quantity(as_filled_text(value), Measure.VOLTAGE)


_ONE_GATE: Final = {
    "anyOf": [
        NAME,
        {"type": "object", "additionalProperties": {"type": ["string", "null"]}, "propertyNames": NAME},
    ]
}
_GATES: Final = {"anyOf": [*_ONE_GATE["anyOf"], {"type": "array", "items": _ONE_GATE}]}
_SHOWN: Final = {
    "type": "object",
    "propertyNames": NAME,
    "additionalProperties": {
        "anyOf": [SCALAR, {"type": "object", "propertyNames": NAME, "additionalProperties": SCALAR}]
    },
}

_RECORD: Final = {
    "type": "object",
    "propertyNames": NAME,
    "additionalProperties": {
        "anyOf": [{"enum": list(RECORD_KINDS)}, {"type": "array", "items": {"enum": list(RECORD_KINDS)}}]
    },
}

Gates: TypeAlias = Annotated[tuple[GateText, ...], *described(as_gates, _GATES)]
Shown: TypeAlias = Annotated[dict[str, Any], *described(as_shown, _SHOWN)]
FromRecord: TypeAlias = Annotated[dict[str, str], *described(as_record, _RECORD)]
FileName: TypeAlias = Annotated[str, *described(as_file_name, {"type": "string"})]
Place: TypeAlias = Annotated[
    tuple[float, float],
    *described(
        as_place, {"type": "array", "items": {"type": "number", "minimum": 0}, "minItems": 2, "maxItems": 2}
    ),
]
Orcid: TypeAlias = Annotated[
    str, *described(as_orcid, {"type": "string", "pattern": "[0-9]{4}(-[0-9]{4}){2}-[0-9]{3}[0-9X]$"})
]
HazardText: TypeAlias = Annotated[Hazard, *described(as_hazard, {"enum": [each.value for each in Hazard]})]
MeasureText: TypeAlias = Annotated[
    Measure, *described(as_measure, {"enum": [each.value for each in Measure]})
]
CurrentText: TypeAlias = Annotated[float, *described(as_current, SCALAR)]
VoltageText: TypeAlias = Annotated[float, *described(as_voltage, SCALAR)]
