"""What lists, search and feed know of a board: a few plain texts, kept in the manifest."""

from collections.abc import Iterable, Iterator

from benchlore.book import Book, Check
from benchlore.press.site.noted import note_board
from benchlore.press.site.paths import board_page, complaint_page
from benchlore.press.site.sources import BoardSource, ComplaintSource
from benchlore.press.site.values import BoardEntry, ComplaintEntry, Findable
from benchlore.press.text import whole_minutes
from benchlore.units import money, share


def entry_of(source: BoardSource) -> BoardEntry:
    """Say what the rest of the site knows of a board."""
    book = source.book
    return BoardEntry(
        board=book.board.name,
        title=book.board.title,
        device=book.board.device,
        path=board_page(book.board.name),
        licence=book.licence,
        jobs=source.stands.jobs,
        complaints=tuple(map(complaint_entry, source.complaints)),
        findables=tuple(findables_of(source)),
        content="",
        noted=note_board(source),
        credited=tuple(book.people.values()),
    )


def complaint_entry(source: ComplaintSource) -> ComplaintEntry:
    """Say how a complaint stands."""
    stands = source.stands
    plan, proof = stands.plan, stands.proof
    return ComplaintEntry(
        name=stands.name,
        title=stands.title,
        path=complaint_page(source.book.board.name, stands.name),
        is_intermittent=stands.is_intermittent,
        jobs=stands.jobs,
        standing="" if proof is None else proof.standing,
        known="" if proof is None else share(proof.known.value),
        cost="" if plan is None else money(plan.expected, plan.currency),
        time="" if plan is None else time_of(plan.hands_on, plan.waiting),
        trouble=source.trouble,
        stale=() if source.planned is None else source.planned.stale,
    )


def time_of(hands_on: float, waiting: float) -> str:
    """Print the minutes of a job."""
    waits = f" and {whole_minutes(waiting)} waiting" if round(waiting) else ""
    return whole_minutes(hands_on) + waits


def findables_of(source: BoardSource) -> Iterator[Findable]:
    """List what the search finds on a board: itself, complaints, faults and their parts, checks."""
    book = source.book
    title, page = book.board.title, board_page(book.board.name)
    yield Findable("board", title, book.board.device, page, _words([book.board.name, book.board.revision]))
    for complaint in source.complaints:
        path = complaint_page(book.board.name, complaint.complaint.name)
        yield Findable(
            "complaint",
            complaint.complaint.title,
            title,
            path,
            _words([complaint.complaint.name, *complaint.complaint.also]),
        )
        shown = [fault.name for fault in complaint.known.faults if fault.name in book.faults]
        for name in shown:
            fault = book.faults[name]
            inside, place = f"{title}: {complaint.complaint.title}", f"{path}#fault-{name}"
            yield Findable("fault", fault.title, inside, place, _words([name, *fault.also, fault.part_class]))
            if fault.part_ref:
                yield Findable(
                    "part", fault.part_ref, f"{inside}: {fault.title}", place, fault.part_class or ""
                )
    for check in book.checks.values():
        yield Findable("check", check.title, title, f"{page}#check-{check.name}", _check_words(book, check))


def _check_words(book: Book, check: Check) -> str:
    """Gather the words that stand in readings of a check: its other names, its results, where it reads."""
    condition = book.conditions[check.reads]
    words = [check.name, *check.also, *check.results, condition.title, condition.at, *condition.states]
    return _words([*words, check.measures and check.measures.value])


def _words(texts: Iterable[str | None]) -> str:
    return " ".join(dict.fromkeys(text for text in texts if text))
