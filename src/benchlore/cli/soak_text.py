"""Records, soaks and cure rates as text for the terminal."""

from collections.abc import Iterator
from typing import Final

from benchlore.book import CAUTIONS, GENERAL_CAUTION
from benchlore.cli.text import columns, two_ends, wrapped
from benchlore.library import AfterFix, CureRate, RecordRead, SoakPlan
from benchlore.soak import ACCELERATED, Pattern, SequentialTest, side_by_side
from benchlore.units import counted, format_roughly, share

NEARLY_PROOF = 0.99
"""Of the confidences of a plan, the one that is told for a clock."""
UNSURE = 0.5
"""A fix that cures less often than this deserves another look before a soak."""


def time_text(minutes: float) -> str:
    """Print a time, rounded to what a clock on the bench can tell."""
    if minutes == float("inf"):
        return "any time"
    if minutes > 1e9:
        return "for ever"
    return format_roughly(minutes)


def record_lines(read: RecordRead) -> list[str]:
    """Print what a record shows."""
    record = read.record
    spans = "" if len(record.spans) == 1 else f" in {len(record.spans)} spans"
    began = "" if record.began is None else f", from {record.began:%Y-%m-%d %H:%M:%S}"
    lines = [
        f"{read.file}: {counted(record.count, 'event')}",
        *wrapped(f"Watched {time_text(record.watched / 60)}{spans}{began}.", indent=2),
        *(line for remark in record.remarks for line in wrapped(f"{remark}.", indent=2, hang=2)),
        "",
        *(line for said in read.finding.said for line in wrapped(said)),
    ]
    for block in (_every_lines(read), _tests(read)):
        lines += ["", *block] if block else []
    return lines


def _every_lines(read: RecordRead) -> list[str]:
    every = read.every
    if not read.record.count:
        return wrapped(
            f"No event: if it came at random, one in {time_text(every.low)} or more seldom (95 % sure)."
        )
    if read.finding.pattern is Pattern.FIXED:
        return []
    text = (
        f"Mean time between events: {time_text(every.mean)} ({time_text(every.low)} to "
        f"{time_text(every.high)}, 90 % interval, if the rate is constant)."
    )
    trend = read.trend
    if trend is not None and read.finding.pattern in {Pattern.RARER, Pattern.OFTENER}:
        text += (
            f" If it follows a power law (exponent {trend.exponent:.2f}), now {time_text(trend.now)} "
            f"({time_text(trend.low)} to {time_text(trend.high)}, 80 %)."
        )
    return wrapped(text)


def _tests(read: RecordRead) -> list[str]:
    if not read.finding.tests:
        return []
    rows = [("looked for", "by chance", "all tests counted")]
    rows += [(test.name, _p(test.p), _p(test.adjusted)) for test in read.finding.tests]
    return columns(rows, align="<>>", indent=2, gap=3)


def _p(value: float) -> str:
    return "< 0.0001" if value < 1e-4 else f"{value:.4f}"


def plan_lines(plan: SoakPlan) -> list[str]:
    """Print how long to soak."""
    complaint = plan.book.complaints[plan.complaint]
    return [
        *two_ends(complaint.title, plan.book.board.title),
        f"for {plan.shop.name}",
        "",
        *(line for source in plan.sources for line in wrapped(source, hang=2)),
        *wrapped(
            f"A board that is not cured shows it about every {time_text(plan.typical)} (nine times in ten "
            f"between {time_text(plan.low)} and {time_text(plan.high)})."
        ),
        *_suspects(plan),
        "",
        "So long must it run for an uncured board to show it:",
        *columns(
            [(share(chance), time_text(minutes)) for chance, minutes in plan.confidences],
            align=">>",
            indent=2,
            gap=3,
        ),
        *_clock(plan),
        *_stress(plan),
        "",
        *(sequential_lines(plan.test) if plan.clock is None else []),
        *(["", *_after(plan, plan.after)] if plan.after else ["", *_hint(plan)]),
        "",
        *(line for hazard in plan.hazards for line in wrapped(f"Caution! {CAUTIONS[hazard]}", hang=9)),
        *wrapped(GENERAL_CAUTION),
    ]


def _suspects(plan: SoakPlan) -> list[str]:
    if plan.reading is None:
        return []
    rows = [("suspect", "before", "after")]
    rows += [(moved.title, share(moved.before), share(moved.after)) for moved in plan.suspects]
    reading = plan.reading
    return [
        "",
        *wrapped(
            f"The record answers '{reading.title}': {reading.result} ({reading.check}={reading.result})."
        ),
        *columns(rows, align="<>>", indent=2),
    ]


def _clock(plan: SoakPlan) -> list[str]:
    if plan.clock is None:
        return []
    sure = next(minutes for chance, minutes in plan.confidences if chance == NEARLY_PROOF)
    return wrapped(
        f"It comes by a clock, every {time_text(plan.clock)}: an uncured board shows it at its next beats, "
        f"so {time_text(sure)} from switching on without an event is nearly proof. These times hold from the "
        f"moment at which the device starts; a counting test would take its events for chance."
    )


def _stress(plan: SoakPlan) -> list[str]:
    lines: list[str] = []
    if plan.asked.factor != 1:
        text = f"On the bench, an hour counts as {plan.asked.factor:g} hours of use. {ACCELERATED}"
        lines += wrapped(text)
    if plan.asked.boards > 1:
        chance, minutes = plan.confidences[-2]
        together = time_text(side_by_side(minutes, plan.asked.boards))
        lines += wrapped(
            f"{plan.asked.boards} boards side by side: after {together} without an event they tell with "
            f"{share(chance)} that the fix works where it was right. Each board by itself still needs the "
            f"time above."
        )
    return lines


def sequential_lines(test: SequentialTest) -> list[str]:
    """Print a sequential test as the times at which it ends."""
    rows = [("events", "not cured if by", "may go home from")]
    for events in range(test.most_events):
        by = test.reject_time(events) if events else -1.0
        rows.append((str(events), time_text(by) if by > 0 else "–", time_text(test.accept_time(events))))
    few = rows[:6]
    more = [] if len(rows) <= 6 else [f"  … up to {test.most_events} events or {time_text(test.most_time)}"]
    return [
        *wrapped(
            f"Or count while it runs, and stop early either way (wrong in at most about {share(test.alpha)} "
            f"of cured and {share(test.beta)} of uncured boards; 'cured' is {test.ratio:g} times as rare):"
        ),
        *columns(few, align=">>>", indent=2, gap=3),
        *more,
    ]


def _after(plan: SoakPlan, after: AfterFix) -> Iterator[str]:
    days = [back.days for back in after.rows[0].verdict.comebacks]
    yield from wrapped(
        f"After '{after.title}', cured with {share(after.cured)} before any trial. If it shows nothing:"
    )
    head = ("soak", "", "cured", *(f"back in {day:g} d" for day in days))
    rows = [
        (
            time_text(row.minutes),
            row.why,
            share(row.verdict.clean.cured),
            *(share(back.chance) for back in row.verdict.comebacks),
        )
        for row in after.rows
    ]
    yield from columns([head, *rows], align="><>" + ">" * len(days), indent=2, gap=3)
    use = f"Days are of {plan.asked.hours_a_day:g} h of use. The retest's own minutes are counted in."
    if after.cheapest is None:
        use += " Waiting costs this shop nothing: soak until you are sure."
    yield from wrapped(use)
    if after.cured < UNSURE:
        yield from wrapped(
            "The fix is more likely wrong than right: another reading before the soak may be worth more."
        )


def _hint(plan: SoakPlan) -> list[str]:
    return wrapped(
        f"With --after FIX it says what a clean soak proves, which soak costs {plan.shop.name} least, and "
        f"how many come back."
    )


def cure_lines(board: str, rates: tuple[CureRate, ...]) -> list[str]:
    """Print the real cure rates of a board's fixes."""
    if not rates:
        return wrapped(
            f"No finished job of {board} has a confirmed fault and one of its fixes: take some in with "
            f"'benchlore intake', or finish some on the bench."
        )
    lines: list[str] = []
    for rate in rates:
        days, now, low, high = rate.shares[-1]
        came = f"{rate.at_once} not cured in the retest, {rate.later} came back"
        undated = f" ({rate.undated} on days that nobody wrote down)" if rate.undated else ""
        lines += [
            *two_ends(f"{rate.title}: {rate.fault_title}", f"book: {share(rate.stated)}"),
            *wrapped(
                f"{counted(rate.boards, 'board')}, {came}{undated}: after {days:g} days {share(now)} still "
                f"cured ({share(low)} to {share(high)}){_beside(rate.stated, low, high)}",
                indent=4,
            ),
        ]
    return [
        *lines,
        "",
        *wrapped(
            "Product-limit estimate with 95 % log-log limits; a board that nobody saw again counts as cured "
            f"up to the last day in the store.{_UNDATED if any(rate.undated for rate in rates) else ''}"
        ),
    ]


_UNDATED: Final = (
    " A comeback without a date came at some time up to then: the estimate shares it out at a constant rate, "
    "and the limits are those of the days that lower and raise it most."
)


def _beside(stated: float, low: float, high: float) -> str:
    if low <= stated <= high:
        return "."
    return "; less than the book says." if stated > high else "; more than the book says."
