"""What can go wrong with an intermittent complaint; each class is a case that callers treat differently.

```
SoakError
├── RecordError        a record cannot be read; names the line
│   └── DateOrderError its dates can be read day first or month first, and nothing tells which
├── WordsError         a customer's words that say no rate
└── NumberError        a number that makes no sense
```
"""


class SoakError(ValueError):
    """The base of all errors of this package."""


class RecordError(SoakError):
    """A record that cannot be read; ``line`` counts from 1, ``None`` where it is the record as a whole."""

    def __init__(self, line: int | None, wrong: str, expected: str) -> None:
        self.line = line
        self.wrong = wrong
        self.expected = expected
        where = "" if line is None else f"line {line}: "
        super().__init__(f"{where}{wrong}; {expected}")


class DateOrderError(RecordError):
    """Dates that can be read in two ways."""

    def __init__(self, line: int, text: str) -> None:
        super().__init__(
            line,
            f"'{text}' can be day first or month first, and so can all others",
            "say which it is (--dates day-first or --dates month-first)",
        )


class WordsError(SoakError):
    """Words that say no rate."""

    def __init__(self, text: str, expected: str) -> None:
        self.text = text
        shown = text if len(text) <= 60 else text[:59] + "…"
        super().__init__(f"'{shown}' says no rate; {expected}")


class NumberError(SoakError):
    """A number that makes no sense."""

    def __init__(self, what: str, found: object, expected: str) -> None:
        self.what = what
        super().__init__(f"{what} is {found}; {expected} is expected")


def above_zero(what: str, value: float) -> float:
    """Return a number that has to be finite and above zero."""
    if not 0 < value < float("inf"):
        raise NumberError(what, value, "a finite number above zero")
    return value


def chance_of(what: str, value: float) -> float:
    """Return a number that has to lie strictly between 0 and 1."""
    if not 0 < value < 1:
        raise NumberError(what, value, "a number above 0 and below 1")
    return value


def not_negative(what: str, value: float) -> float:
    """Return a number that has to be finite and not negative."""
    if not 0 <= value < float("inf"):
        raise NumberError(what, value, "a finite number of zero or more")
    return value


def hours_of(what: str, value: float) -> float:
    """Return a number of hours in a day."""
    if not 0 < value <= 24:
        raise NumberError(what, value, "a number above 0, up to 24")
    return value
