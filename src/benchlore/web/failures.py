"""Failures as pages: what is foreseen says what it is; what is not says nothing of the inside."""

import logging
from typing import Final

from fastapi import FastAPI, Request
from fastapi.responses import JSONResponse, Response
from starlette.exceptions import HTTPException

from benchlore.jobs import BenchUnstorable, JobClosed, JobNotClosed, NoOpenJob, NumberTaken, StoreTrouble
from benchlore.library import (
    LibraryError,
    NoBookError,
    NoComplaintError,
    NoPictureError,
    NoProcedureError,
    NoProofError,
)
from benchlore.model import ModelError
from benchlore.notation import FileTrouble
from benchlore.procedure import PlanningError
from benchlore.proof import ProofError
from benchlore.web.guard import HEADERS
from benchlore.web.looks import page

NOT_THERE: Final = (NoBookError, NoComplaintError, NoProcedureError, NoProofError, NoPictureError, NoOpenJob)
FORESEEN: Final = (
    LibraryError,
    FileTrouble,
    StoreTrouble,
    ModelError,
    PlanningError,
    ProofError,
    NoOpenJob,
    JobClosed,
    JobNotClosed,
    NumberTaken,
    BenchUnstorable,
)
"""What can go wrong outside the program; each composes its own message."""

log = logging.getLogger("benchlore.web")


def add_failures(app: FastAPI) -> None:
    """Answer failures with a page, or under ``/api`` with JSON."""
    for kind in FORESEEN:
        app.add_exception_handler(kind, _foreseen)
    app.add_exception_handler(HTTPException, _refused)
    app.add_exception_handler(Exception, _unforeseen)


async def _foreseen(request: Request, error: Exception) -> Response:
    return _answer(request, 404 if isinstance(error, NOT_THERE) else 409, str(error), type(error).__name__)


async def _refused(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    said = "There is no such page." if error.status_code == 404 else str(error.detail)
    return _answer(request, error.status_code, said, "HTTPException")


async def _unforeseen(request: Request, error: Exception) -> Response:
    log.error("failed at %s", request.url.path, exc_info=error)
    said = "Something went wrong inside benchlore. Nothing that was stored is lost. The terminal says more."
    answer = _answer(request, 500, said, "Failure")
    answer.headers.update(HEADERS)  # this answer is made outside the guards
    return answer


def _answer(request: Request, status: int, message: str, kind: str) -> Response:
    if request.url.path.startswith("/api/"):
        return JSONResponse({"error": {"kind": kind, "message": message}}, status)
    return page(request, "failure.html", status=status, code=status, message=message)
