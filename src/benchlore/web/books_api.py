"""The library's books as JSON: the same answers that the pages show."""

from typing import Annotated, Any

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse
from pydantic import BaseModel, Field

from benchlore.library import (
    BookChangedError,
    BookOverview,
    BookUnsoundError,
    DiffLine,
    Library,
    Overview,
    Reviewed,
    Saved,
    book_overview,
    book_text,
    diff_of,
    kept_plan,
    overview,
    review_book,
    review_text,
    save_book,
)
from benchlore.notation import Problem, Severity
from benchlore.notation.files import LARGEST
from benchlore.procedure import to_json
from benchlore.web.answers import Failure, FailureAnswer, failing

router = APIRouter(prefix="/api/books", tags=["books"])

Text = Annotated[str, Field(max_length=LARGEST, description="The book's text.")]
Fingerprint = Annotated[
    str, Field(pattern="^[0-9a-f]{64}$", description="SHA-256 of the text that was opened, in UTF-8.")
]


class Finding(BaseModel):
    """A remark of the review; line and column count from one, and are left out where it has no place."""

    severity: str
    rule: str
    message: str
    line: int | None
    column: int | None


class Findings(BaseModel):
    """A review: how many findings of each severity, and all of them by line."""

    errors: int
    warnings: int
    notes: int
    findings: list[Finding]


class BookAnswer(BaseModel):
    """A book: where it stands, its text, the text's fingerprint, and its review."""

    overview: BookOverview
    text: str
    sha256: str
    review: Findings


class TextToReview(BaseModel):
    """A text to be reviewed as if it were the book's."""

    text: Text


class BookChange(BaseModel):
    """A text to save. ``seen`` is the fingerprint of the text that was changed."""

    text: Text
    seen: Fingerprint
    unsound: Annotated[bool, Field(description="Save it although it has errors.")] = False


class SavedAnswer(BaseModel):
    """What was saved: the new fingerprint, the text before, the lines that changed, the review."""

    sha256: str
    before: str
    diff: list[DiffLine]
    review: Findings


class ChangedAnswer(FailureAnswer):
    """Nothing was saved, as somebody changed the book: what it says now, and how yours differs from that."""

    text: str
    sha256: str
    diff: list[DiffLine]


class UnsoundAnswer(FailureAnswer):
    """Nothing was saved, as the text has errors, or the request is not as it should be."""

    review: Findings | None = None


class ProcedureAnswer(BaseModel):
    """The kept procedure of a complaint, in the form of ``procedure.json``.

    ``stale`` names what has changed since it was planned.
    """

    shop: str
    learned_from: int
    stale: list[str]
    procedure: dict[str, Any]


@router.get("", summary="Every book", operation_id="books")
def books(request: Request) -> Overview:
    """Where every book stands: jobs, findings, plans and proofs."""
    return overview(_library(request))


@router.get("/{board}", summary="One book", operation_id="book", responses=failing(404, 409, 422))
def book(request: Request, board: str) -> BookAnswer:
    """Where one book stands, its text and its review."""
    library = _library(request)
    opened = book_text(library, board)
    return BookAnswer(
        overview=book_overview(library, board),
        text=opened.text,
        sha256=opened.sha256,
        review=findings_of(review_book(library, board)),
    )


@router.get(
    "/{board}/{complaint}/procedure",
    summary="A complaint's procedure",
    operation_id="procedure",
    responses=failing(404, 409, 422),
)
def procedure(request: Request, board: str, complaint: str) -> ProcedureAnswer:
    """Return the procedure that was planned last for the library's shop."""
    kept = kept_plan(_library(request), board, complaint)
    return ProcedureAnswer(
        shop=kept.shop.name,
        learned_from=kept.jobs,
        stale=list(kept.stale),
        procedure=to_json(kept.procedure),
    )


@router.post(
    "/{board}/review",
    summary="Review a text",
    operation_id="review",
    responses=failing(400, 403, 404, 409, 413, 422),
)
def review(request: Request, board: str, given: TextToReview) -> Findings:
    """Review a text as if it were the book's; nothing is saved."""
    reviewed, _ = review_text(_library(request), board, given.text)
    return findings_of(reviewed)


@router.put(
    "/{board}",
    summary="Save a book",
    operation_id="save",
    response_model=SavedAnswer,
    responses=failing(400, 403, 404, 413)
    | {
        409: {"model": ChangedAnswer | FailureAnswer, "description": "Somebody changed the book meanwhile."},
        422: {"model": UnsoundAnswer, "description": "The text has errors, or the request is misshapen."},
    },
)
def save(request: Request, board: str, given: BookChange) -> SavedAnswer | JSONResponse:
    """Save a book's text, whole or not at all: only over the text that was seen."""
    try:
        saved = save_book(_library(request), board, given.text, seen=given.seen, unsound=given.unsound)
    except BookChangedError as error:
        changed = ChangedAnswer(
            error=failure_of(error),
            text=error.now.text,
            sha256=error.now.sha256,
            diff=list(diff_of(error.now.text, given.text)),
        )
        return JSONResponse(changed.model_dump(), 409)
    except BookUnsoundError as error:
        unsound = UnsoundAnswer(error=failure_of(error), review=findings_of(error.reviewed))
        return JSONResponse(unsound.model_dump(), 422)
    return saved_answer(saved)


def saved_answer(saved: Saved) -> SavedAnswer:
    """Tell what was saved."""
    return SavedAnswer(
        sha256=saved.now.sha256,
        before=saved.before.text,
        diff=list(saved.diff),
        review=findings_of(saved.reviewed),
    )


def findings_of(reviewed: Reviewed) -> Findings:
    """Tell a review."""
    counts = {f"{severity}s": reviewed.count(severity) for severity in Severity}
    return Findings(findings=[_finding(problem) for problem in reviewed.problems], **counts)


def failure_of(error: Exception) -> Failure:
    """Tell a failure."""
    return Failure(kind=type(error).__name__, message=str(error))


def _finding(problem: Problem) -> Finding:
    place = problem.position
    return Finding(
        severity=problem.severity.value,
        rule=problem.rule,
        message=problem.message.encode("utf-8", "replace").decode(),
        line=None if place is None else place.line,
        column=None if place is None else place.column,
    )


def _library(request: Request) -> Library:
    library = request.app.state.library
    assert isinstance(library, Library)
    return library
