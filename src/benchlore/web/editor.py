"""A book's text, edited in the browser: reviewed, saved over what was seen alone, undone by another save."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import HTMLResponse

from benchlore.library import (
    BookChangedError,
    BookUnsoundError,
    Library,
    Reviewed,
    Saved,
    book_text,
    diff_of,
    review_book,
    review_text,
    save_book,
)
from benchlore.library.editing import clean_text
from benchlore.web.guard import MOST_BYTES
from benchlore.web.looks import page

router = APIRouter(include_in_schema=False)


class Action(StrEnum):
    """What the editor's buttons ask for."""

    REVIEW = "review"
    SAVE = "save"
    SAVE_UNSOUND = "save-unsound"
    UNDO = "undo"


@dataclass(frozen=True, slots=True)
class EditorShown:
    """The editor's page: the text, the fingerprint of what it was made from, its review.

    ``said`` is what became of the last action; ``is_unsound`` offers to save the text with its errors;
    ``saved`` is what was saved just now.
    """

    board: str
    text: str
    seen: str
    reviewed: Reviewed
    said: str = ""
    is_unsaved: bool = False
    is_unsound: bool = False
    saved: Saved | None = None


@router.get("/books/{board}/edit")
def edit(request: Request, board: str) -> HTMLResponse:
    """Open a book's text."""
    library = _library(request)
    opened = book_text(library, board)
    return _editor(request, EditorShown(board, opened.text, opened.sha256, review_book(library, board)))


@dataclass(frozen=True, slots=True)
class Typed:
    """What the editor's form sent."""

    text: str
    seen: str
    action: Action


async def typed(request: Request) -> Typed:
    """Read the form; its text may be as large as a request, so that a book too large is told as one.

    An action that there is not is a mere review.
    """
    async with request.form(max_fields=8, max_files=0, max_part_size=MOST_BYTES) as form:
        text, seen, action = (str(form.get(name, "")) for name in ("text", "seen", "action"))
    return Typed(text, seen, Action(action) if action in set(Action) else Action.REVIEW)


@router.post("/books/{board}/edit")
def change(request: Request, board: str, given: Annotated[Typed, Depends(typed)]) -> HTMLResponse:
    """Review or save what was typed. Nothing that was typed is lost, whatever comes in the way."""
    library = _library(request)
    new = clean_text(library.book_file(board), given.text).text
    if given.action is Action.REVIEW:
        reviewed, _ = review_text(library, board, new)
        said = "Reviewed. Nothing is saved yet."
        return _editor(request, EditorShown(board, new, given.seen, reviewed, said=said, is_unsaved=True))
    try:
        unsound = given.action in {
            Action.SAVE_UNSOUND,
            Action.UNDO,
        }  # what stood there before may stand there again
        saved = save_book(library, board, new, seen=given.seen, unsound=unsound)
    except BookChangedError as error:
        reviewed, _ = review_text(library, board, new)
        return page(
            request,
            "edit_changed.html",
            status=409,
            board=board,
            message=str(error),
            text=new,
            now=error.now,
            diff=diff_of(error.now.text, new),
            reviewed=reviewed,
        )
    except BookUnsoundError as error:
        shown = EditorShown(
            board, new, given.seen, error.reviewed, said=str(error), is_unsaved=True, is_unsound=True
        )
        return _editor(request, shown, status=422)
    return _saved(request, board, saved, undone=given.action is Action.UNDO)


def _editor(request: Request, shown: EditorShown, *, status: int = 200) -> HTMLResponse:
    return page(request, "edit.html", status=status, shown=shown)


def _saved(request: Request, board: str, saved: Saved, *, undone: bool) -> HTMLResponse:
    said = "Undone: the book says again what it said before." if undone else "Saved."
    changed = saved.now != saved.before
    shown = EditorShown(
        board,
        saved.now.text,
        saved.now.sha256,
        saved.reviewed,
        said=said if changed else "Nothing was changed, so nothing had to be saved.",
        saved=saved if changed else None,
    )
    return _editor(request, shown)


def _library(request: Request) -> Library:
    library = request.app.state.library
    assert isinstance(library, Library)
    return library
