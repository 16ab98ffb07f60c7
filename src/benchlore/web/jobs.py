"""The recorded jobs: a table to narrow down, downloads of it, and one job's record."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from enum import StrEnum
from typing import Any, Final
from urllib.parse import quote, unquote, urlencode

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, StreamingResponse
from starlette.exceptions import HTTPException

from benchlore.jobs import Job, Outcome, Search
from benchlore.jobs.export import FILES
from benchlore.library import Library, LibraryError, find_jobs, jobs_csv, recorded_job, sound_book_of
from benchlore.web.looks import page

NOT_CONFIRMED: Final = "not confirmed"
"""What stands in an address for jobs without a confirmed fault; no fault can have such a name."""

FIELDS: Final = ("words", "board", "complaint", "shop", "outcome", "fault", "since", "until")
LARGEST_PAGE: Final = 10**9

router = APIRouter(include_in_schema=False)


class Wrong(StrEnum):
    """What is wrong with a filter, as the page says it."""

    DATE = "is no date; write one such as 2026-03-31"
    OUTCOME = "is no outcome of a job"


@dataclass(frozen=True, slots=True)
class Asked:
    """What an address asks for: its ``fields`` as written, the search that they make, what is ``wrong``."""

    fields: Mapping[str, str]
    search: Search
    page: int
    wrong: Mapping[str, str] = field(default_factory=dict)

    def address(self, path: str, **changes: str) -> str:
        """Write an address that asks for the same, but for ``changes``."""
        fields = {name: value for name, value in {**self.fields, **changes}.items() if value}
        return f"{path}?{urlencode(fields)}" if fields else path

    @property
    def is_narrow(self) -> bool:
        """Whether anything is asked for."""
        return any(self.fields.values())


def asked_of(request: Request) -> Asked:
    """Read what an address asks for; what cannot be understood is not asked for, and said."""
    query = request.query_params
    fields = {name: query.get(name, "").strip()[:200] for name in FIELDS}
    wrong: dict[str, str] = {}
    search = Search(
        board=fields["board"] or None,
        complaint=fields["complaint"] or None,
        shop=fields["shop"] or None,
        outcome=_outcome(fields, wrong),
        since=_day(fields, "since", wrong),
        until=_day(fields, "until", wrong),
        words=fields["words"],
    )
    fault = fields["fault"]
    search = (
        replace(search, confirmed=False) if fault == NOT_CONFIRMED else replace(search, fault=fault or None)
    )
    number = query.get("page", "1")
    here = int(number) if number.isascii() and number.isdigit() and len(number) < 10 else 1
    return Asked(fields, search, max(1, here), wrong)


def named_in(request: Request) -> tuple[str, str]:
    """Return the shop and number that end an address; a ``/`` in one of them is written ``%2F`` there."""
    raw: bytes = request.scope.get("raw_path") or quote(request.url.path).encode()
    *_, shop, number = ["", "", *raw.decode("ascii", "replace").split("?")[0].split("/")]
    if not shop or not number:
        raise HTTPException(404)
    return unquote(shop), unquote(number)


@router.get("/jobs")
def jobs(request: Request) -> HTMLResponse:
    """List the jobs that are asked for."""
    asked = asked_of(request)
    found = find_jobs(request.app.state.library, asked.search, page=asked.page)
    return page(
        request,
        "jobs.html",
        asked=asked,
        found=found,
        outcomes=tuple(Outcome),
        not_confirmed=NOT_CONFIRMED,
        files=tuple(FILES),
    )


@router.get("/export/{file}")
def export(request: Request, file: str) -> StreamingResponse:
    """Give the jobs that are asked for as one of an export's files."""
    if file not in FILES:
        raise HTTPException(404)
    text = jobs_csv(request.app.state.library, asked_of(request).search, file)
    return StreamingResponse(
        text,
        media_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="{file}"'},
    )


@router.get("/jobs/{name:path}")  # noqa: FAST003  named_in reads it from the raw address
def job(request: Request) -> HTMLResponse:
    """Show one job's record."""
    library: Library = request.app.state.library
    return page(request, "job.html", **_record(library, *named_in(request)))


def _record(library: Library, shop: str, number: str) -> dict[str, Any]:
    record = recorded_job(library, shop, number)
    return {"record": record, "job": record.job, "can_come_back": _can_come_back(library, record.job)}


def _can_come_back(library: Library, job: Job) -> bool:
    """Whether a job on its board, with its complaint, could be helped with now."""
    try:
        book = sound_book_of(library, job.board).book
    except LibraryError:
        return False
    return book is not None and job.complaint in book.complaints


def _day(fields: Mapping[str, str], name: str, wrong: dict[str, str]) -> date | None:
    if not fields[name]:
        return None
    try:
        return date.fromisoformat(fields[name])
    except ValueError:
        wrong[name] = f"‘{fields[name]}’ {Wrong.DATE}"
        return None


def _outcome(fields: Mapping[str, str], wrong: dict[str, str]) -> Outcome | None:
    if not fields["outcome"]:
        return None
    try:
        return Outcome(fields["outcome"])
    except ValueError:
        wrong["outcome"] = f"‘{fields['outcome']}’ {Wrong.OUTCOME}"
        return None
