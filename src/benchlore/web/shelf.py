"""The soak shelf: which boards run after a fix, what is to go, and what each further hour adds."""

from dataclasses import dataclass
from datetime import datetime
from secrets import token_urlsafe
from typing import Final

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse
from markupsafe import Markup

from benchlore.book import CAUTIONS
from benchlore.library import JobLine, Shelved, state_of
from benchlore.press.soak_plots import draw_gain, draw_standing
from benchlore.press.typesetting import UNBROKEN
from benchlore.units import counted, format_duration, share
from benchlore.web.at_desk import FormError, desk_of, here
from benchlore.web.looks import page

WIDE: Final = 560
NARROW: Final = 320
A_DAY: Final = 24 * 60
STANDS: Final = {
    "accept": "By the counting test it may go home.",
    "reject": "By the counting test it is not cured.",
    "go on": "The counting test goes on.",
}
SHOWN_STANDS: Final = {
    **STANDS,
    "accept": "The counting test alone would let it go home: to it, rare is good enough.",
    "go on": "The counting test alone would go on.",
}
"""The same once the complaint showed itself, when it speaks against what the card advises."""

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True, eq=False)
class Row:
    """A board on the shelf, in words and pictures; every picture is drawn wide and narrow."""

    board: Shelved
    title: str
    said: str
    rings: str
    proves: tuple[str, ...]
    ahead: tuple[tuple[str, str], ...]
    gain: tuple[Markup, Markup] | None
    test: tuple[Markup, Markup] | None
    stands: str
    cautions: tuple[str, ...]


def said_of(board: Shelved) -> str:
    """Say since when a board soaks, how long it did, and what is to go."""
    soak = board.soak
    since = soak.started.astimezone()
    text = f"{since:%H:%M}" if here().date() == since.date() else f"{since:%d %b %H:%M}"
    told = f"Since {text}: {duration(board.soaked)} of {duration(board.planned)} soaked"
    if board.state == "over":
        return f"{told}. The planned time is done."
    if board.state == "shown":
        return f"{told}; it showed itself {counted(len(soak.shown), 'time', 'times')}."
    if board.state == "off":
        return f"{told}. The device is off: its time stands still, {duration(board.left)} to go."
    until = soak.until.astimezone()
    when = f"{until:%H:%M}" if here().date() == until.date() else f"{until:%d %b %H:%M}"
    return f"{told}; {duration(board.left)} to go, until {when}."


def rings_said(line: Shelved | JobLine) -> str:
    """Say why somebody should come; empty where nobody need. This needs no book."""
    if line.soak is None:
        return ""
    number, state = line.job.number, state_of(line.soak)
    if state == "over":
        return f"{number}: the soak is done and nothing was noted. Try the complaint once more, and end it."
    return f"{number}: the complaint showed itself while it soaked." if state == "shown" else ""


def duration(minutes: float) -> str:
    """Write minutes as somebody at a bench would: whole, and no number parted from its unit."""
    return format_duration(float(round(minutes))).replace(" ", UNBROKEN)


def row_of(board: Shelved) -> Row:
    """Lay out a board on the shelf."""
    complaint = board.book.complaints[board.job.complaint]
    plan, soak = board.plan, board.soak
    gain = None
    if not soak.shown:
        wide, narrow = (
            draw_gain(board.curve, board.soaked, board.planned, width) for width in (WIDE, NARROW)
        )
        gain = (wide, narrow)
    test = None
    if plan is not None:
        wide, narrow = (draw_standing(plan.test, soak.ran, soak.shown, width) for width in (WIDE, NARROW))
        test = (wide, narrow)
    return Row(
        board=board,
        title=f"{complaint.title} · {board.book.board.title}",
        said=said_of(board),
        rings=rings_said(board),
        proves=tuple(_proves(board)),
        ahead=tuple((_when(step, board.left), share(chance)) for step, chance in board.ahead),
        gain=gain,
        test=test,
        stands=(SHOWN_STANDS if soak.shown else STANDS).get(board.stands or "", ""),
        cautions=tuple(CAUTIONS[hazard] for hazard in plan.hazards) if plan is not None else (),
    )


def _proves(board: Shelved) -> list[str]:
    if board.soak.shown:
        return [
            (
                "A cured board shows nothing. End it as failed; if something else caused it (a cable was "
                "pulled, the mains fell out), take the note back and let it soak on."
            )
        ]
    told = []
    plan = board.plan
    done = None if plan is None or plan.after is None else plan.after
    if done is not None:
        verdict = next(row.verdict for row in done.rows if row.why == "done")
        backs = " and ".join(f"{share(back.chance)} within {back.days:g} days" for back in verdict.comebacks)
        told.append(f"Let go now, it comes back with a chance of {backs} of use.")
        if done.cheapest is not None:
            cheapest = "no soak at all" if done.cheapest < 1 else duration(done.cheapest)
            told.append(f"Costs least here: {cheapest} of soak in all.")
    if plan is not None:
        sure = next(minutes for chance, minutes in plan.confidences if chance == 0.95)
        told.append(f"An uncured board shows it within {duration(sure)} with a chance of {share(0.95)}.")
    return told


def _when(step: float, left: float) -> str:
    if step == 0:
        return "now"
    if step == left:
        return f"at the planned end, in {duration(step)}"
    return f"in {duration(step)}"


@router.get("/shelf")
def shelf(request: Request) -> HTMLResponse:
    """List the boards that soak."""
    found = desk_of(request).shelf(here())
    rows = [row_of(board) for board in found.boards]
    token = token_urlsafe(12)
    return page(request, "shelf.html", rows=rows, unread=found.unread, token=token)


def minutes_ago(text: str, now: datetime) -> float:
    """Minutes since a time of the day that a form names, the last time that it was so late; 0 for none.

    Raises
    ------
    FormError
        If it is no time of the day.
    """
    if not text:
        return 0.0
    try:
        at = datetime.strptime(text, "%H:%M").replace(tzinfo=now.tzinfo)
    except ValueError:
        raise FormError("at", text) from None
    ago = (now.hour - at.hour) * 60 + now.minute - at.minute
    return float(ago % A_DAY)
