"""Who is credited, and for what: the people of books and skills pages by their roles, shops by their jobs."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from benchlore.book import ROLES, Person, credit_role
from benchlore.library.allowing import public_names
from benchlore.library.folder import Library, store_of
from benchlore.library.skills import skills_of


@dataclass(frozen=True, slots=True)
class Contribution:
    """What somebody did for one book or page: ``kind`` is ``book`` or ``skill``, ``name`` its name.

    ``roles`` are CRediT's (NISO Z39.104-2022), ``other`` what the text says beside them.
    """

    kind: str
    name: str
    title: str
    roles: tuple[str, ...]
    other: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class BookPeople:
    """The people of a board's book."""

    board: str
    title: str
    people: tuple[Person, ...]


@dataclass(frozen=True, slots=True)
class CreditedPerson:
    """Somebody with all that they contributed; ``orcid`` is ``""`` where it is not known."""

    name: str
    orcid: str
    contributions: tuple[Contribution, ...]

    @property
    def roles(self) -> tuple[str, ...]:
        """Their roles in the standard's order."""
        had = {role for each in self.contributions for role in each.roles}
        return tuple(role for role in ROLES if role in had)


@dataclass(frozen=True, slots=True)
class CreditedShop:
    """A shop that allows to be named, and its jobs by board."""

    name: str
    jobs: int
    boards: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class Credits:
    """Everybody who made a library; ``unnamed`` counts the jobs of shops that are not named."""

    people: tuple[CreditedPerson, ...]
    shops: tuple[CreditedShop, ...]
    unnamed: int


def credits_of(library: Library, books: Iterable[BookPeople]) -> Credits:
    """Gather the credits of books, of all skills pages that can be read, and of the recorded jobs.

    People are one and the same where their ORCID iD is, or, without one, their name.
    """
    people: dict[str, list[tuple[Person, Contribution]]] = {}
    for person, contribution in _contributions(library, books):
        people.setdefault(person.title.casefold(), []).append((person, contribution))
    shops, unnamed = _shops(library)
    merged = _merged(people.values())
    ordered = sorted(merged, key=lambda each: (-len(each.contributions), each.name.casefold()))
    return Credits(tuple(ordered), shops, unnamed)


def _merged(groups: Iterable[list[tuple[Person, Contribution]]]) -> Iterator[CreditedPerson]:
    """Join a name's contributions; those with different identifiers stay apart."""
    by_orcid: dict[str, list[tuple[Person, Contribution]]] = {}
    for group in groups:
        known = {person.orcid for person, _ in group if person.orcid}
        for person, contribution in group:
            orcid = person.orcid or (next(iter(known)) if len(known) == 1 else "")
            by_orcid.setdefault(orcid or f"name {person.title.casefold()}", []).append((person, contribution))
    for key, group in by_orcid.items():
        orcid = "" if key.startswith("name ") else key
        yield CreditedPerson(group[0][0].title, orcid, tuple(each for _, each in group))


def _contributions(library: Library, books: Iterable[BookPeople]) -> Iterator[tuple[Person, Contribution]]:
    for book in books:
        for person in book.people:
            yield person, _contribution("book", book.board, book.title, person)
    for skill in skills_of(library):
        for person in skill.people.values():
            yield person, _contribution("skill", skill.name, skill.title, person)


def _contribution(kind: str, name: str, title: str, person: Person) -> Contribution:
    known = {credit_role(role) for role in person.roles}
    other = tuple(role for role in person.roles if credit_role(role) is None)
    return Contribution(kind, name, title, tuple(role for role in ROLES if role in known), other)


def _shops(library: Library) -> tuple[tuple[CreditedShop, ...], int]:
    named = {
        shop: name
        for shop, name in public_names(library.records).items()
        if library.records[shop].name == name
    }
    counts: dict[str, dict[str, int]] = {}
    unnamed = 0
    store = store_of(library)
    if store is not None:
        with store:
            for job in store.jobs():
                if job.shop in named:
                    boards = counts.setdefault(named[job.shop], {})
                    boards[job.board] = boards.get(job.board, 0) + 1
                else:
                    unnamed += 1
    shops = (
        CreditedShop(name, sum(boards.values()), tuple(sorted(boards.items())))
        for name, boards in counts.items()
    )
    return tuple(sorted(shops, key=lambda each: (-each.jobs, each.name))), unnamed
