"""The first page."""

from fastapi import APIRouter
from fastapi.responses import RedirectResponse

router = APIRouter(include_in_schema=False)


@router.get("/")
def first() -> RedirectResponse:
    """Lead to where work goes on."""
    return RedirectResponse("/bench", 303)


@router.get("/favicon.ico")
def icon() -> RedirectResponse:
    """Lead to the icon."""
    return RedirectResponse("/static/icon.svg", 308)
