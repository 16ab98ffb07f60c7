"""How people write: numbers with and without units, dates in many forms, names with slips of the pen."""

import math
from collections.abc import Sequence
from datetime import date

import numpy as np

from demo_jobs.booktext import CheckText

_UNITS = {
    "resistance": "Ohm",
    "voltage": "V",
    "diode drop": "V",
    "current": "mA",
    "temperature": "°C",
    "time": "s",
}
_SIZE = {"mV": 1e-3, "mA": 1e-3, "kOhm": 1e3}
_MILLIVOLTS = 0.06

MONTHS: dict[str, tuple[str, ...]] = {
    "de": ("Jan.", "Feb.", "März", "April", "Mai", "Juni", "Juli", "Aug.", "Sept.", "Okt.", "Nov.", "Dez."),
    "nl": (
        *("januari", "februari", "maart", "april", "mei", "juni"),
        *("juli", "augustus", "september", "oktober", "november", "december"),
    ),
    "en": ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"),
}


def column_unit(check: CheckText) -> str:
    """Return the unit at the head of a check's column; empty for named results."""
    if not check.measures:
        return ""
    unit = _UNITS[check.measures]
    first = check.shown[0]
    is_small = unit == "V" and (math.exp(first.mean) if first.log else first.mean) < _MILLIVOLTS
    return "mV" if is_small else unit


def figures(value: float) -> str:
    """Write a number with three figures and a decimal point, never with an exponent."""
    if value == 0:
        return "0"
    first = math.floor(math.log10(abs(value)))
    text = f"{round(value, 2 - first):.{min(max(0, 2 - first), 4)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


class Pen:
    """One shop's hand: ``words`` are its own for results, ``comma`` says what separates the decimals."""

    def __init__(
        self, language: str, random: np.random.RandomState, words: dict[str, list[str]], *, comma: bool
    ) -> None:
        self.language, self.random, self.words, self.comma = language, random, words, comma

    def one_of(self, words: Sequence[str]) -> str:
        """Pick one."""
        return words[int(self.random.randint(len(words)))]

    def happens(self, share: float) -> bool:
        """Toss a coin of this weight."""
        return bool(self.random.random_sample() < share)

    def result(self, name: str) -> str:
        """Write a named result in the shop's words."""
        return self.one_of(self.words.get(name, [name]))

    def number(self, value: float) -> str:
        """Write a bare number."""
        text = figures(value)
        return text.replace(".", ",") if self.comma else text

    def reading(self, value: float, unit: str) -> str:
        """Write a measured value that stands in a column of ``unit``, SI value given."""
        if math.isinf(value):
            return self.one_of(("OL", "OL", "O.L.", "0L"))
        if unit == "Ohm" and value >= 1000 and self.happens(0.45):
            return self._kilo(value)
        bare = self.number(value / _SIZE.get(unit, 1.0))
        if not self.happens(0.16):
            return bare
        return f"{bare}{self.one_of(('', ' '))}{unit.replace('Ohm', self.one_of(('Ohm', 'ohm', 'R')))}"

    def _kilo(self, value: float) -> str:
        text = figures(value / 1000)
        if "." in text and self.happens(0.4) and value < 1e6:
            return text.replace(".", "k")
        mark = self.one_of(("k", " kOhm", "k"))
        return f"{text.replace('.', ',') if self.comma else text}{mark}"

    def day(self, day: date, forms: Sequence[str]) -> str:
        """Write a date in one of the shop's forms; the first is the habit."""
        form = forms[0] if self.happens(0.72) else self.one_of(forms[1:])
        month = MONTHS[self.language][day.month - 1]
        return form.format(d=day.day, m=day.month, y=day.year, yy=day.year % 100, month=month)

    def name(self, called: Sequence[str], *, slips: float) -> str:
        """Write a name as somebody in a hurry does: in any case, now and then misspelt."""
        text = called[0] if len(called) == 1 or self.happens(0.85) else self.one_of(called[1:])
        if self.happens(0.12):
            text = self.one_of((text.upper(), text.lower(), text.capitalize()))
        if self.happens(0.08):
            text = text.replace(" ", "  ", 1)
        return self._slip(text) if self.happens(slips) else text

    def _slip(self, text: str) -> str:
        """Exchange two letters inside the longest word, if it is long enough to stay readable."""
        word = max(text.replace("-", " ").split(), key=len)
        if len(word) < 7 or not word.isalpha() or len(text) < 10:
            return text
        place = int(self.random.randint(2, len(word) - 2))
        slipped = word[:place] + word[place + 1] + word[place] + word[place + 2 :]
        return text.replace(word, slipped, 1)

    def minutes(self, value: float) -> str:
        """Write minutes of work, rounded as people round them."""
        rounded = max(5, 5 * round(value / 5))
        hours, rest = divmod(rounded, 60)
        forms = [f"{rounded}", f"{rounded}", f"{rounded} min", f"{hours}:{rest:02d}"]
        if hours and rest:
            forms.append(f"{hours} h {rest} min")
        return self.one_of(forms)
