"""The soak shelf for the app's own pages, which look whether somebody should come, and for other programs."""

from datetime import datetime

from fastapi import APIRouter, Request
from pydantic import BaseModel, Field

from benchlore.library import Shelved
from benchlore.web.answers import failing
from benchlore.web.at_desk import desk_of, here
from benchlore.web.shelf import rings_said, said_of

router = APIRouter(prefix="/api/shelf", tags=["shelf"])


class Ahead(BaseModel):
    """The chance of a cure if nothing shows for so many more minutes."""

    minutes: float
    cured: float


class Soaking(BaseModel):
    """A board that soaks after a fix. Minutes are of a device that was on."""

    key: str
    number: str
    board: str
    complaint: str
    fix: str
    last: int = Field(description="The place of the last entry; send it as `expected`.")
    started: datetime
    soaked: float = Field(description="Minutes since the fix, earlier soaks included.")
    planned: float = Field(description="The same at the planned end.")
    state: str = Field(description="`runs`, `off`, `over` or `shown`.")
    shown: list[float] = Field(description="Minutes of this soak after which the complaint showed itself.")
    test: str = Field(description="The counting test: `accept`, `reject`, `go on`, or nothing.")
    ahead: list[Ahead]
    cheapest: float | None = Field(description="Minutes of soak that cost the shop least, in all.")
    said: str
    rings: str = Field(description="Why somebody should come; empty where nobody need.")


@router.get("", responses=failing(409), operation_id="shelf")
def shelf(request: Request) -> list[Soaking]:
    """List the boards that soak; those that somebody should see to come first."""
    return [_soaking(board) for board in desk_of(request).shelf(here()).boards]


def _soaking(board: Shelved) -> Soaking:
    after = None if board.plan is None else board.plan.after
    return Soaking(
        key=board.job.key,
        number=board.job.number,
        board=board.job.board,
        complaint=board.job.complaint,
        fix=board.fix,
        last=board.last,
        started=board.soak.started,
        soaked=board.soaked,
        planned=board.planned,
        state=board.state,
        shown=list(board.soak.shown),
        test=board.stands or "",
        ahead=[Ahead(minutes=minutes, cured=chance) for minutes, chance in board.ahead],
        cheapest=None if after is None else after.cheapest,
        said=said_of(board),
        rings=rings_said(board),
    )
