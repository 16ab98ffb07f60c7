"""The customer's slip: what was found, done and measured, in words for somebody who owns the device."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from benchlore.jobs import EntryKind, Outcome, Plain, Retest
from benchlore.library.desk_values import JobView, Tried
from benchlore.library.slip_cautions import slip_cautions

AGAIN: Final = "If it happens again, bring the device back with this slip."
ENDINGS: Final = {
    Outcome.RETURNED: "The device goes back unrepaired.",
    Outcome.RUINED: "The device could not be saved.",
}
HELPED: Final = {
    Retest.GONE: ": afterwards the complaint did not show again",
    Retest.STILL_THERE: ": this did not help",
}


@dataclass(frozen=True, slots=True)
class Measured:
    """A reading as the customer sees it."""

    title: str
    reading: str
    when: str


@dataclass(frozen=True, slots=True)
class Slip:
    """A slip; ``found`` is ``""`` while the job is open.

    ``done`` are the fixes that were tried, ``ending`` how it ended where that has to be said.
    """

    shop: str
    title: str
    number: str
    opened: str
    device: str
    said: str
    found: str
    done: tuple[str, ...]
    ending: str
    measured: tuple[Measured, ...]
    notes: tuple[str, ...]


def slip_of(view: JobView) -> Slip:
    """Word a job for its customer."""
    closing = [entry.data for entry in view.counting if entry.kind is EntryKind.CLOSE]
    return Slip(
        shop=view.shop.name,
        title=view.book.board.device or view.book.board.title,
        number=view.job.number,
        opened=view.job.opened.astimezone().strftime("%d %B %Y"),
        device=view.job.device,
        said=view.job.said or view.book.complaints[view.job.complaint].title,
        found=_found(view, closing[-1]) if closing else "",
        done=tuple(map(_done, view.tried)) if closing else (),
        ending=_ending(closing[-1], tried=bool(view.tried)) if closing else "",
        measured=tuple(_measured(view)),
        notes=(AGAIN, *slip_cautions(view)),
    )


def _found(view: JobView, end: Mapping[str, Plain]) -> str:
    """Name the fault that was confirmed."""
    if (fault := end.get("fault")) in view.book.faults:
        return view.book.faults[str(fault)].title
    return str(end.get("fault_text") or "") or "No single cause was confirmed."


def _done(tried: Tried) -> str:
    return f"{tried.title}{HELPED.get(tried.retest, '')}"


def _ending(end: Mapping[str, Plain], *, tried: bool) -> str:
    """Say how the job ended where the fixes that were tried do not say it."""
    ending = ENDINGS.get(Outcome(str(end["outcome"])), "")
    return ending or ("" if tried else "It works again; no part was worked on.")


def _measured(view: JobView) -> Iterator[Measured]:
    for each in view.readings:
        if not each.replaced:
            yield Measured(each.title, each.understood, "after the repair" if each.after else "before")
