"""The bench: jobs that are open or closed, starting one, and the pictures of a book."""

from contextlib import suppress
from secrets import token_urlsafe

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.datastructures import FormData

from benchlore.book import Book
from benchlore.jobs import BenchUnstorable
from benchlore.library import LibraryError, picture_of, sound_book_of
from benchlore.notation import FileTrouble
from benchlore.web.access import name_of
from benchlore.web.addresses import identity_in
from benchlore.web.at_desk import Sent, desk_of, here, text_in, typed_in
from benchlore.web.looks import page
from benchlore.web.shelf import rings_said

FACT = "fact-"
"""How the fields of a form begin that answer a check at the start."""

router = APIRouter(include_in_schema=False)


@router.get("/bench")
def bench(request: Request) -> HTMLResponse:
    """List the open jobs, and what a new one can be about."""
    books = _books(request)
    lines = desk_of(request).jobs(here())
    rings = [(line.job.key, text) for line in lines if (text := rings_said(line))]
    broken = [board for board in request.app.state.library.boards() if board not in books]
    return page(request, "bench.html", lines=lines, rings_now=rings, books=books, broken=broken)


@router.get("/bench/closed")
def closed(request: Request) -> HTMLResponse:
    """List the closed jobs: for their slips, and to open one again."""
    lines = desk_of(request).jobs(here(), closed=True)
    return page(request, "closed.html", lines=lines, books=_books(request))


def _books(request: Request) -> dict[str, Book]:
    """The books without errors, by board."""
    library = request.app.state.library
    found: dict[str, Book] = {}
    for board in library.boards():
        with suppress(LibraryError, FileTrouble):
            if (book := sound_book_of(library, board).book) is not None:
                found[board] = book
    return found


@router.get("/bench/start")
def ask_start(request: Request, board: str, complaint: str, of: str = "") -> HTMLResponse:
    """Ask what there is to know when a device is taken in."""
    typed = FormData({"of": of, "technician": name_of(request)})
    return _start_page(request, board, complaint, typed, error="")


def _start_page(request: Request, board: str, complaint: str, typed: FormData, error: str) -> HTMLResponse:
    facts = desk_of(request).facts(board, complaint)
    book = sound_book_of(request.app.state.library, board).book
    assert book is not None  # facts refuses a book with errors
    return page(
        request,
        "start.html",
        status=422 if error else 200,
        book=book,
        complaint=book.complaints[complaint],
        facts=facts,
        came_back=identity_in(text_in(typed, "of")),
        typed=typed_in(typed),
        key=token_urlsafe(12),
        error=error,
    )


@router.post("/bench/start")
def start(request: Request, form: Sent) -> Response:
    """Open a job; sent twice it is one job."""
    board, complaint = text_in(form, "board"), text_in(form, "complaint")
    try:
        job = desk_of(request).start(
            board,
            complaint,
            now=here(),
            said=text_in(form, "said"),
            technician=text_in(form, "technician"),
            device=text_in(form, "device"),
            facts=_facts(form),
            comeback_of=identity_in(text_in(form, "of")),
            key=text_in(form, "key") or None,
            by=name_of(request) or None,
            clock="hands-on" if text_in(form, "clock") == "hands-on" else "stopped",
        )
    except (LibraryError, BenchUnstorable) as error:
        return _start_page(request, board, complaint, form, str(error))
    return RedirectResponse(f"/bench/{job.key}", 303)


def _facts(form: FormData) -> list[tuple[str, str]]:
    """What was asked at the start: checks and their results."""
    named = [(name.removeprefix(FACT), text_in(form, name)) for name in form if name.startswith(FACT)]
    return [(check, text) for check, text in named if text]


@router.get("/pictures/{board}/{name:path}")
def picture(request: Request, board: str, name: str) -> Response:
    """A picture of a book. It is somebody's file: shown as an image, it can run nothing."""
    found = picture_of(request.app.state.library, board, name)
    headers = {"Content-Security-Policy": "default-src 'none'; style-src 'unsafe-inline'; sandbox"}
    return Response(found.content, media_type=found.media, headers=headers)
