"""What books have brought, in passages that a funder can read."""

from collections.abc import Callable, Iterator
from typing import Final

from benchlore.library.measuring import LEAST, ComplaintImpact, ImpactReport, Saving
from benchlore.library.passages import Passage, table_of
from benchlore.proof import Estimate
from benchlore.units import counted, money, share

UNKNOWN: Final = "What would have happened without a book cannot be told from the records yet."


def impact_passages(report: ImpactReport) -> tuple[Passage, ...]:
    """Tell what was measured, what the model expects, what is missing, and what is taken for granted."""
    return (_brought(report), _complaints(report), _model(report), _missing(report), _assumed(report))


def _brought(report: ImpactReport) -> Passage:
    led = report.led
    since = "so far" if report.since is None else f"opened since {report.since.isoformat()}"
    if not led.jobs:
        return Passage("What it brought", (f"No finished job {since} was led step by step.", UNKNOWN))
    ended = (
        f"{counted(led.jobs, 'finished job')} {'was' if led.jobs == 1 else 'were'} led step by step {since}: "
        f"{led.repaired:,} repaired for good, {led.came_back:,} came back, {led.returned:,} went back "
        f"unrepaired, {led.ruined:,} ruined."
    )
    sentences = [ended]
    if report.measured is None:
        sentences.append(UNKNOWN)
    else:
        sentences += _saving(report.measured, report.currency)
    return Passage("What it brought", tuple(sentences))


def _saving(found: Saving, currency: str) -> Iterator[str]:
    yield (
        f"Beside {counted(found.beside, 'job')} of the same complaints done the bench's own way, of the "
        f"{counted(found.jobs, 'led job')} that can be compared {_boards(found.repaired)}."
    )
    if found.hours is None or found.money is None:
        yield "Hours and money cannot be told: too few jobs have their minutes on record."
        return
    yield (
        f"Over {counted(found.timed, 'led job')} {_less(found.hours, _tenths, 'bench hours')}, and "
        f"{_less(found.money, _cash(currency), '')} in all."
    )
    if not (found.repaired.excludes_zero and found.hours.excludes_zero and found.money.excludes_zero):
        yield "Where an interval holds zero, it may be chance and no gain at all."


def _boards(found: Estimate) -> str:
    word = "more" if found.value >= 0 else "fewer"
    value, low, high = abs(found.value), found.low, found.high
    if found.value < 0:
        low, high = -high, -low
    return f"{value:,.1f} {word} were repaired than would have been (95 %: {_tenths(low)} to {_tenths(high)})"


def _less(found: Estimate, told: Callable[[float], str], unit: str) -> str:
    word = "saved" if found.value >= 0 else "lost"
    value, low, high = abs(found.value), found.low, found.high
    if found.value < 0:
        low, high = -high, -low
    what = f"{told(value)} {unit}".rstrip()
    return f"{what} {word} (95 %: {told(low)} to {told(high)})"


def _tenths(value: float) -> str:
    return f"{round(value, 1) + 0.0:,.1f}"  # never -0.0


def _cash(currency: str) -> Callable[[float], str]:
    return lambda value: money(value, currency)


def _complaints(report: ImpactReport) -> Passage:
    rows = [
        (
            f"{each.title}, {each.board}",
            f"{each.led.jobs:,}",
            _share(each.led.repaired, each.led.jobs),
            f"{each.own.jobs:,}",
            _share(each.own.repaired, each.own.jobs),
            "yes" if each.is_compared else "no",
        )
        for each in report.complaints
    ]
    head = ("complaint", "led", "led repaired", "own way", "own repaired", "compared")
    return Passage("By complaint", (), table_of(head, rows, "<>>>><") if rows else None)


def _share(some: int, of: int) -> str:
    return share(some / of) if of else "–"


def _model(report: ImpactReport) -> Passage:
    found = report.expected
    heading = "What the model expects"
    if found is None or found.hours is None or found.money is None:
        return Passage(heading, ("No kept proof compares a procedure with what the bench did.",))
    replayed = (
        f"Not measured, but replayed: the {counted(found.jobs, 'recorded job')} whose minutes are "
        f"known, each by a procedure made without it, against what the bench did: {_boards(found.repaired)}."
    )
    hours = _less(found.hours, _tenths, "bench hours")
    return Passage(heading, (replayed, f"{hours}, and {_less(found.money, _cash(report.currency), '')}."))


def _missing(report: ImpactReport) -> Passage:
    sentences = [sentence for each in report.complaints for sentence in _lacks(each)]
    if not report.complaints:
        sentences.append("There is no book with a complaint here.")
    if report.undated:
        sentences.append(
            f"{counted(report.undated, 'led job')} without a day of opening did not count, for a first day "
            f"was asked for."
        )
    return Passage("What is missing", tuple(sentences) or ("Nothing that this report could use.",))


def _lacks(each: ComplaintImpact) -> Iterator[str]:
    name = f"{each.title}, {each.board}"
    if not each.is_compared:
        yield (
            f"{name}: {counted(each.led.jobs, 'led job')} and {each.own.jobs:,} done the bench's own way; "
            f"at least {LEAST} of both are needed."
        )
    elif min(each.led.timed, each.own.timed) < LEAST:
        yield f"{name}: minutes are on record of {each.led.timed:,} led jobs and {each.own.timed:,} others."
    if not each.is_proven:
        yield f"{name}: no proof is kept; 'benchlore prove {each.board} {each.complaint}' makes one."
    elif each.replayed is None:
        yield f"{name}: the proof has no job with its minutes on record."
    elif each.stale:
        yield f"{name}: changed since the proof was made: {' and '.join(each.stale)}."


def _assumed(report: ImpactReport) -> Passage:
    hour = money(report.hour, report.currency)
    return Passage(
        "What this takes for granted",
        (
            (
                "A job counts as led where it was kept at the app's bench, reading by reading. Nobody drew "
                "lots over which jobs were: easier boards, better instruments or growing practice may be in "
                "the difference too."
            ),
            (
                "Led jobs are compared with those of the same complaint, weighted as the led ones are. "
                f"Complaints with fewer than {LEAST} jobs on either side do not count."
            ),
            (
                f"Money is at {report.shop}'s prices ({hour} an hour): time, parts, boards lost, comebacks, "
                "and the worth of a repair for each board that was not repaired. What book and research "
                "cost is not in it. A device that has not come back yet counts as repaired."
            ),
            (
                "Intervals hold the figure in 95 of 100 cases: of repaired boards by Newcombe's method "
                "(1998) from Wilson's scores, of hours and money by a bootstrap within complaints, seed "
                f"{report.seed}; sums of replays by squares, as independent ones."
            ),
        ),
    )
