"""All that the sheet of a complaint is printed from, as it is kept."""

from dataclasses import dataclass
from datetime import date
from pathlib import Path

from benchlore.book import Book
from benchlore.library.compiled import WHAT, changed, procedure_folder
from benchlore.library.folder import Library
from benchlore.library.planning import kept_plan
from benchlore.library.proving import read_proof
from benchlore.procedure import Procedure
from benchlore.proof import Proof
from benchlore.shop import Shop


@dataclass(frozen=True, eq=False)
class KeptSheet:
    """A kept procedure with its book, shop, day and, where one is kept, its proof.

    ``stale`` names what has changed since it was planned or proven.
    """

    book: Book
    shop: Shop
    procedure: Procedure
    proof: Proof | None
    planned: date | None
    stale: tuple[str, ...]


def kept_sheet(library: Library, board: str, complaint: str, *, shop_file: Path | None = None) -> KeptSheet:
    """Return what a complaint's sheet is printed from, at once: nothing is learned, planned or proven for it.

    Raises
    ------
    NoBookError, BookRefusedError, NoComplaintError, ShopRefusedError
        If what is named is not there or has errors.
    NoProcedureError
        If no procedure is kept.
    """
    plan = kept_plan(library, board, complaint, shop_file=shop_file)
    found = read_proof(procedure_folder(library, board, complaint, plan.shop) / "proof.json")
    proof, older = (None, ()) if found is None else (found[0], changed(found[1], plan.stamp))
    stale = tuple(name for name in WHAT.values() if name in {*plan.stale, *older})
    return KeptSheet(plan.book, plan.shop, plan.procedure, proof, plan.planned, stale)
