"""The fund: the steward's table of candidates, what is asked of a plan, and the plan."""

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Final
from urllib.parse import urlencode

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, UploadFile

from benchlore.library import (
    COLUMNS,
    CandidatesRefusedError,
    Funded,
    FundTableChangedError,
    Library,
    TermsRefusedError,
    candidates_csv,
    fund_file,
    fund_table,
    fund_terms,
    import_table,
    keep_terms,
    plan_fund,
    put_row,
    remove_row,
    terms_of,
    undo_table,
)
from benchlore.library.folder import sound_shop_of
from benchlore.library.fund_table import HOURS_OF, TERMS, WHAT_IF
from benchlore.notation import FileTrouble, Problem
from benchlore.press import ReportPage, fund_page
from benchlore.units import decimal_amount
from benchlore.web.at_desk import Sent, text_in, typed_in
from benchlore.web.looks import page
from benchlore.web.uploads import plain_name
from benchlore.web.work import Answers, Asked

PATIENCE: Final = 1.5
"""Seconds that an answer waits for a plan, so that a small one needs no second look."""

HINTS: Final[Mapping[str, str]] = {
    "device": "what is to be researched",
    "complaint": "what its customers say",
    "board": "its name in this library, if it has a book",
    "category": "of the Open Repair Data Standard, to show other people's repair events beside it",
    "jobs a year": "over all shops that would use the book; left empty with a board: the library's own jobs",
    "jobs high": "not more than that with 95 %",
    "source": "where the jobs a year come from",
    "gain": "what a job saves or earns more with the book",
    "coverage": "share of the jobs that the book will solve, such as 80 %; all, if left empty",
    "hours": "hours of research",
    "hours low": "with the next: a range for nine times in ten",
    "hours high": "",
    "fee": "what is asked; else hours times the rate",
    "rate": "what an hour costs; else the one below the table",
    "who": "who would do it",
    "must": "whether it must be funded",
    "either-or": "a name that candidates share of which at most one is funded",
}

router = APIRouter(prefix="/money/fund", include_in_schema=False)


@dataclass(frozen=True, slots=True)
class FundShown:
    """A plan, and what its page shows, pictures and all."""

    funded: Funded
    page: ReportPage


def prepare(app_state: Any) -> None:
    """Lay out what fund plans need in an app's state."""
    app_state.fund_plans = Answers[FundShown]()


@router.get("")
def fund(request: Request) -> HTMLResponse:
    """Show the table of candidates, and what was last asked."""
    return _fund(request)


@router.post("")
def ask(request: Request, form: Sent) -> Response:
    """Keep what is asked, and lead to the plan."""
    library, typed = _library(request), typed_in(form)
    keep_terms(library, typed)
    try:
        terms_of(library, typed)
    except TermsRefusedError as error:
        return _fund(request, wrong=error.wrong)
    return RedirectResponse(f"/money/fund/plan?{urlencode(_asked(typed))}", 303)


@router.post("/undo")
def undo(request: Request, form: Sent) -> Response:
    """Go back to the table before the last change."""
    undo_table(_library(request), seen=text_in(form, "seen"))
    return RedirectResponse("/money/fund", 303)


@router.post("/import")
async def bring(request: Request) -> Response:
    """Put an uploaded table in the place of the one that is kept."""
    async with request.form(max_fields=4, max_files=1) as form:
        return await run_in_threadpool(_bring, request, form)


def _bring(request: Request, form: FormData) -> Response:
    given = form.get("table")
    if not isinstance(given, UploadFile) or not given.filename:
        return _fund(request, refused=("Choose the table: a CSV file or an XLSX workbook.",))
    with TemporaryDirectory(prefix="benchlore-fund-") as folder:
        path = Path(folder) / plain_name(given.filename, "candidates.csv")
        path.write_bytes(given.file.read())
        try:
            import_table(_library(request), path, seen=text_in(form, "seen"))
        except CandidatesRefusedError as error:
            return _fund(request, refused=tuple(_plain(each, folder) for each in error.problems))
        except FileTrouble as error:
            return _fund(request, refused=(str(error).replace(f"{folder}/", ""),))
    return RedirectResponse("/money/fund", 303)


@router.get("/candidates.csv")
def table_file(request: Request) -> Response:
    """Give the table as the file that ``benchlore fund`` takes."""
    return csv_answer(candidates_csv(_library(request)), "candidates.csv")


@router.get("/rows/{place}")
def row(request: Request, place: str) -> HTMLResponse:
    """Open a row, or a new one."""
    table = fund_table(_library(request))
    at = _place(place)
    if at is not None and at >= len(table.rows):
        raise FundTableChangedError
    return _row(request, at, {} if at is None else table.rows[at], table.sha256)


@router.post("/rows/{place}")
def change_row(request: Request, place: str, form: Sent) -> Response:
    """Save a row or remove it; what was typed is never lost."""
    library, at, seen = _library(request), _place(place), text_in(form, "seen")
    typed = {name: text_in(form, name) for name in COLUMNS}
    try:
        if text_in(form, "action") == "remove" and at is not None:
            remove_row(library, at, seen=seen)
        else:
            put_row(library, at, typed, seen=seen)
    except CandidatesRefusedError as error:
        said = tuple(each.message for each in error.problems)
        return _row(request, at, typed, seen, wrong=said, status=422)
    except FundTableChangedError as error:
        now = fund_table(library).sha256
        return _row(request, None, typed, now, wrong=(str(error),), status=409)
    return RedirectResponse("/money/fund#candidates", 303)


@router.get("/plan")
def plan(request: Request) -> Response:
    """Show the plan that is asked for; it is worked out beside, and told how far it is."""
    asked = _asked(request.query_params)
    try:
        work = _begin(request, asked)
    except TermsRefusedError as error:
        return _fund(request, wrong=error.wrong)
    work.wait(PATIENCE)
    table = fund_table(_library(request))
    return page(
        request,
        "fund_plan.html",
        status=409 if work.failure else 200,
        work=work,
        asked=asked,
        query=urlencode(asked),
        table=table,
        what_if=WHAT_IF,
        is_what_if=any(name.startswith(WHAT_IF) for name in asked),
    )


@router.get("/plan/state")
def plan_state(request: Request) -> dict[str, object]:
    """Say how far a plan is."""
    work = _begin(request, _asked(request.query_params))
    state = "working" if work.is_running else "shown"
    return {"state": state, "stage": work.stage, "done": work.done, "total": work.total}


@router.get("/plan.csv")
def plan_file(request: Request) -> Response:
    """Give a plan as a table, a row a candidate."""
    work = _begin(request, _asked(request.query_params))
    work.wait(600)
    if work.result is None:
        return page(request, "failure.html", status=409, code=409, message=work.failure)
    return csv_answer(_plan_csv(work.result.funded, _currency(request)), "fund-plan.csv")


def csv_answer(text: str, name: str) -> Response:
    """Answer with a CSV file to keep; the mark at its start tells spreadsheets that it is UTF-8."""
    headers = {"Content-Disposition": f'attachment; filename="{name}"'}
    return Response(text.encode("utf-8-sig"), media_type="text/csv; charset=utf-8", headers=headers)


def _plan_csv(funded: Funded, currency: str) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    head = (
        "device",
        "complaint",
        "fund",
        "drawn",
        "fee",
        "benefit",
        "hours",
        "who",
        "offer from",
        "offer to",
    )
    writer.writerow([*head, "currency"])
    for place, (row, each) in enumerate(zip(funded.rows, funded.candidates, strict=True)):
        low, high = funded.fees[place]
        amounts = [decimal_amount(amount, currency) for amount in (each.cost, each.benefit, low)]
        writer.writerow(
            [
                *(row.device, row.complaint, "yes" if place in funded.chosen.places else "no"),
                *(f"{funded.often[place]:.4f}", *amounts[:2], f"{each.hours:g}", each.who, amounts[2]),
                *("" if high is None else decimal_amount(high, currency), currency),
            ]
        )
    return out.getvalue()


def _begin(request: Request, asked: Mapping[str, str]) -> Asked[FundShown]:
    """Begin with a plan, unless it is there; it is another one once table, jobs or shop have changed."""
    library, currency = _library(request), _currency(request)
    terms = terms_of(library, asked)

    def act(work: Asked[FundShown]) -> FundShown:
        funded = plan_fund(library, fund_file(library), terms, report=work.report)
        work.report("Drawing pictures", 0, 0)
        return FundShown(funded, fund_page(funded, currency))

    files = (library.store, library.store.with_name(f"{library.store.name}-wal"))
    stamps = [path.stat().st_mtime_ns if path.exists() else 0 for path in files]
    key = repr((fund_table(library).sha256, terms, currency, stamps))
    plans: Answers[FundShown] = request.app.state.fund_plans
    return plans.ask(sha256(key.encode()).hexdigest(), act)


def _asked(said: Mapping[str, Any]) -> dict[str, str]:
    """Keep of what was sent only what a plan is asked."""
    return {
        name: value
        for name, value in said.items()
        if isinstance(value, str)
        and (name in TERMS or name.startswith(HOURS_OF) or (name.startswith(WHAT_IF) and value))
    }


def _fund(request: Request, *, wrong: Mapping[str, str] = {}, refused: tuple[str, ...] = ()) -> HTMLResponse:
    library = _library(request)
    shop = sound_shop_of(library)
    trouble: tuple[str, ...] = ()
    table = None
    try:
        table = fund_table(library)
    except (CandidatesRefusedError, FileTrouble) as error:
        trouble = (str(error),)
    return page(
        request,
        "fund.html",
        status=422 if wrong or refused else 200,
        table=table,
        terms=fund_terms(library),
        shop=shop,
        hours_of=HOURS_OF,
        wrong=wrong,
        refused=refused or trouble,
    )


def _row(
    request: Request,
    place: int | None,
    cells: Mapping[str, str],
    seen: str,
    *,
    wrong: tuple[str, ...] = (),
    status: int = 200,
) -> HTMLResponse:
    return page(
        request,
        "fund_row.html",
        status=status,
        place=place,
        cells=cells,
        seen=seen,
        hints=HINTS,
        boards=_library(request).boards(),
        wrong=wrong,
    )


def _plain(problem: Problem, folder: str) -> str:
    return str(problem).replace(f"{folder}/", "")


def _place(text: str) -> int | None:
    """Read which row is meant; ``None`` is a new one."""
    if text == "new":
        return None
    if not text.isascii() or not text.isdigit() or len(text) > 6:
        raise FundTableChangedError
    return int(text)


def _currency(request: Request) -> str:
    return sound_shop_of(_library(request)).currency


def _library(request: Request) -> Library:
    library = request.app.state.library
    assert isinstance(library, Library)
    return library
