"""The commands about intermittent complaints: a record, how long to soak, how often fixes really cured."""

from datetime import UTC, datetime
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from benchlore.cli import soak_text
from benchlore.cli.app import AsJson, BoardName, ComplaintName, ShopFile, app, library_of
from benchlore.cli.commands_plans import reading_pair
from benchlore.cli.console import progress_shown, say, say_json
from benchlore.library import RecordRead, Report, SoakAsked, cure_rates, plan_soak, read_restarts
from benchlore.notation import write_atomic
from benchlore.soak import HOURS_A_DAY, LogLook
from benchlore.units import parse_duration


class Dates(StrEnum):
    """How dates are read that can be read in two ways."""

    DAY_FIRST = "day-first"
    MONTH_FIRST = "month-first"


soak = typer.Typer(
    name="soak",
    help="Say what kind of restarts, how long to soak, what that proves.",
    no_args_is_help=True,
    rich_markup_mode=None,
)
app.add_typer(soak)

Match = Annotated[
    str | None, typer.Option(metavar="TEXT", help="Only lines that hold this text are restarts.")
]
DateOption = Annotated[Dates | None, typer.Option("--dates", help="How to read a date such as 03/04/2026.")]
Tick = Annotated[
    float | None,
    typer.Option(
        metavar="SECONDS", help="The times are a counter; one count is so long.", min=1e-12, max=1e9
    ),
]
Bits = Annotated[
    int | None, typer.Option(metavar="N", help="The counter begins again at 2^N.", min=1, max=64)
]
PictureFile = Annotated[
    Path | None, typer.Option("--picture", metavar="FILE", help="Draw it into this SVG file.")
]


@soak.command("record")
def show_record(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A log, a list of times, a table.")],
    match: Match = None,
    dates: DateOption = None,
    tick: Tick = None,
    bits: Bits = None,
    picture: PictureFile = None,
    as_json: AsJson = False,
) -> None:
    """Say what a restart record shows, and how often it comes.

    Each line with a time is a restart; "on" or "off" beside a time says when anybody watched. A table may
    have a column "what" and others that might matter, such as a temperature. A table with a time and a
    current is read as a bench supply's log.
    """
    with progress_shown(quiet=as_json) as report:
        read = _read(file, _look(match, dates, tick, bits), report)
    if picture is not None:
        from benchlore.press import draw_record  # noqa: PLC0415 drawing takes long to import

        write_atomic(picture, draw_record(read.record, read.finding, read.trend).wide)
    if as_json:
        say_json({**_shown(read), "file": read.file})
    else:
        say([*soak_text.record_lines(read), *_drawn(picture)])


@soak.command("plan")
def plan_a_soak(
    context: typer.Context,
    board: BoardName,
    complaint: ComplaintName,
    readings: Annotated[
        list[str] | None,
        typer.Argument(metavar="[CHECK=READING]...", help="What was read on this job: rail-ohms=4k1"),
    ] = None,
    record: Annotated[
        Path | None, typer.Option("--record", metavar="FILE", help="The board's restart record.")
    ] = None,
    says: Annotated[
        str, typer.Option("--says", metavar="WORDS", help='How often it comes: "twice a day", "sometimes".')
    ] = "",
    after: Annotated[
        str | None, typer.Option("--after", metavar="FIX", help="The fix that was made.")
    ] = None,
    soaked: Annotated[
        str | None, typer.Option(metavar="TIME", help="It has already run so long and shown nothing.")
    ] = None,
    hours: Annotated[
        float, typer.Option("--hours-a-day", help="Hours that the device is used a day.", min=0.01, max=24)
    ] = HOURS_A_DAY,
    factor: Annotated[
        float, typer.Option(help="Hours of use that an hour on the bench is worth.", min=0.01, max=1000)
    ] = 1.0,
    boards: Annotated[
        int,
        typer.Option(metavar="N", help="Boards with the same fix that soak side by side.", min=1, max=10_000),
    ] = 1,
    match: Match = None,
    dates: DateOption = None,
    tick: Tick = None,
    bits: Bits = None,
    shop: ShopFile = None,
    picture: PictureFile = None,
    as_json: AsJson = False,
) -> None:
    """Say how long to soak a board before it may go home.

    The rate is the record's and the customer's; without either it is the book's. A factor above 1 is an
    accelerated soak: it has to be known from trials, not hoped for.
    """
    asked = SoakAsked(
        says=says,
        after=after,
        readings=tuple(reading_pair(text) for text in readings or ()),
        hours_a_day=hours,
        factor=factor,
        boards=boards,
        soaked=None if soaked is None else _minutes(soaked),
    )
    library = library_of(context)
    with progress_shown(quiet=as_json) as report:
        read = None if record is None else _read(record, _look(match, dates, tick, bits), report)
        plan = plan_soak(library, board, complaint, asked, record=read, shop_file=shop, report=report)
    if picture is not None:
        from benchlore.press import draw_sequential  # noqa: PLC0415 drawing takes long to import

        write_atomic(picture, draw_sequential(plan.test, plan.asked.soaked).wide)
    if as_json:
        document = {name: getattr(plan, name) for name in PLAN_FIELDS}
        say_json({**document, "record": None if read is None else _shown(read)})
    else:
        say([*soak_text.plan_lines(plan), *_drawn(picture)])


PLAN_FIELDS = (
    *("complaint", "sources", "typical", "low", "high", "confidences", "test", "reading", "suspects"),
    *("after", "hazards", "asked", "clock"),
)


@soak.command("cures")
def show_cures(context: typer.Context, board: BoardName, as_json: AsJson = False) -> None:
    """Say how often each fix really cured, beside what the book says."""
    rates = cure_rates(library_of(context), board)
    if as_json:
        say_json({"board": board, "fixes": rates})
    else:
        say(soak_text.cure_lines(board, rates))


def _look(match: str | None, dates: Dates | None, tick: float | None, bits: int | None) -> LogLook:
    order = None
    if dates is not None:
        order = "day first" if dates is Dates.DAY_FIRST else "month first"
    return LogLook(match=match, dates=order, tick=tick, bits=bits)  # type: ignore[arg-type]


def _read(path: Path, look: LogLook, report: Report) -> RecordRead:
    return read_restarts(path, look, now=datetime.now(UTC), report=report)


def _minutes(text: str) -> float:
    try:
        return parse_duration(text)
    except ValueError as error:
        raise typer.BadParameter(str(error), param_hint="--soaked") from None


def _shown(read: RecordRead) -> dict[str, object]:
    record = read.record
    return {
        "events": record.events,
        "spans": record.spans,
        "began": record.began,
        "remarks": record.remarks,
        "finding": read.finding,
        "every": read.every,
        "trend": read.trend,
    }


def _drawn(picture: Path | None) -> list[str]:
    return [] if picture is None else ["", f"Drawn: {picture}"]
