"""Filling a row of chances that an expert stated in part."""

from collections.abc import Mapping, Sequence
from typing import Final

from benchlore.notation.scalars import StatedChance
from benchlore.units import Chance

_SLACK: Final = 0.02
_SLACK_OF_WORDS: Final = 0.3


class RowError(ValueError):
    """A row whose chances do not add up."""


def filled(
    stated: Mapping[str, StatedChance], options: Sequence[str], rest: str | None = None
) -> dict[str, Chance]:
    """Return a chance for each of ``options``; they sum to one.

    What ``stated`` leaves out goes to ``rest`` where that is not stated itself, otherwise evenly to all that
    are not. Rounded figures may miss 100 % by two, words by thirty: the row is then scaled.

    Raises
    ------
    RowError
        If the row adds up to more, or names every option and adds up to less.
    """
    total = sum(each.chance.probability for each in stated.values())
    slack = _SLACK_OF_WORDS if any(each.is_word for each in stated.values()) else _SLACK
    takers = _takers([option for option in options if option not in stated], rest)
    _check_sum(total, slack, is_full=not takers)
    share = max(0.0, 1.0 - total) / len(takers) if takers else 0.0
    scale = max(total, 1.0) if takers else total
    boards = min((each.chance.of for each in stated.values() if each.chance.of is not None), default=None)
    return {
        option: Chance(stated[option].chance.probability / scale, stated[option].chance.of)
        if option in stated
        else Chance(share if option in takers else 0.0, boards)
        for option in options
    }


def _takers(silent: list[str], rest: str | None) -> list[str]:
    return [rest] if rest in silent and rest is not None else silent


def _check_sum(total: float, slack: float, *, is_full: bool) -> None:
    if total > 1 + slack:
        raise RowError(f"this adds up to {100 * total:.0f} %; all together can be 100 % at most")
    if is_full and total < 1 - slack:
        rest = f"{100 * (1 - total):.0f} %"
        words = f"this adds up to {100 * total:.0f} % and leaves nothing out"
        raise RowError(f"{words}; say where the other {rest} go")
