"""The library's books."""

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from benchlore.web.looks import page

router = APIRouter(include_in_schema=False)


@router.get("/books")
def books(request: Request) -> HTMLResponse:
    """List every book."""
    return page(request, "books.html", boards=request.app.state.library.boards())
