"""Names of things, and the nearest one to a name that nobody has."""

import re
from collections.abc import Callable, Iterable, Sequence
from collections.abc import Set as AbstractSet
from typing import Final, TypeAlias

from rapidfuzz import process
from rapidfuzz.distance import OSA, JaroWinkler

LONGEST_NAME: Final = 60
Scorer: TypeAlias = Callable[..., float]
_NAME: Final = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
_FEW: Final = 8
_LEAST_LIKENESS: Final = 0.6
_LEAST_HEAD_LIKENESS: Final = 0.88


def is_name(text: str) -> bool:
    """Say whether ``text`` is a name: lower-case letters and digits, with single hyphens between them."""
    return len(text) <= LONGEST_NAME and _NAME.fullmatch(text) is not None


def nearest(name: str, names: Iterable[str]) -> str | None:
    """Return the one of ``names`` that ``name`` most probably was meant to be, or ``None``.

    Case, spaces, hyphens and underscores do not count. Transposed letters count as one slip (optimal string
    alignment); a shared beginning also makes names near. Of equally near ones the first is meant.
    """
    # A set has no order of its own; equal inputs are to give equal answers.
    known = list(dict.fromkeys(sorted(names) if isinstance(names, AbstractSet) else names))
    wanted, folded = _folded(name), [_folded(each) for each in known]
    if not wanted or len(name) > 2 * LONGEST_NAME:
        return None
    close = _close(wanted, folded, OSA.normalized_similarity, _LEAST_LIKENESS) or _close(
        wanted, folded, JaroWinkler.normalized_similarity, _LEAST_HEAD_LIKENESS
    )
    return known[max(close, key=close.__getitem__)] if close else None


def _close(wanted: str, folded: Sequence[str], scorer: Scorer, least: float) -> dict[int, float]:
    """Score the names that are near enough; a common beginning settles what ``scorer`` leaves even."""
    found = process.extract(wanted, folded, scorer=scorer, score_cutoff=least, limit=None)
    return {place: score + JaroWinkler.normalized_similarity(wanted, name) for name, score, place in found}


def did_you_mean(name: str, names: Iterable[str]) -> str:
    """Return ``"; did you mean 'vsys-rail'?"``, or the known names when they are few, or ``""``."""
    known = list(dict.fromkeys(names))
    if (near := nearest(name, known)) is not None:
        return f"; did you mean {quoted(near)}?"
    if 0 < len(known) <= _FEW:
        return f"; there {'is' if len(known) == 1 else 'are'} {listed(known)}"
    return ""


def shortened(text: str, most: int = 60) -> str:
    """Return ``text`` on one line of at most ``most`` characters, fit for a message."""
    text = " ".join(text[: 4 * most].split())
    return text if len(text) <= most else f"{text[: most - 1]}…"


def quoted(value: object) -> str:
    """Return a value as messages show it: ``'4.2 kohn'``."""
    return f"'{shortened(str(value))}'"


def listed(names: Sequence[str], last: str = "and") -> str:
    """Return names as a phrase: ``'a', 'b' and 'c'``."""
    shown = [quoted(name) for name in names]
    return f" {last} ".join([", ".join(shown[:-1]), shown[-1]]) if len(shown) > 1 else "".join(shown)


def _folded(name: str) -> str:
    return re.sub(r"[\s_-]+", "-", name.casefold().strip())
