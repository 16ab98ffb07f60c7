"""What to do next on one job, from wherever it stands."""

from dataclasses import dataclass
from pathlib import Path

from benchlore.book import Book
from benchlore.library.bench import Bench, ReadAs, evidence_of, missing_of, read_as, setups_of, skipped_of
from benchlore.library.folder import Library, sound_shop_of
from benchlore.library.planning import learn_board, model_of_complaint
from benchlore.library.progress import Report, silent
from benchlore.model import Model
from benchlore.procedure import Advice, next_steps
from benchlore.shop import Shop


@dataclass(frozen=True, eq=False)
class Asked:
    """Advice for a job, with how its readings were understood."""

    book: Book
    model: Model
    shop: Shop
    readings: tuple[ReadAs, ...]
    advice: Advice


def ask(
    library: Library,
    board: str,
    complaint: str,
    bench: Bench,
    *,
    shop_file: Path | None = None,
    report: Report = silent,
) -> Asked:
    """Name the suspects and rank the next steps.

    Raises
    ------
    NoBookError, BookRefusedError, NoComplaintError, ShopRefusedError, ReadingError
        If what is named is not there, has errors, or means nothing to the book.
    PlanningError
        If the model cannot be priced for the shop.
    """
    shop = sound_shop_of(library, shop_file)
    learned = learn_board(library, board, report=report)
    model = model_of_complaint(learned, complaint)
    evidence = evidence_of(model, bench)
    advice = next_steps(
        model,
        shop,
        evidence,
        setups_done=setups_of(model, bench.setups),
        skipped=skipped_of(model, bench.skipped),
        without=missing_of(model, shop, bench.without),
    )
    return Asked(learned.book, model, shop, read_as(model, evidence), advice)
