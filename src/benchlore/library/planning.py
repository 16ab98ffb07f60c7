"""From what a library holds to models and procedures, kept in its ``compiled`` folder while it stays."""

from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from benchlore.book import Book
from benchlore.jobs import JobColumns
from benchlore.library.compiled import (
    WHAT,
    changed,
    digest_of_shop,
    procedure_folder,
    read_json,
    stamp_of,
    write_json,
)
from benchlore.library.errors import NoComplaintError, NoProcedureError
from benchlore.library.folder import Library, make_folder, sound_book_of, sound_shop_of, store_of
from benchlore.library.progress import Report, silent
from benchlore.library.workers import cores
from benchlore.model import LearningReport, Model, ModelError, build, cases_from_columns, learn
from benchlore.model import from_json as model_from_json
from benchlore.model import to_json as model_to_json
from benchlore.notation import FileNotWritten, FileTrouble
from benchlore.procedure import MEMORY, Effort, Kind, Limits, PlanningError, Procedure, never, plan
from benchlore.procedure import from_json as procedure_from_json
from benchlore.procedure import to_json as procedure_to_json
from benchlore.shop import Shop

LEARNING_STEPS = 50


@dataclass(frozen=True, eq=False)
class Learned:
    """What is known of a board: its book, a model for each complaint, how many stored jobs taught them.

    ``learning`` is ``None`` where there are no jobs, or the models were kept from an earlier learning.
    ``stamp`` is what the models depend on, as it was when they were made.
    """

    book: Book
    models: Mapping[str, Model]
    jobs: int
    stored: int
    learning: LearningReport | None
    stamp: Mapping[str, str]


@dataclass(frozen=True, eq=False)
class Planned:
    """A procedure and what it was made from; ``stale`` names what has changed since."""

    book: Book
    model: Model
    shop: Shop
    procedure: Procedure
    jobs: int
    stored: int
    stale: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class Known:
    """Models as they are at hand, without a new learning; ``stale`` names what they have not learned from."""

    models: Mapping[str, Model]
    jobs: int
    stored: int
    stale: tuple[str, ...]


def learn_board(library: Library, board: str, *, report: Report = silent) -> Learned:
    """Build the models of a board's complaints, learn from its recorded jobs, and keep the models.

    Models that were kept are used again while book and jobs are what they were.

    Raises
    ------
    NoBookError, BookRefusedError
        If there is no such book, or it has errors.
    """
    book = sound_book_of(library, board).book
    assert book is not None
    columns = _columns(library, board)
    stamp = stamp_of(library, board, columns)
    if (kept := _kept_models(library, book, stamp, _count(columns))) is not None:
        return kept
    models = tuple(build(book, complaint) for complaint in book.complaints)
    learned, jobs, learning = _learn(models, columns, report)
    # Models can be learned again at any time: a library that may only be read still answers.
    with suppress(FileNotWritten):
        for model in learned:
            folder = library.compiled / board / model.complaint
            write_json(folder / "model.json", model_to_json(model))
            write_json(folder / "made-from.json", {**stamp, "learned_from": jobs})
    return Learned(
        book, {model.complaint: model for model in learned}, jobs, _count(columns), learning, stamp
    )


def plan_complaint(  # noqa: PLR0913 what a caller may leave out has its name
    library: Library,
    board: str,
    complaint: str,
    *,
    shop_file: Path | None = None,
    memory: int = MEMORY,
    effort: Effort = Effort.NORMAL,
    steps: int | None = None,
    sample: int = 0,
    limits: Limits = Limits(),  # noqa: B008 a frozen value
    today: date | None = None,
    interrupted: Callable[[], bool] = never,
    report: Report = silent,
) -> Planned:
    """Learn, plan for a shop, keep the procedure with its day, and return it.

    Once ``interrupted`` says so, the best procedure found so far is kept. ``today`` is the day by the clock
    (UTC) where it is left out.

    Raises
    ------
    NoBookError, BookRefusedError, NoComplaintError, ShopRefusedError
        If what is named is not there or has errors.
    PlanningError
        If no plan can be made (nobody says what a repair is worth, …).
    """
    shop = sound_shop_of(library, shop_file)
    learned = learn_board(library, board, report=report)
    model = model_of_complaint(learned, complaint)
    folder = procedure_folder(library, board, complaint, shop)
    make_folder(folder)  # a library that cannot be written to says so before the long work

    def progress(done: float, cost: float | None, bound: float | None) -> None:
        report("Planning", done, 1.0, _found(cost, bound, shop.currency))

    procedure = plan(
        model,
        shop,
        memory=memory,
        effort=effort,
        limits=limits,
        steps=steps,
        sample=sample,
        workers=cores(),
        interrupted=interrupted,
        progress=progress,
    )
    made_from = {
        **learned.stamp,
        "shop": digest_of_shop(shop),
        "learned_from": learned.jobs,
        "planned": (today or datetime.now(UTC).date()).isoformat(),
    }
    write_json(folder / "procedure.json", procedure_to_json(procedure))
    write_json(folder / "made-from.json", made_from)
    return Planned(learned.book, model, shop, procedure, learned.jobs, learned.stored)


def _found(cost: float | None, bound: float | None, currency: str) -> str:
    return "" if cost is None or bound is None else f"{cost:.2f} {currency}, at least {bound:.2f}"


def kept_procedure(library: Library, board: str, complaint: str, *, shop_file: Path | None = None) -> Planned:
    """Return the procedure that was planned last for a complaint and a shop, and what has changed since.

    Raises
    ------
    NoProcedureError
        If none was planned, or what is kept cannot be read.
    """
    shop = sound_shop_of(library, shop_file)
    return kept_for(library, learn_board(library, board), complaint, shop)


def fresh_procedure(
    library: Library,
    board: str,
    complaint: str,
    *,
    shop_file: Path | None = None,
    effort: Effort = Effort.NORMAL,
    report: Report = silent,
) -> Planned:
    """Return the kept procedure of a complaint, which is planned first if there is none or it is stale."""
    shop, learned = sound_shop_of(library, shop_file), learn_board(library, board, report=report)
    try:
        planned = kept_for(library, learned, complaint, shop)
    except NoProcedureError:
        planned = None
    if planned is not None and not planned.stale:
        return planned
    steps = None if planned is None else planned.procedure.limit
    return plan_complaint(
        library, board, complaint, shop_file=shop_file, effort=effort, steps=steps, report=report
    )


def kept_for(library: Library, learned: Learned, complaint: str, shop: Shop) -> Planned:
    """As :func:`kept_procedure`, for a board that was learned already and a shop that was read."""
    model, board = model_of_complaint(learned, complaint), learned.book.board.name
    procedure, made_from = read_kept(library, board, complaint, shop)
    stale = changed(made_from, {**learned.stamp, "shop": digest_of_shop(shop)})
    jobs = int(made_from["learned_from"])
    return Planned(learned.book, model, shop, procedure, jobs, learned.stored, stale)


@dataclass(frozen=True, eq=False)
class KeptPlan:
    """A kept procedure by itself, without the model; ``stale`` names what has changed since.

    ``planned`` is the day, ``None`` where an older version planned it. ``stamp`` is what a procedure would
    be made from now.
    """

    book: Book
    shop: Shop
    procedure: Procedure
    jobs: int
    planned: date | None
    stamp: Mapping[str, str]
    stale: tuple[str, ...]


def kept_plan(library: Library, board: str, complaint: str, *, shop_file: Path | None = None) -> KeptPlan:
    """As :func:`kept_procedure`, at once: nothing is learned for it, even where jobs or book have changed.

    Raises
    ------
    NoBookError, BookRefusedError, NoComplaintError, ShopRefusedError
        If what is named is not there or has errors.
    NoProcedureError
        If none was planned, or what is kept cannot be read or has steps that the book no longer has.
    """
    shop, book = sound_shop_of(library, shop_file), sound_book_of(library, board).book
    assert book is not None
    if complaint not in book.complaints:
        raise NoComplaintError(board, complaint, tuple(book.complaints))
    procedure, made_from = read_kept(library, board, complaint, shop)
    if not is_of(procedure, book):
        raise NoProcedureError(board, complaint, shop.name)
    stamp = {**stamp_of(library, board, _columns(library, board)), "shop": digest_of_shop(shop)}
    return KeptPlan(
        book=book,
        shop=shop,
        procedure=procedure,
        jobs=int(made_from["learned_from"]),
        planned=_day(made_from.get("planned")),
        stamp=stamp,
        stale=changed(made_from, stamp),
    )


def _day(text: object) -> date | None:
    """Read the day of a plan as it was kept."""
    with suppress(ValueError):
        return date.fromisoformat(text) if isinstance(text, str) else None
    return None


def is_of(procedure: Procedure, book: Book) -> bool:
    """Whether the book has every step of a procedure."""
    known = {Kind.CHECK: book.checks.keys(), Kind.FIX: book.fixes.keys(), Kind.RETURN: {""}}
    return all(
        step.action in known[step.kind] and set(step.setups) <= book.setups.keys() for step in procedure.steps
    )


def read_kept(
    library: Library, board: str, complaint: str, shop: Shop
) -> tuple[Procedure, Mapping[str, Any]]:
    """Read a kept procedure and what it was made from; raises ``NoProcedureError``."""
    folder = procedure_folder(library, board, complaint, shop)
    try:
        procedure = procedure_from_json(read_json(folder / "procedure.json"))
        made_from = read_json(folder / "made-from.json")
        int(made_from["learned_from"])
    except (FileTrouble, ValueError, PlanningError, KeyError, TypeError):
        raise NoProcedureError(board, complaint, shop.name) from None
    return procedure, made_from


def model_of_complaint(learned: Learned, complaint: str) -> Model:
    """Pick a complaint's model; raises ``NoComplaintError``."""
    if complaint not in learned.models:
        raise NoComplaintError(learned.book.board.name, complaint, tuple(learned.models))
    return learned.models[complaint]


def _columns(library: Library, board: str) -> JobColumns | None:
    store = store_of(library)
    if store is None:
        return None
    with store:
        return store.columns(board)


def _count(columns: JobColumns | None) -> int:
    return 0 if columns is None else len(columns)


def _learn(
    models: tuple[Model, ...], columns: JobColumns | None, report: Report
) -> tuple[tuple[Model, ...], int, LearningReport | None]:
    if columns is None or not models:
        return models, 0, None
    cases = cases_from_columns(models, columns)
    if not len(cases.complaints):
        return models, 0, None
    learned, learning = learn(
        models,
        cases,
        iterations=LEARNING_STEPS,
        progress=lambda step, _: report("Learning", step + 1, LEARNING_STEPS),
    )
    return learned, learning.jobs, learning


def known_models(library: Library, book: Book) -> Known:
    """Return a book's models at once: as they were learned last or, where the book has changed, unlearned."""
    board = book.board.name
    columns = _columns(library, board)
    stamp = stamp_of(library, board, columns)
    fixed = {key: value for key, value in stamp.items() if key != "jobs"}
    stored = _count(columns)
    if (kept := _kept_models(library, book, fixed, stored)) is None:
        models = {complaint: build(book, complaint) for complaint in book.complaints}
        return Known(models, 0, stored, (WHAT["jobs"],) if stored else ())
    stale = () if _kept_models(library, book, stamp, stored) is not None else (WHAT["jobs"],)
    return Known(kept.models, kept.jobs, stored, stale)


def _kept_models(library: Library, book: Book, stamp: Mapping[str, str], stored: int) -> Learned | None:
    """Models kept from an earlier learning, if all are there and made from the same."""
    models: dict[str, Model] = {}
    jobs = 0
    try:
        for complaint in book.complaints:
            folder = library.compiled / book.board.name / complaint
            made_from = read_json(folder / "made-from.json")
            if any(made_from.get(key) != value for key, value in stamp.items()):
                return None
            models[complaint] = model_from_json(read_json(folder / "model.json"))
            jobs = int(made_from["learned_from"])
    except (FileTrouble, ValueError, ModelError, KeyError, TypeError):
        return None
    return Learned(book, models, jobs, stored, None, stamp)
