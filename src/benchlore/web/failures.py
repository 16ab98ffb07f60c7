"""Failures as pages: what is foreseen says what it is; what is not says nothing of the inside."""

import logging
from typing import Final

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, Response
from starlette.exceptions import HTTPException
from starlette.routing import Match

from benchlore.jobs import BenchUnstorable, JobClosed, JobNotClosed, NoOpenJob, NumberTaken, StoreTrouble
from benchlore.library import (
    LibraryError,
    NoBookError,
    NoComplaintError,
    NoJobError,
    NoPictureError,
    NoProcedureError,
    NoProofError,
)
from benchlore.model import ModelError
from benchlore.money import MoneyError
from benchlore.notation import FileTooLarge, FileTrouble
from benchlore.procedure import PlanningError
from benchlore.proof import ProofError
from benchlore.web.access import RoleMissingError, refused
from benchlore.web.guard import HEADERS
from benchlore.web.looks import page
from benchlore.web.uploads import UploadGoneError

NOT_THERE: Final = (
    NoBookError,
    NoComplaintError,
    NoJobError,
    NoOpenJob,
    NoPictureError,
    NoProcedureError,
    NoProofError,
    UploadGoneError,
)
FORESEEN: Final = (
    LibraryError,
    FileTrouble,
    StoreTrouble,
    ModelError,
    PlanningError,
    ProofError,
    MoneyError,
    NoOpenJob,
    JobClosed,
    JobNotClosed,
    NumberTaken,
    BenchUnstorable,
)
"""What can go wrong outside the program; each composes its own message."""

METHODS: Final = ("DELETE", "GET", "HEAD", "OPTIONS", "PATCH", "POST", "PUT")

log = logging.getLogger("benchlore.web")


def add_failures(app: FastAPI) -> None:
    """Answer failures with a page, or under ``/api`` with JSON."""
    for kind in FORESEEN:
        app.add_exception_handler(kind, _foreseen)
    app.add_exception_handler(RoleMissingError, refused)
    app.add_exception_handler(HTTPException, _refused)
    app.add_exception_handler(RequestValidationError, _misshapen)
    app.add_exception_handler(Exception, _unforeseen)


async def _foreseen(request: Request, error: Exception) -> Response:
    status = 404 if isinstance(error, NOT_THERE) else 413 if isinstance(error, FileTooLarge) else 409
    return _answer(request, status, str(error), type(error).__name__)


async def _misshapen(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    said = "; ".join(f"{'.'.join(map(str, each['loc']))}: {each['msg']}" for each in error.errors())
    return _answer(request, 422, f"The request is not as it should be: {said}", "RequestValidationError")


async def _refused(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    what = "address" if request.url.path.startswith("/api/") else "page"
    said = f"There is no such {what}." if error.status_code == 404 else str(error.detail)
    answer = _answer(request, error.status_code, said, "HTTPException")
    answer.headers.update(error.headers or {})
    if error.status_code == 405:
        answer.headers["Allow"] = ", ".join(_methods(request))
    return answer


def _methods(request: Request) -> list[str]:
    """All methods of an address (RFC 9110, section 10.2.1); its routes only know their own."""
    routes = request.app.routes
    return [
        method
        for method in METHODS
        if any(route.matches({**request.scope, "method": method})[0] is Match.FULL for route in routes)
    ]


async def _unforeseen(request: Request, error: Exception) -> Response:
    log.error("failed at %s", request.url.path, exc_info=error)
    said = "Something went wrong inside benchlore. Nothing that was stored is lost. The terminal says more."
    answer = _answer(request, 500, said, "Failure")
    answer.headers.update(HEADERS)  # this answer is made outside the guards
    return answer


def _answer(request: Request, status: int, message: str, kind: str) -> Response:
    if request.url.path.startswith("/api/"):
        said = message.encode("utf-8", "replace").decode()  # a lone half of a character is no JSON
        return JSONResponse({"error": {"kind": kind, "message": said}}, status)
    return page(request, "failure.html", status=status, code=status, message=message)
