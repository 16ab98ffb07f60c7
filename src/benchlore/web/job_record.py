"""A restart record that is pasted or sent on a job's page: its picture, its kind, and what it answers."""

from collections.abc import Iterable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from secrets import token_urlsafe
from typing import Final

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse
from starlette.datastructures import FormData, UploadFile

from benchlore.library import JobView, RecordRefusedError, reading_of, restarts_in
from benchlore.press import draw_record
from benchlore.soak import LogLook, Pattern
from benchlore.units import format_roughly, share
from benchlore.web.at_desk import Sent, desk_of, here, text_in
from benchlore.web.looks import page

PASTED: Final = Path("the record")
LONGEST: Final = 1 << 16
"""Bytes of a line that are read at once."""

router = APIRouter(include_in_schema=False)


@router.post("/bench/{key}/record")
def record(request: Request, key: str, form: Sent) -> HTMLResponse:
    """Show what a record shows; nothing is stored until it is taken as a reading."""
    view = desk_of(request).view(key, here())
    name, lines = _lines(form)
    look = LogLook(match=text_in(form, "match") or None)
    try:
        read = restarts_in(lines, name, look, now=datetime.now(UTC))
    except RecordRefusedError as error:
        return _shown(request, view, error=str(error), status=422)
    made = reading_of(view.book, read.finding, but_not=[taken.check for taken in view.readings])
    known = made is not None and made.check in {check.name for check in view.model.checks}
    every = read.every
    told = f"{share(every.confidence)} interval, if the rate is constant"
    return _shown(
        request,
        view,
        picture=draw_record(read.record, read.finding, read.trend),
        said=read.finding.said,
        remarks=read.record.remarks,
        every=f"{_duration(every.mean)} ({_duration(every.low)} to {_duration(every.high)}; {told})"
        if read.record.count and read.finding.pattern is not Pattern.FIXED
        else "",
        reading=made if known else None,
    )


def _shown(request: Request, view: JobView, *, status: int = 200, **context: object) -> HTMLResponse:
    nothing = {
        "error": "",
        "picture": None,
        "said": (),
        "remarks": (),
        "every": "",
        "reading": None,
    }
    return page(
        request, "record.html", status=status, view=view, token=token_urlsafe(12), **{**nothing, **context}
    )


def _lines(form: FormData) -> tuple[Path, Iterable[str]]:
    """The lines of the file that was sent, else those that were pasted."""
    sent = form.get("file")
    if isinstance(sent, UploadFile) and sent.filename:
        return Path(Path(sent.filename).name[:100] or PASTED), _read(sent)
    if isinstance(sent, UploadFile):
        sent.file.close()
    return PASTED, text_in(form, "lines").splitlines()


def _read(sent: UploadFile) -> Iterator[str]:
    """Read a file line by line; what is no text in it is replaced, since logs hold all sorts of bytes."""
    with sent.file as stream:
        for line in iter(lambda: stream.readline(LONGEST), b""):
            yield line.decode("utf-8", errors="replace")


def _duration(minutes: float) -> str:
    return "no end" if minutes == float("inf") else format_roughly(minutes)
