"""The bench: jobs that are open, starting one, and the page of one."""

from collections.abc import Callable
from datetime import UTC, datetime
from secrets import token_urlsafe
from typing import Annotated, Final

from fastapi import APIRouter, Form, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.datastructures import FormData

from benchlore.jobs import EntryConflict, EntryKind, Outcome
from benchlore.library import (
    Close,
    Desk,
    EntryRefusedError,
    JobView,
    LibraryError,
    ReadingError,
    picture_of,
    sound_book_of,
)
from benchlore.web.job_page import job_page
from benchlore.web.looks import page

FIELDS: Final[dict[EntryKind, tuple[str, ...]]] = {
    EntryKind.READING: ("check", "text"),
    EntryKind.SKIP: ("name",),
    EntryKind.WITHOUT: ("equipment",),
    EntryKind.SETUP: ("name",),
    EntryKind.FIX: ("fix",),
    EntryKind.SOAK: (),
    EntryKind.RETEST: ("result",),
    EntryKind.CLOCK: ("to",),
    EntryKind.NOTE: ("text",),
    EntryKind.UNDO: (),
    EntryKind.REOPEN: (),
}
"""The texts that each kind of entry takes from a form."""
NUMBERS: Final = {EntryKind.FIX: "soak", EntryKind.SOAK: "minutes"}

router = APIRouter(include_in_schema=False)


def desk_of(request: Request) -> Desk:
    """The desk of the app's library."""
    desk: Desk = request.app.state.desk
    return desk


def here() -> datetime:
    """Tell the moment, in the time zone of the machine."""
    return datetime.now(UTC).astimezone()


@router.get("/bench")
def bench(request: Request) -> HTMLResponse:
    """List the open jobs, and what a new one can be about."""
    library = request.app.state.library
    books = [sound_book_of(library, board).book for board in library.boards()]
    return page(request, "bench.html", lines=desk_of(request).jobs(here()), books=[b for b in books if b])


@router.get("/bench/start")
def ask_start(request: Request, board: str, complaint: str, of: str = "") -> HTMLResponse:
    """Ask what there is to know when a device is taken in."""
    return _start_page(request, board, complaint, of, error="")


def _start_page(request: Request, board: str, complaint: str, of: str, error: str) -> HTMLResponse:
    facts = desk_of(request).facts(board, complaint)
    book = sound_book_of(request.app.state.library, board).book
    assert book is not None
    return page(
        request,
        "start.html",
        status=422 if error else 200,
        book=book,
        complaint=book.complaints[complaint],
        facts=facts,
        of=of,
        key=token_urlsafe(12),
        error=error,
    )


@router.post("/bench/start")
async def start(request: Request) -> Response:
    """Open a job; sent twice it is one job."""
    form = await request.form()
    board, complaint, of = _text(form, "board"), _text(form, "complaint"), _text(form, "of")
    facts = [(name[5:], _text(form, name)) for name in form if name.startswith("fact-") and _text(form, name)]
    shop, _, number = of.rpartition("/")
    try:
        job = desk_of(request).start(
            board,
            complaint,
            now=here(),
            said=_text(form, "said"),
            technician=_text(form, "technician"),
            device=_text(form, "device"),
            facts=facts,
            comeback_of=(shop, number) if number else None,
            key=_text(form, "key") or None,
        )
    except LibraryError as error:
        return _start_page(request, board, complaint, of, str(error))
    return RedirectResponse(f"/bench/{job.key}", 303)


@router.get("/bench/{key}")
def job(request: Request, key: str, check: str | None = None, fix: str | None = None) -> HTMLResponse:
    """Show where a job stands, and the next step."""
    return _job(request, desk_of(request).view(key, here()), check=check, fix=fix)


def _job(
    request: Request,
    view: JobView,
    *,
    check: str | None = None,
    fix: str | None = None,
    error: str = "",
    typed: str = "",
    status: int = 200,
) -> HTMLResponse:
    shown = job_page(view, _sizes(request, view), check=check, fix=fix)
    return page(
        request,
        "job.html",
        status=status,
        shown=shown,
        view=view,
        token=token_urlsafe(12),
        error=error,
        typed=typed,
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


@router.get("/pictures/{board}/{name}")
def picture(request: Request, board: str, name: str) -> Response:
    """A picture of a book. It is somebody's file: shown as an image, it can run nothing."""
    found = picture_of(request.app.state.library, board, name)
    headers = {"Content-Security-Policy": "default-src 'none'; style-src 'unsafe-inline'; sandbox"}
    return Response(found.content, media_type=found.media, headers=headers)


@router.post("/bench/{key}")
async def enter(request: Request, key: str) -> Response:
    """Store an entry, then show where the job stands; what cannot be stored is said on the same page."""
    form = await request.form()
    desk = desk_of(request)
    try:
        kind = EntryKind(_text(form, "kind"))
        desk.enter(
            key,
            kind,
            _data(form, kind),
            expected=int(_text(form, "expected")),
            token=_text(form, "token"),
            by=_text(form, "by"),
            now=here(),
        )
    except EntryConflict:
        said = (
            "Somebody else entered something on this job meanwhile. Look at it, then enter again if need be."
        )
        return _again(request, desk, key, form, said, 409)
    except (ReadingError, EntryRefusedError, ValueError) as error:
        return _again(request, desk, key, form, str(error), 422)
    return RedirectResponse(f"/bench/{key}", 303)


def _again(request: Request, desk: Desk, key: str, form: FormData, said: str, status: int) -> HTMLResponse:
    return _job(
        request,
        desk.view(key, here()),
        check=_text(form, "check") or None,
        fix=_text(form, "fix") or None,
        error=said,
        typed=_text(form, "text"),
        status=status,
    )


def _data(form: FormData, kind: EntryKind) -> dict[str, str | int | float | None]:
    data: dict[str, str | int | float | None] = {name: _text(form, name) for name in FIELDS[kind]}
    if kind in NUMBERS:
        data[NUMBERS[kind]] = float(_text(form, NUMBERS[kind]) or 0)
    if kind is EntryKind.UNDO:
        data["to"] = int(_text(form, "to"))
    return data


@router.get("/bench/{key}/close")
def ask_close(request: Request, key: str, outcome: str = Outcome.REPAIRED) -> HTMLResponse:
    """Ask how the job ended."""
    return _close_page(request, desk_of(request).view(key, here()), outcome, "")


def _close_page(request: Request, view: JobView, outcome: str, error: str) -> HTMLResponse:
    shown = job_page(view, _sizes(request, view))
    return page(
        request,
        "close.html",
        status=422 if error else 200,
        view=view,
        shown=shown,
        outcome=outcome,
        outcomes=[each for each in Outcome if each is not Outcome.OPEN],
        token=token_urlsafe(12),
        error=error,
    )


@router.post("/bench/{key}/close")
def close(  # noqa: PLR0913, PLR0917 a field of the form each
    request: Request,
    key: str,
    expected: Annotated[int, Form()],
    token: Annotated[str, Form()],
    outcome: Annotated[str, Form()],
    fault: Annotated[str, Form()] = "",
    fault_text: Annotated[str, Form()] = "",
    notes: Annotated[str, Form()] = "",
    hands_on: Annotated[str, Form()] = "",
    waiting: Annotated[str, Form()] = "",
    by: Annotated[str, Form()] = "",
) -> Response:
    """Finish the job; its record is evidence from then on."""
    desk = desk_of(request)
    try:
        ended = Close(
            outcome=Outcome(outcome),
            fault=fault or None,
            fault_text=fault_text,
            notes=notes,
            hands_on=float(hands_on) if hands_on else None,
            waiting=float(waiting) if waiting else None,
        )
        desk.close(key, ended, expected=expected, token=token, by=by, now=here())
    except (EntryConflict, EntryRefusedError, ReadingError, ValueError) as error:
        return _close_page(request, desk.view(key, here()), outcome, str(error))
    return RedirectResponse(f"/bench/{key}", 303)


@router.get("/bench/{key}/slip")
def slip(request: Request, key: str) -> HTMLResponse:
    """The customer's slip, to print."""
    return page(request, "slip.html", view=desk_of(request).view(key, here()))


def _text(form: FormData, name: str) -> str:
    value = form.get(name)
    return value.strip() if isinstance(value, str) else ""
