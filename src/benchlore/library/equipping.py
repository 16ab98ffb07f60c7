"""Which instruments and skills that a shop lacks would pay: its complaints planned with and without them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import combinations
from pathlib import Path
from typing import Final

from benchlore.jobs import Job
from benchlore.library.equip_costs import EquipmentCosts, Names
from benchlore.library.errors import (
    BookRefusedError,
    LibraryError,
    NoBookError,
    NoComplaintError,
    NoDemandError,
)
from benchlore.library.folder import Library, read_book_of, sound_shop_of, store_of
from benchlore.library.planning import learn_board, model_of_complaint
from benchlore.library.prices import Price, read_prices
from benchlore.library.progress import Report, silent
from benchlore.library.researching import demand_in
from benchlore.library.workers import cores, working
from benchlore.model import Model
from benchlore.money import AmountError, Demand, Purchase, Return, Use, Yearly, purchased, yearly
from benchlore.money.errors import MOST_COUNTED, not_negative
from benchlore.notation.equipment import STANDARD_INSTRUMENTS, STANDARD_SKILLS
from benchlore.procedure import Effort, PlanningError, instance_of
from benchlore.shop import Shop
from benchlore.units import counted

LEAST: Final = 0.005
"""Money a year that two sums must differ by to be told apart."""


@dataclass(frozen=True, slots=True)
class EquipTerms:
    """What is asked of :func:`value_instruments`.

    ``jobs`` are jobs a year at the shop by board and complaint; empty, they come from the records of
    ``boards`` (empty: of all). ``prices`` is a table; equipment without a life there lasts ``years``.
    """

    boards: tuple[str, ...] = ()
    jobs: Mapping[tuple[str, str], float] = field(default_factory=dict)
    prices: Path | None = None
    years: int = 5
    discount: float = 0.05
    effort: Effort = Effort.QUICK
    seed: int = 1


@dataclass(frozen=True, slots=True)
class MixRow:
    """A complaint of the shop's year: its demand, where that comes from, what equipment it could use."""

    board: str
    complaint: str
    title: str
    demand: Demand
    source: str
    needs: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SavedOnJob:
    """What a job of a complaint costs now and would cost.

    ``least`` is what is proven to be saved, ``most`` what no plan could save more than.
    """

    now: float
    then: float
    least: float
    most: float

    @property
    def each(self) -> float:
        """What a job saves by the procedures that were found."""
        return self.now - self.then


@dataclass(frozen=True, slots=True)
class EquipmentValue:
    """Equipment, alone or together, and what it saves in a year; ``saved`` has an entry a complaint.

    ``least`` to ``most`` a year holds what the best procedures of all would save: where they differ the
    planner has not proven the figure. ``price`` is ``None`` where the table leaves one of them out.
    """

    names: tuple[str, ...]
    saved: tuple[SavedOnJob, ...]
    yearly: Yearly
    least: float
    most: float
    price: float | None
    years: int
    bought: Return | None

    @property
    def is_exact(self) -> bool:
        """Whether the saving is proven to the cent."""
        return self.most - self.least <= LEAST

    @property
    def is_proven(self) -> bool:
        """Whether it is proven that something, or that nothing, is saved."""
        return self.is_exact or self.least > LEAST


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A complaint or a board that could not be counted, and why."""

    what: str
    why: str


@dataclass(frozen=True, eq=False)
class InstrumentValues:
    """What equipment that a shop lacks is worth to it, the greatest saving first.

    ``single`` is one by one. ``together`` are pairs, and larger sets that one check or fix needs, which save
    more than their members do one by one; ``best_two`` is the pair that brings most; ``everything`` is all at
    once (``None`` where nothing, or one thing, is lacking). ``needless`` are names in the price table that no
    check or fix of these complaints needs, so that they save exactly nothing; ``owned`` are those that the
    shop has. Of ``asked`` plans ``planned`` were made: bounds answered the others.
    """

    shop: Shop
    terms: EquipTerms
    mix: tuple[MixRow, ...]
    single: tuple[EquipmentValue, ...]
    together: tuple[EquipmentValue, ...]
    best_two: EquipmentValue | None
    everything: EquipmentValue | None
    needless: tuple[str, ...]
    owned: tuple[str, ...]
    left_out: tuple[LeftOut, ...]
    asked: int
    planned: int

    def is_skill(self, name: str) -> bool:
        """Whether a name is a skill that both sides know."""
        return name in STANDARD_SKILLS


def value_instruments(
    library: Library,
    *,
    shop_file: Path | None = None,
    terms: EquipTerms = EquipTerms(),
    workers: int | None = None,
    report: Report = silent,
) -> InstrumentValues:
    """Say what each instrument and skill that the shop lacks would save it in a year.

    Raises
    ------
    NoDemandError
        If nobody says how many jobs there are.
    PricesRefusedError, ShopRefusedError
        If the table of prices or the shop file has mistakes.
    NoBookError, BookRefusedError, NoComplaintError
        If a board or complaint that is named is not there or has errors.
    PlanningError
        If none of the complaints can be priced for the shop.
    AmountError
        If a number makes no sense.
    """
    shop = sound_shop_of(library, shop_file)
    Purchase(0.0, terms.years, terms.discount)  # says what is wrong with them before the long work
    prices = {} if terms.prices is None else read_prices(terms.prices, _known_names(library))
    mix, models, left_out = _mix(library, shop, terms, report)
    with working(cores() if workers is None else workers) as run:
        costs = EquipmentCosts(models, shop, terms.effort, run)
        names = sorted(frozenset().union(*costs.needed))
        pairs = [Names(pair) for pair in combinations(names, 2)]
        larger = {each for sets in costs.sets for each in sets if 2 < len(each) < len(names)}
        several = [*pairs, *sorted(larger, key=sorted)]
        costs.find([Names(), Names(names)], "Planning without and with everything", report)
        costs.find([Names({name}) for name in names], "Planning with one more", report)
        costs.find(several, "Planning with several more", report)
    valuing = _Valuing(
        costs, tuple(_kind(each, costs.needed[k]) for k, each in enumerate(mix)), prices, terms
    )
    single = _sorted([valuing.of(Names({name})) for name in names])
    sets = _sorted([valuing.of(each) for each in several])
    twos = [value for value in sets if len(value.names) == 2]
    alone = {value.names[0]: value.yearly.saved for value in single}
    return InstrumentValues(
        shop=shop,
        terms=terms,
        mix=valuing.mix,
        single=single,
        together=tuple(v for v in sets if v.yearly.saved > sum(alone[n] for n in v.names) + LEAST),
        best_two=_best(twos),
        everything=valuing.of(Names(names)) if len(names) > 1 else None,
        needless=tuple(sorted(prices.keys() - shop.equipment - set(names))),
        owned=tuple(sorted(prices.keys() & shop.equipment)),
        left_out=left_out,
        asked=costs.asked,
        planned=costs.planned,
    )


class _Valuing:
    """Turns costs of a job into money a year."""

    def __init__(
        self,
        costs: EquipmentCosts,
        mix: tuple[MixRow, ...],
        prices: Mapping[str, Price],
        terms: EquipTerms,
    ) -> None:
        self.mix = mix
        self._costs, self._prices, self._terms = costs, prices, terms

    def of(self, names: Names) -> EquipmentValue:
        """Value equipment that is bought together."""
        terms, saved = self._terms, tuple(self._saved(k, names) for k in range(len(self.mix)))
        uses = [Use(each.each, kind.demand) for each, kind in zip(saved, self.mix, strict=True)]
        prices = [self._prices.get(name) for name in sorted(names)]
        amounts = [price.amount for price in prices if price is not None]
        price = sum(amounts) if len(amounts) == len(prices) else None
        years = min(each.years or terms.years if each else terms.years for each in prices)
        bought = None
        if price is not None:
            bought = purchased(uses, Purchase(price, years, terms.discount), seed=terms.seed)
        return EquipmentValue(
            names=tuple(sorted(names)),
            saved=saved,
            yearly=yearly(uses, seed=terms.seed),
            least=self._a_year([each.least for each in saved]),
            most=self._a_year([each.most for each in saved]),
            price=price,
            years=years,
            bought=bought,
        )

    def _saved(self, k: int, names: Names) -> SavedOnJob:
        now, then = self._costs.between(k, Names()), self._costs.between(k, names)
        if not names & self._costs.needed[k]:
            return SavedOnJob(now.found, now.found, 0.0, 0.0)
        least = max(0.0, now.least - then.found)
        return SavedOnJob(now.found, then.found, least, max(least, now.found - then.least))

    def _a_year(self, amounts: Sequence[float]) -> float:
        return sum(amount * kind.demand.mean for amount, kind in zip(amounts, self.mix, strict=True))


def _sorted(values: Sequence[EquipmentValue]) -> tuple[EquipmentValue, ...]:
    return tuple(sorted(values, key=lambda value: (-value.yearly.saved, value.names)))


def _best(values: Sequence[EquipmentValue]) -> EquipmentValue | None:
    """What brings most after its price, where all have prices; else what saves most."""
    if values and all(value.bought for value in values):
        return max(values, key=lambda value: value.bought.value if value.bought else 0.0)
    return max(values, key=lambda value: value.yearly.saved, default=None)


def _kind(kind: MixRow, needs: Names) -> MixRow:
    return MixRow(kind.board, kind.complaint, kind.title, kind.demand, kind.source, tuple(sorted(needs)))


def _known_names(library: Library) -> Mapping[str, str]:
    """All equipment that has a word: the standard one, and what books describe."""
    known = {**STANDARD_INSTRUMENTS, **STANDARD_SKILLS}
    for board in library.boards():
        book = read_book_of(library, board).book
        known |= dict(book.equipment) if book else {}
    return known


def _mix(
    library: Library, shop: Shop, terms: EquipTerms, report: Report
) -> tuple[tuple[MixRow, ...], tuple[Model, ...], tuple[LeftOut, ...]]:
    """The complaints of the shop's year that can be planned, with their models, and those that cannot."""
    named = bool(terms.jobs or terms.boards)
    kinds, models, left_out = [], [], []
    troubles: list[LibraryError | PlanningError] = []
    for board, complaints in _wanted(library, shop, terms).items():
        try:
            learned = learn_board(library, board, report=report)
        except (NoBookError, BookRefusedError) as error:
            if named:
                raise
            left_out.append(LeftOut(board, str(error).splitlines()[0]))
            troubles.append(error)
            continue
        for complaint, (demand, source) in complaints.items():
            try:
                model = model_of_complaint(learned, complaint)
                instance_of(model, shop)
            except (NoComplaintError, PlanningError) as error:
                if named and isinstance(error, NoComplaintError):
                    raise
                left_out.append(LeftOut(f"{board}, {complaint}", str(error)))
                troubles.append(error)
                continue
            kinds.append(MixRow(board, complaint, model.title, demand, source, ()))
            models.append(model)
    if not models and troubles:
        raise troubles[0]
    return tuple(kinds), tuple(models), tuple(left_out)


def _wanted(library: Library, shop: Shop, terms: EquipTerms) -> dict[str, dict[str, tuple[Demand, str]]]:
    """The demand of each complaint and its source, by board."""
    found: dict[str, dict[str, tuple[Demand, str]]] = {}
    if terms.jobs:
        for (board, complaint), jobs in terms.jobs.items():
            not_negative(f"jobs a year of {board}, {complaint}", jobs, below=MOST_COUNTED)
            found.setdefault(board, {})[complaint] = (Demand(jobs), "given")
        return found
    recorded, whose = _recorded(library, shop)
    for board in terms.boards or library.boards():
        for complaint in dict.fromkeys(job.complaint for job in recorded if job.board == board):
            own = demand_in(recorded, board, complaint)
            if own is not None and own.jobs:
                said = f"{counted(own.jobs, 'job')} {whose}"
                found.setdefault(board, {})[complaint] = (own.demand, said)
    if not found:
        what = " or ".join(terms.boards) or "any board with a book"
        raise NoDemandError(what, "say how many jobs there are in a year (--jobs BOARD/COMPLAINT=N)")
    return found


def _recorded(library: Library, shop: Shop) -> tuple[tuple[Job, ...], str]:
    """The shop's own dated jobs; where it has none those of all shops, as if it were any of them."""
    store = store_of(library)
    if store is None:
        return (), ""
    with store:
        jobs = tuple(job for job in store.jobs() if job.opened is not None)
    own = tuple(job for job in jobs if job.shop.casefold() == shop.name.casefold())
    return (own, "of its own") if own else (jobs, "of all shops, for one of them")


def mix_of(pairs: Sequence[str]) -> Mapping[tuple[str, str], float]:
    """Read ``BOARD/COMPLAINT=N`` pairs, jobs a year (``AmountError``)."""
    found: dict[tuple[str, str], float] = {}
    for pair in pairs:
        what, equals, jobs = pair.partition("=")
        board, slash, complaint = what.partition("/")
        try:
            number = float(jobs)
        except ValueError:
            number = -1.0
        if not (equals and slash and board.strip() and complaint.strip() and 0 <= number < float("inf")):
            raise AmountError("jobs a year", pair, "BOARD/COMPLAINT=N, such as my-board/no-power=12")
        found[board.strip(), complaint.strip()] = number
    return found
