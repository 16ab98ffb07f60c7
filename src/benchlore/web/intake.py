"""Taking a sheet in: upload it, say what its columns mean, look at its rows, take them, mend the rest."""

from collections.abc import Iterable, Iterator, Mapping
from datetime import UTC, datetime
from typing import Any, Final

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, UploadFile

from benchlore.book import Book
from benchlore.jobs.intake import UnpointableError, meanings_of, point, read_mapping, read_table, settings_of
from benchlore.jobs.intake.pointing import SETTINGS, can_point
from benchlore.library import (
    Library,
    LibraryError,
    draft_mapping,
    look_at_sheet,
    mend_rows,
)
from benchlore.library.spreadsheet import book_of, label_of, meanings_for, names_for
from benchlore.notation import FileTrouble
from benchlore.web.intake_work import Work, Works
from benchlore.web.looks import page
from benchlore.web.uploads import Upload, Uploads

FOLDER: Final = ".intake"
"""The folder of uploads, inside the library: on the same disk, and readable to the same people."""

PATIENCE: Final = 2.0
"""Seconds that an answer waits for a preview, so that small sheets need no second look."""

AT_ONCE: Final = 50
"""Refused rows that are mended on one page."""

MOST_FIELDS: Final = 8_000
MOST_MAPPING: Final = 512 * 1024
DRAFTED: Final = "My shop"
"""The name that a drafted mapping gives a shop."""

router = APIRouter(include_in_schema=False)


def prepare(app_state: Any, library: Library) -> None:
    """Lay out what intake needs in an app's state."""
    app_state.uploads = Uploads(library.folder / FOLDER)
    app_state.works = Works(library)


@router.get("/intake")
def start(request: Request) -> HTMLResponse:
    """Ask for a sheet."""
    return _start(request)


@router.post("/intake")
async def upload(request: Request) -> Response:
    """Take an upload: a sheet, its board, and a mapping or none."""
    async with request.form(max_fields=20, max_files=2, max_part_size=MOST_MAPPING) as form:
        return await run_in_threadpool(_upload, request, form)


@router.get("/intake/{token}")
def sheet(request: Request, token: str) -> HTMLResponse:
    """Show a sheet, what its columns mean, and what becomes of its rows."""
    found = _uploads(request).get(token)
    return _sheet(request, found)


@router.post("/intake/{token}")
async def change(request: Request, token: str) -> Response:
    """Change what the columns mean: the text, and what was pointed at."""
    async with request.form(max_fields=MOST_FIELDS, max_files=0, max_part_size=MOST_MAPPING) as form:
        return await run_in_threadpool(_change, request, token, _texts(form))


@router.post("/intake/{token}/take")
async def take(request: Request, token: str) -> Response:
    """Take in what was shown, unless it has changed since."""
    async with request.form(max_fields=5, max_files=0) as form:
        return await run_in_threadpool(_take, request, token, _texts(form))


@router.post("/intake/{token}/mend")
async def mend(request: Request, token: str) -> Response:
    """Mend cells of refused rows, and take those rows in."""
    async with request.form(max_fields=MOST_FIELDS, max_files=0, max_part_size=MOST_MAPPING) as form:
        return await run_in_threadpool(_mend, request, token, _texts(form))


@router.post("/intake/{token}/away")
def put_away(request: Request, token: str) -> RedirectResponse:
    """Put an upload away; what was taken in stays."""
    found = _uploads(request).get(token)
    _works(request).forget(found)
    _uploads(request).remove(found)
    return RedirectResponse("/intake", 303)


@router.get("/intake/{token}/refused.csv")
def refused(request: Request, token: str) -> Response:
    """Give the refused rows as a file to mend elsewhere."""
    found = _uploads(request).get(token)
    work = _works(request).look(found)
    work.wait(60)
    text = work.shown.refused_text if work.shown else ""
    return _attachment(text.encode("utf-8-sig"), "text/csv; charset=utf-8", "refused.csv")


@router.get("/intake/{token}/mapping.yaml")
def mapping(request: Request, token: str) -> Response:
    """Give the mapping, for the next sheet of this kind."""
    found = _uploads(request).get(token)
    return _attachment(found.text.encode(), "application/yaml; charset=utf-8", "mapping.yaml")


def _attachment(content: bytes, kind: str, name: str) -> Response:
    return Response(
        content, media_type=kind, headers={"Content-Disposition": f'attachment; filename="{name}"'}
    )


def _uploads(request: Request) -> Uploads:
    found: Uploads = request.app.state.uploads
    return found


def _works(request: Request) -> Works:
    found: Works = request.app.state.works
    return found


def _texts(form: FormData) -> dict[str, str]:
    return {name: value for name, value in form.items() if isinstance(value, str)}


def _start(request: Request, *, wrong: str = "", board: str = "") -> HTMLResponse:
    library: Library = request.app.state.library
    uploads = _uploads(request)
    uploads.sweep(datetime.now(UTC))
    return page(
        request,
        "intake.html",
        status=422 if wrong else 200,
        boards=library.boards(),
        wrong=wrong,
        board=board,
        unfinished=tuple(uploads.all()),
    )


def _upload(request: Request, form: FormData) -> Response:
    library: Library = request.app.state.library
    table, board, given = form.get("sheet"), str(form.get("board") or ""), form.get("mapping")
    if not isinstance(table, UploadFile) or not table.filename:
        return _start(request, wrong="Choose the sheet: a CSV file or an XLSX workbook.", board=board)
    if board not in library.boards():
        return _start(request, wrong="Choose the board that the sheet is about.")
    has_mapping = isinstance(given, UploadFile) and bool(given.filename)
    name = given.filename or "" if isinstance(given, UploadFile) else ""
    kept = _uploads(request).add(table.file, table.filename, board, name, datetime.now(UTC))
    try:
        text = _given(given) if isinstance(given, UploadFile) and has_mapping else None
        read_table(kept.table)
        kept.put_mapping(draft_mapping(library, kept.table, board) if text is None else text)
    except (FileTrouble, LibraryError, ValueError) as error:
        _uploads(request).remove(kept)
        return _start(request, wrong=kept.plain(str(error)), board=board)
    except BaseException:
        _uploads(request).remove(kept)
        raise
    _works(request).look(kept).wait(PATIENCE)
    return RedirectResponse(f"/intake/{kept.token}", 303)


def _given(given: UploadFile) -> str:
    data = given.file.read(MOST_MAPPING + 1)
    if len(data) > MOST_MAPPING:
        raise ValueError(f"The mapping is larger than {MOST_MAPPING // 1024} kB; that is no mapping file.")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise ValueError("The mapping is not UTF-8 text; save it as such.") from None


def _sheet(request: Request, found: Upload, *, wrong: str = "", status: int = 200) -> HTMLResponse:
    """Show an upload; where nobody has looked at it yet, that begins now."""
    if found.is_over:
        return page(request, "intake_over.html", upload=found)
    library: Library = request.app.state.library
    works = _works(request)
    work = works.of(found)
    if work is None:
        work = works.look(found)
        work.wait(PATIENCE)
    text = found.text
    is_taking = work.is_running and work.kind == "take"
    book = book_of(library, found.board)
    groups = tuple(meanings_for(book, text))
    sheet = None if is_taking else look_at_sheet(found.table, text)
    columns = sheet.columns if sheet else ()
    return page(
        request,
        "intake_sheet.html",
        status=status,
        upload=found,
        sheet=sheet,
        names={each.place: tuple(_names(book, each.means)) for each in columns},
        text=text,
        settings=settings_of(text),
        groups=groups,
        known={meaning for _, group in groups for meaning, _ in group},
        label=label_of,
        work=work,
        wrong=wrong,
        drafted=DRAFTED,
        can_point=can_point(text),
        can_take=_can_take(work),
        first=_first(request, work),
        at_once=AT_ONCE,
    )


def _first(request: Request, work: Work) -> int:
    """How many refused rows stand before those that are shown: whole pages, and never past the last row."""
    asked = request.query_params.get("from", "")
    first = int(asked) if asked.isascii() and asked.isdigit() and len(asked) < 7 else 0
    count = len(work.shown.refused) if work.shown else 0
    return min(first, max(0, count - 1)) // AT_ONCE * AT_ONCE


def _names(book: Book, means: Iterable[str]) -> Iterator[str]:
    """Give the names that cells of a column may hold."""
    for meaning in means:
        yield from names_for(book, meaning)


def _can_take(work: Work) -> bool:
    return bool(work.shown and not work.is_running and not work.problems and work.shown.jobs)


def _back(found: Upload, part: str) -> RedirectResponse:
    return RedirectResponse(f"/intake/{found.token}#{part}", 303)


def _change(request: Request, token: str, said: Mapping[str, str]) -> Response:
    found = _uploads(request).get(token)
    works = _works(request)
    if found.is_over or ((work := works.of(found)) and work.is_running and work.kind == "take"):
        return _back(found, "rows")
    try:
        text, wrong = _new_text(found, said), ""
    except UnpointableError as error:
        text, wrong = _plain(said.get("text", found.text)), f"{str(error)[:1].upper()}{str(error)[1:]}."
    found.put_mapping(text)
    if wrong:
        return _sheet(request, found, wrong=wrong, status=422)
    works.look(found).wait(PATIENCE)
    return _back(found, "rows")


def _new_text(found: Upload, said: Mapping[str, str]) -> str:
    """Put together the new text: what was written wins, and what was pointed at where it left it alone."""
    stored = found.text
    written = _plain(said.get("text", stored))
    if said.get("digest") != found.digest:
        return written
    table = read_table(found.table, read_mapping(stored, "").mapping)
    was, now = meanings_of(stored, table), meanings_of(written, table)
    changes = {
        place: chosen
        for place, before in enumerate(was)
        if (chosen := said.get(f"means-{place}")) is not None
        and chosen != " + ".join(before)
        and now[place] == before
    }
    before_set, now_set = settings_of(stored), settings_of(written)
    settings = {
        name: chosen.strip()
        for name in SETTINGS
        if (chosen := said.get(name)) is not None
        and chosen.strip() != before_set[name]
        and now_set[name] == before_set[name]
    }
    if not changes and not settings:
        return written
    return point(written, table, changes, board=found.board, settings=settings)


def _plain(text: str) -> str:
    return text.replace("\r\n", "\n").replace("\r", "\n").replace("\0", "")


def _take(request: Request, token: str, said: Mapping[str, str]) -> Response:
    found = _uploads(request).get(token)
    works = _works(request)
    work = works.of(found)
    if work and _can_take(work) and said.get("digest") == found.digest:
        works.take(found).wait(PATIENCE)
    return _back(found, "rows")


def _mend(request: Request, token: str, said: Mapping[str, str]) -> Response:
    found = _uploads(request).get(token)
    works = _works(request)
    work = works.of(found)
    if not found.rejects or not work or work.is_running or said.get("digest") != found.digest:
        return _back(found, "rows")
    mend_rows(found.table, found.mapping, found.text, dict(_cells(said)))
    works.forget(found)
    look = works.look(found)
    look.wait(60)
    if _can_take(look):
        works.take(found).wait(PATIENCE)
    return _back(found, "rows")


def _cells(said: Mapping[str, str]) -> Any:
    """Give the mended cells: ``cell-ROW-PLACE`` is what a field of the form is called."""
    for name, text in said.items():
        kind, _, where = name.partition("-")
        row, _, place = where.partition("-")
        if kind == "cell" and row.isdigit() and place.isdigit() and len(name) < 40:
            yield (int(row), int(place)), text.replace("\r", "").replace("\0", "")
