"""The page of a job on the bench: entries, closing, the customer's slip."""

from collections.abc import Callable
from secrets import token_urlsafe
from typing import Final

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.datastructures import FormData

from benchlore.jobs import (
    BenchUnstorable,
    EntryConflict,
    EntryKind,
    JobClosed,
    JobNotClosed,
    NumberTaken,
    Outcome,
    Plain,
)
from benchlore.library import (
    Close,
    Desk,
    EntryRefusedError,
    JobView,
    LibraryError,
    ReadingError,
    Role,
    picture_of,
    slip_of,
)
from benchlore.press import slip_pdf
from benchlore.web.access import insist, name_of
from benchlore.web.at_desk import FormError, Sent, desk_of, here, number_in, text_in, typed_in, whole_in
from benchlore.web.job_page import job_page
from benchlore.web.looks import page
from benchlore.web.papers import SlipPaper, pdf_answer
from benchlore.web.shelf import minutes_ago

FIELDS: Final[dict[EntryKind, tuple[str, ...]]] = {
    EntryKind.READING: ("check", "text"),
    EntryKind.SKIP: ("name",),
    EntryKind.WITHOUT: ("equipment",),
    EntryKind.SETUP: ("name",),
    EntryKind.FIX: ("fix",),
    EntryKind.SOAK: (),
    EntryKind.RESTART: (),
    EntryKind.POWER: ("to",),
    EntryKind.RETEST: ("result",),
    EntryKind.CLOCK: ("to",),
    EntryKind.NOTE: ("text",),
    EntryKind.UNDO: (),
}
"""The texts that each kind of entry takes from a form."""
NUMBERS: Final = {EntryKind.FIX: "soak", EntryKind.SOAK: "minutes"}
LATE: Final = (EntryConflict, JobClosed, JobNotClosed, NumberTaken)
"""What somebody else did meanwhile, so that nothing was stored."""
WRONG: Final = (ReadingError, EntryRefusedError, BenchUnstorable, FormError)
"""What cannot be stored as it was sent."""
NOTHING: Final = FormData()

router = APIRouter(include_in_schema=False)


@router.get("/bench/{key}")
def job(request: Request, key: str, check: str | None = None, fix: str | None = None) -> HTMLResponse:
    """Show where a job stands, and the next step."""
    return _job(request, desk_of(request).view(key, here()), check=check, fix=fix)


def _job(  # noqa: PLR0913  what was sent and why it was refused, a word each
    request: Request,
    view: JobView,
    *,
    check: str | None = None,
    fix: str | None = None,
    error: str = "",
    typed: FormData = NOTHING,
    seen: int | None = None,
    status: int = 200,
) -> HTMLResponse:
    shown = job_page(view, _sizes(request, view), check=check, fix=fix)
    newer = () if seen is None else tuple(line for line in shown.journal if line.place > seen)
    return page(
        request,
        "bench_job.html",
        status=status,
        shown=shown,
        view=view,
        token=token_urlsafe(12),
        error=error,
        typed=typed_in(typed),
        newer=newer,
    )


def _sizes(request: Request, view: JobView) -> Callable[[str], tuple[float, float] | None]:
    """Ask for the size of a picture of the job's book."""
    library = request.app.state.library

    def size(name: str) -> tuple[float, float] | None:
        try:
            return picture_of(library, view.job.board, name).size
        except LibraryError:
            return None

    return size


@router.post("/bench/{key}")
def enter(request: Request, key: str, form: Sent) -> Response:
    """Store an entry, then show where the job stands; what cannot be stored is said on the same page."""
    desk = desk_of(request)
    try:
        _store(request, desk, key, form)
    except LATE as error:
        return _again(request, desk, key, form, str(error), 409)
    except WRONG as error:
        return _again(request, desk, key, form, str(error), 422)
    return RedirectResponse("/shelf" if text_in(form, "back") == "shelf" else f"/bench/{key}", 303)


def _store(request: Request, desk: Desk, key: str, form: FormData) -> None:
    kind = _kind(form)
    expected, token = whole_in(form, "expected"), text_in(form, "token")
    by = name_of(request, text_in(form, "by"))
    if kind is EntryKind.REOPEN:
        insist(request, Role.STEWARD)
        desk.reopen(key, expected=expected, token=token, by=by, now=here())
    else:
        desk.enter(key, kind, _data(form, kind), expected=expected, token=token, by=by, now=here())


def _kind(form: FormData) -> EntryKind:
    said = text_in(form, "kind")
    known = (*FIELDS, EntryKind.REOPEN)
    if said not in known:
        raise FormError("kind", said)
    return EntryKind(said)


def _data(form: FormData, kind: EntryKind) -> dict[str, Plain]:
    data: dict[str, Plain] = {name: text_in(form, name) for name in FIELDS[kind]}
    if kind in NUMBERS:
        data[NUMBERS[kind]] = number_in(form, NUMBERS[kind]) or 0.0
    if kind is EntryKind.RESTART:
        data["ago"] = minutes_ago(text_in(form, "at"), here())
    if kind is EntryKind.UNDO:
        data["to"] = whole_in(form, "to")
    return data


def _again(request: Request, desk: Desk, key: str, form: FormData, said: str, status: int) -> HTMLResponse:
    """The same page again, with what was typed, why it was refused, and what others entered meanwhile."""
    return _job(
        request,
        desk.view(key, here()),
        check=text_in(form, "check") or None,
        fix=text_in(form, "fix") or None,
        error=said,
        typed=form,
        seen=_seen(form) if status == 409 else None,
        status=status,
    )


def _seen(form: FormData) -> int | None:
    try:
        return whole_in(form, "expected")
    except FormError:
        return None


@router.get("/bench/{key}/close")
def ask_close(request: Request, key: str, outcome: str = Outcome.REPAIRED) -> Response:
    """Ask how the job ended."""
    view = desk_of(request).view(key, here())
    if view.job.closed:
        return RedirectResponse(f"/bench/{key}", 303)
    return _close_page(request, view, FormData({"outcome": outcome}), "")


def _close_page(
    request: Request, view: JobView, typed: FormData, error: str, status: int = 200
) -> HTMLResponse:
    return page(
        request,
        "close.html",
        status=status,
        view=view,
        shown=job_page(view, _sizes(request, view)),
        outcomes=[each for each in Outcome if each is not Outcome.OPEN],
        typed=typed_in(typed),
        token=token_urlsafe(12),
        error=error,
    )


@router.post("/bench/{key}/close")
def close(request: Request, key: str, form: Sent) -> Response:
    """Finish the job; its record is evidence from then on."""
    desk = desk_of(request)
    try:
        ended, token = _ended(form), text_in(form, "token")
        by = name_of(request, text_in(form, "by"))
        desk.close(key, ended, expected=whole_in(form, "expected"), token=token, by=by, now=here())
    except LATE as error:
        return _close_page(request, desk.view(key, here()), form, str(error), 409)
    except WRONG as error:
        return _close_page(request, desk.view(key, here()), form, str(error), 422)
    return RedirectResponse(f"/bench/{key}", 303)


def _ended(form: FormData) -> Close:
    said = text_in(form, "outcome")
    if said not in set(Outcome):
        raise FormError("outcome", said)
    return Close(
        outcome=Outcome(said),
        fault=text_in(form, "fault") or None,
        fault_text=text_in(form, "fault_text"),
        notes=text_in(form, "notes"),
        hands_on=number_in(form, "hands_on"),
        waiting=number_in(form, "waiting"),
    )


@router.get("/bench/{key}/slip")
def slip(request: Request, key: str) -> HTMLResponse:
    """The customer's slip."""
    return page(request, "slip.html", slip=slip_of(desk_of(request).view(key, here())), key=key)


@router.get("/bench/{key}/slip.pdf")
def slip_paper(request: Request, key: str, paper: SlipPaper = "a5") -> Response:
    """The customer's slip on paper."""
    view = desk_of(request).view(key, here())
    content = slip_pdf(slip_of(view), paper=paper, day=view.job.opened.astimezone().date())
    return pdf_answer(content, f"slip-{view.job.number}")
