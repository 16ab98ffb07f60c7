"""What to do next on one job, from wherever it stands."""

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from benchlore.book import Book
from benchlore.library.bench import Bench, ReadAs, read_as, situation_of
from benchlore.library.errors import NoProcedureError
from benchlore.library.folder import Library, sound_shop_of
from benchlore.library.planning import Learned, kept_for, learn_board, model_of_complaint
from benchlore.library.progress import Report, silent
from benchlore.model import Model
from benchlore.procedure import Advice, Adviser, Instance, Procedure, Situation, instance_of
from benchlore.shop import Shop


@dataclass(frozen=True, eq=False)
class Asked:
    """Advice for a job, with how its readings were understood."""

    book: Book
    model: Model
    shop: Shop
    readings: tuple[ReadAs, ...]
    situation: Situation
    advice: Advice


@dataclass(frozen=True, eq=False)
class Companion:
    """A board, a complaint and a shop, read and prepared once, that answers where any job stands."""

    book: Book
    model: Model
    shop: Shop
    adviser: Adviser

    @cached_property
    def instance(self) -> Instance:
        """The board priced for the shop; its ``give_up`` and ``comeback`` are what a bad end costs."""
        return instance_of(self.model, self.shop)

    def ask(self, bench: Bench) -> Asked:
        """Name the suspects and rank the next steps.

        Raises
        ------
        ReadingError
            If something that the bench says means nothing to the book.
        """
        situation = situation_of(self.model, self.shop, bench)
        read = read_as(self.model, situation.evidence, situation.unclear)
        return Asked(self.book, self.model, self.shop, read, situation, self.adviser.advise(situation))


def companion_of(
    library: Library,
    board: str,
    complaint: str,
    *,
    shop_file: Path | None = None,
    report: Report = silent,
) -> Companion:
    """Prepare to answer questions about jobs on a board.

    Where a procedure is kept for the shop, is up to date, and a job stands on it, its step comes first.

    Raises
    ------
    NoBookError, BookRefusedError, NoComplaintError, ShopRefusedError
        If what is named is not there or has errors.
    PlanningError
        If the model cannot be priced for the shop.
    """
    shop = sound_shop_of(library, shop_file)
    learned = learn_board(library, board, report=report)
    model = model_of_complaint(learned, complaint)
    plan = _plan(library, learned, complaint, shop)
    return Companion(learned.book, model, shop, Adviser(model, shop, plan=plan))


def ask(
    library: Library,
    board: str,
    complaint: str,
    bench: Bench,
    *,
    shop_file: Path | None = None,
    report: Report = silent,
) -> Asked:
    """Ask one question of a :class:`Companion`; errors are those of both."""
    return companion_of(library, board, complaint, shop_file=shop_file, report=report).ask(bench)


def _plan(library: Library, learned: Learned, complaint: str, shop: Shop) -> Procedure | None:
    """Return the procedure that was planned for the shop, if nothing has changed since."""
    try:
        kept = kept_for(library, learned, complaint, shop)
    except NoProcedureError:
        return None
    return None if kept.stale else kept.procedure
