"""The pages about money: one that leads to all of them."""

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from benchlore.library import overview
from benchlore.web.looks import page

router = APIRouter(prefix="/money", include_in_schema=False)


@router.get("")
def money(request: Request) -> HTMLResponse:
    """Lead to every question about money."""
    return page(request, "money.html", overview=overview(request.app.state.library))
