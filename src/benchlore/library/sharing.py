"""Who lowered the expected cost by how much: Shapley values of books and records; a pot divided by them."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum
from pathlib import Path

import numpy as np

from benchlore.book import Book, Person
from benchlore.jobs import Job, Outcome
from benchlore.library.coalition_costs import Asked, priced_coalitions
from benchlore.library.folder import Library, sound_book_of, sound_shop_of, store_of
from benchlore.library.progress import Report, silent
from benchlore.library.researching import demand_in
from benchlore.model import build
from benchlore.money import (
    AmountError,
    Shares,
    coalitions_of,
    cost_of_declining,
    covered_among,
    divided,
    drawn_orders,
    shapley_values,
    shares_with_a_key,
    summed,
    taught,
    with_a_key,
)
from benchlore.procedure import Effort
from benchlore.shop import Shop


class By(StrEnum):
    """Whose records count as one contributor's."""

    SHOP = "shop"
    TECHNICIAN = "technician"


class Gave(StrEnum):
    """What somebody contributed."""

    BOOK = "book"
    RECORDS = "records"


@dataclass(frozen=True, slots=True)
class CreditTerms:
    """How credit is reckoned.

    ``pot`` is what is to be divided, if anything. Up to ``most_exact`` contributors of records to a board all
    coalitions are worked out; with more of them ``orders`` are drawn (an even number) with ``seed``.
    """

    pot: Decimal | None = None
    by: By = By.SHOP
    effort: Effort = Effort.QUICK
    most_exact: int = 6
    orders: int = 24
    seed: int = 1

    def __post_init__(self) -> None:
        """Refuse what makes no sense."""
        if self.orders < 4 or self.orders % 2:
            raise AmountError("orders", self.orders, "an even number from 4 on")
        if not 0 <= self.most_exact <= 12:
            raise AmountError("contributors of an exact sum", self.most_exact, "a number from 0 to 12")


@dataclass(frozen=True, slots=True)
class Contributor:
    """Somebody who wrote a book or recorded jobs, over all boards that were asked for.

    ``jobs`` is how many of their records were learned from (0 for a book). ``worth`` is by how much they
    lower the expected cost of a year's jobs, in the shop's currency, ``error`` its standard error (0.0 where
    it is exact), ``share`` their part of the whole, and ``amount`` their part of the pot (``None``: no pot).
    """

    name: str
    orcid: str
    gave: Gave
    boards: tuple[str, ...]
    jobs: int
    worth: float
    error: float
    share: float
    amount: Decimal | None = None


@dataclass(frozen=True, slots=True)
class CreditedComplaint:
    """A complaint's part: jobs a year; what a job costs declined, by the book alone, and with all jobs."""

    board: str
    complaint: str
    title: str
    a_year: float
    declined: float
    by_book: float
    by_all: float

    @property
    def saved(self) -> float:
        """What the book and all records save a year."""
        return self.a_year * max(0.0, self.declined - self.by_all)


@dataclass(frozen=True, slots=True)
class CreditedBoard:
    """How a board was reckoned: ``players`` with its book, ``coalitions`` compiled, ``orders`` (0: exact)."""

    board: str
    title: str
    players: int
    coalitions: int
    orders: int
    jobs: int
    left_out: int
    complaints: tuple[CreditedComplaint, ...]


@dataclass(frozen=True, slots=True)
class CreditReport:
    """Contributors, who is worth most first, with what that rests on.

    ``worth`` is what all of them save a year; ``is_dated`` is whether recorded days say how many jobs a
    complaint has a year (else each complaint counts as one).
    """

    shop: str
    currency: str
    terms: CreditTerms
    worth: float
    is_dated: bool
    contributors: tuple[Contributor, ...]
    boards: tuple[CreditedBoard, ...]

    @property
    def is_exact(self) -> bool:
        """Whether no order was drawn."""
        return all(board.orders == 0 for board in self.boards)


@dataclass(frozen=True, eq=False)
class _Player:
    """The records of one contributor to a board."""

    name: str
    jobs: tuple[Job, ...]


def share_credit(
    library: Library,
    boards: Sequence[str] = (),
    *,
    shop_file: Path | None = None,
    terms: CreditTerms = CreditTerms(),
    workers: int | None = None,
    report: Report = silent,
) -> CreditReport:
    """Share the credit for what boards' procedures save (all boards', where none is named).

    Raises
    ------
    NoBookError, BookRefusedError, ShopRefusedError, PlanningError
        As for a plan.
    """
    shop = sound_shop_of(library, shop_file)
    books = [_book(library, board) for board in dict.fromkeys(boards or library.boards())]
    store = store_of(library)
    every: tuple[Job, ...] = ()
    if store is not None:
        with store:
            every = tuple(store.jobs())
    seeds = np.random.SeedSequence(terms.seed).spawn(len(books))
    found, credited = [], []
    for book, seed in zip(books, seeds, strict=True):
        one = _Board(library, book, shop, terms, every)
        board, parts = one.shared(np.random.default_rng(seed), workers, report)
        credited.append(board)
        found += parts
    contributors = _paid(_merged(found), terms, shop.currency)
    return CreditReport(
        shop=shop.name,
        currency=shop.currency,
        terms=terms,
        worth=sum(each.worth for each in contributors),
        is_dated=any(job.opened is not None for job in every),
        contributors=contributors,
        boards=tuple(credited),
    )


def _book(library: Library, board: str) -> Book:
    book = sound_book_of(library, board).book
    assert book is not None
    return book


class _Board:
    """One board's game: its book is the key, the players are those who recorded jobs."""

    def __init__(
        self, library: Library, book: Book, shop: Shop, terms: CreditTerms, every: Sequence[Job]
    ) -> None:
        self._library, self._book, self._shop, self._terms = library, book, shop, terms
        own = [job for job in every if job.board == book.board.name]
        usable = [job for job in own if job.outcome is not Outcome.OPEN and job.complaint in book.complaints]
        self._left_out = len(own) - len(usable)
        self._players = tuple(_players(usable, terms.by))
        self._a_year = {name: _a_year(every, book.board.name, name) for name in book.complaints}

    def shared(
        self, rng: np.random.Generator, workers: int | None, report: Report
    ) -> tuple[CreditedBoard, list[Contributor]]:
        """Work out the coalitions that are needed, and share what they are worth."""
        count = len(self._players)
        is_exact = count <= self._terms.most_exact
        orders = drawn_orders(count, 0 if is_exact else self._terms.orders, rng)
        masks = tuple(range(2**count)) if is_exact else coalitions_of(orders)
        places = tuple(k for k, each in enumerate(self._a_year.values()) if each > 0)
        models = tuple(build(self._book, name) for name in self._book.complaints)
        jobs = tuple(player.jobs for player in self._players)
        full = taught(models, (job for some in jobs for job in some))
        asked = Asked(models, full, places, self._shop, self._terms.effort)
        costs = priced_coalitions(
            self._library,
            asked,
            {mask: _members(self._players, mask) for mask in masks},
            workers=workers,
            report=report,
        )
        declined = [cost_of_declining(full[place], self._shop) for place in places]
        values, complaints = dict.fromkeys(masks, 0.0), []
        for k, place in enumerate(places):
            name = models[place].complaint
            best = covered_among({mask: max(0.0, declined[k] - costs[mask][k]) for mask in masks})
            values = {mask: value + self._a_year[name] * best[mask] for mask, value in values.items()}
            ends = (declined[k] - best[mask] for mask in (masks[0], masks[-1]))
            complaints.append(self._complaint(name, declined[k], *ends))
        shares = _exact(values) if is_exact else shares_with_a_key(orders, values)
        board = self._book.board
        credited = CreditedBoard(
            board.name, board.title, count + 1, len(masks), len(orders), sum(map(len, jobs)),
            self._left_out, tuple(complaints),
        )  # fmt: skip
        return credited, list(self._contributors(shares))

    def _complaint(self, name: str, declined: float, by_book: float, by_all: float) -> CreditedComplaint:
        title = self._book.complaints[name].title
        return CreditedComplaint(
            self._book.board.name, name, title, self._a_year[name], declined, by_book, by_all
        )

    def _contributors(self, shares: Shares) -> Iterator[Contributor]:
        """What everybody gave; the people of a book share alike, and one who is not named stands for them."""
        board = (self._book.board.name,)
        worth, errors = shares.worth.tolist(), shares.errors.tolist()
        people: Sequence[tuple[str, str]] = [(each.title, each.orcid or "") for each in _people(self._book)]
        people = people or [(f"Who wrote the book of {self._book.board.title}", "")]
        for name, orcid in people:
            part = len(people)
            yield Contributor(name, orcid, Gave.BOOK, board, 0, worth[-1] / part, errors[-1] / part, 0.0)
        for player, own, error in zip(self._players, worth, errors, strict=False):
            yield Contributor(player.name, "", Gave.RECORDS, board, len(player.jobs), own, error, 0.0)


def _people(book: Book) -> tuple[Person, ...]:
    return tuple(book.people.values())


def _exact(values: Mapping[int, float]) -> Shares:
    worth = shapley_values(with_a_key(np.array([values[mask] for mask in range(len(values))])))
    return Shares(worth, np.zeros_like(worth))


def _players(jobs: Sequence[Job], by: By) -> Iterator[_Player]:
    groups: dict[str, list[Job]] = {}
    for job in jobs:
        groups.setdefault(_recorder(job, by), []).append(job)
    for name in sorted(groups, key=lambda name: (name.casefold(), name)):
        yield _Player(name, tuple(groups[name]))


def _recorder(job: Job, by: By) -> str:
    technician = job.technician.strip()
    return f"{technician} ({job.shop})" if by is By.TECHNICIAN and technician else job.shop


def _members(players: Sequence[_Player], mask: int) -> tuple[tuple[str, ...], tuple[Job, ...]]:
    members = [player for place, player in enumerate(players) if mask >> place & 1]
    jobs = sorted((job for player in members for job in player.jobs), key=lambda job: (job.shop, job.number))
    return tuple(player.name for player in members), tuple(jobs)


def _a_year(jobs: Sequence[Job], board: str, complaint: str) -> float:
    found = demand_in(jobs, board, complaint)
    return 1.0 if found is None else found.a_year


def _merged(parts: Sequence[Contributor]) -> tuple[Contributor, ...]:
    """Join what the same contributor gave to several boards; people are the same by ORCID iD or by name."""
    groups: dict[tuple[str, str], list[Contributor]] = {}
    for part in parts:
        groups.setdefault((part.gave, part.orcid or f"name {part.name.casefold()}"), []).append(part)
    merged = []
    for group in groups.values():
        worth, error = summed([(each.worth, each.error) for each in group])
        boards = tuple(board for each in group for board in each.boards)
        merged.append(
            replace(group[0], boards=boards, jobs=sum(each.jobs for each in group), worth=worth, error=error)
        )
    total = sum(each.worth for each in merged)
    shared = [replace(each, share=each.worth / total if total > 0 else 0.0) for each in merged]
    return tuple(sorted(shared, key=lambda each: (-round(each.share, 12), each.name.casefold(), each.name)))


def _paid(found: tuple[Contributor, ...], terms: CreditTerms, currency: str) -> tuple[Contributor, ...]:
    if terms.pot is None:
        return found
    amounts = divided(
        terms.pot, [each.worth for each in found], [each.name for each in found], currency
    ) or tuple(Decimal(0) for _ in found)
    return tuple(replace(each, amount=amount) for each, amount in zip(found, amounts, strict=True))
