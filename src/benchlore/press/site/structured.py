"""What a page says to machines: schema.org HowTo for a procedure, Dataset for a board's tables, as JSON-LD.

A HowTo is linear, so it tells the most likely way through the procedure; ``procedure.json`` has every branch.
"""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

from benchlore.book import Book, Person
from benchlore.library import Sheet, SheetStep
from benchlore.library.sheet import in_short
from benchlore.press.site.licences import licence_page
from benchlore.press.site.needs import Needed
from benchlore.press.site.paths import absolute, leading
from benchlore.press.site.sources import BoardSource, ComplaintSource
from benchlore.press.site.values import Frame, Link
from benchlore.units import share

CONTEXT: Final = "https://schema.org"

Document = Mapping[str, Any]


def how_to(frame: Frame, source: ComplaintSource, needed: Needed, path: str) -> tuple[Document, ...]:
    """Tell the most likely way through a procedure; nothing where there is none."""
    if source.sheet is None or source.planned is None:
        return ()
    book, plan = source.book, source.stands.plan
    way = tuple(main_way(source.sheet))
    on_way = {step.number for step in way}
    parts = [part for part in needed.parts if on_way & set(part.steps)]
    tools = [need for need in needed.instruments if on_way & set(need.steps)]
    document = {
        "@context": CONTEXT,
        "@type": "HowTo",
        "name": f"{source.complaint.title}: {book.board.title}",
        "description": (
            f"The most likely way to find and repair the fault when {book.board.device} comes in with "
            f"“{source.complaint.title}”. Other results lead elsewhere: follow the page."
        ),
        "inLanguage": "en",
        **_rights(book),
        "estimatedCost": {
            "@type": "MonetaryAmount",
            "currency": source.planned.procedure.currency,
            "value": round(source.planned.procedure.expected, 2),
        },
        **({} if plan is None else {"totalTime": iso_duration(plan.hands_on + plan.waiting)}),
        "tool": [{"@type": "HowToTool", "name": need.what} for need in tools],
        "supply": [{"@type": "HowToSupply", "name": part.title} for part in parts],
        "step": list(_how_to_steps(frame, way, path)),
    }
    return ({key: value for key, value in document.items() if value != []},)


def main_way(sheet: Sheet) -> Iterator[SheetStep]:
    """Follow the most likely result of each step to the end, or to where the sheet ends."""
    steps = {step.number: step for step in sheet.steps}
    number: int | None = 1
    while number in steps:
        step = steps[number]
        yield step
        likely = max(step.onward, key=lambda to: to.chance, default=None)
        number = None if likely is None else likely.step


def dataset(frame: Frame, source: BoardSource, path: str, tables: Sequence[Link]) -> Document:
    """Tell of a board's tables."""
    book = source.book
    return {
        "@context": CONTEXT,
        "@type": "Dataset",
        "name": f"{book.board.title}: faults, checks, jobs",
        "description": (
            f"How frequent each known fault of {book.board.title} ({book.board.device}) is, with 95 % "
            "intervals, what can be checked on it, and how many repair jobs are recorded."
        ),
        **_rights(book),
        "isAccessibleForFree": True,
        "distribution": [
            {
                "@type": "DataDownload",
                "name": table.label,
                "encodingFormat": "application/json" if table.path.endswith(".json") else "text/csv",
                "contentUrl": _address(frame, path, table.path),
            }
            for table in tables
        ],
    }


def iso_duration(minutes: float) -> str:
    """Write minutes as ISO 8601 does (section 5.5.2.2), to the minute.

    >>> iso_duration(87.4), iso_duration(0.2), iso_duration(60)
    ('PT1H27M', 'PT0M', 'PT1H')
    """
    hours, rest = divmod(round(minutes), 60)
    return f"PT{f'{hours}H' if hours else ''}{f'{rest}M' if rest or not hours else ''}"


def _how_to_steps(frame: Frame, way: Sequence[SheetStep], path: str) -> Iterator[Document]:
    """Tell each step, with its cautions: whole the first time, after that in short."""
    known = set[str]()
    for position, step in enumerate(way, start=1):
        cautions = [in_short(each) if each in known else each for each in step.cautions]
        known |= set(step.cautions)
        yield _how_to_step(frame, step, path, position, [f"Caution: {each}" for each in cautions])


def _how_to_step(
    frame: Frame, step: SheetStep, path: str, position: int, cautions: Sequence[str]
) -> Document:
    likely = max(step.onward, key=lambda to: to.chance, default=None)
    result = [] if likely is None else [f"Most likely: {likely.result} ({share(likely.chance)})."]
    lines = [*step.first, step.standing, *cautions, step.how, step.retest, *result]
    text = " ".join(line for line in lines if line)
    return {
        "@type": "HowToStep",
        "position": position,
        "name": step.title,
        "text": text or step.title,
        "url": _address(frame, path, f"{path}#step-{step.number}"),
    }


def _rights(book: Book) -> Document:
    licence = licence_page(book.licence) or book.licence
    people = [_person(person) for person in book.people.values()]
    return {**({"license": licence} if licence else {}), **({"creator": people} if people else {})}


def _person(person: Person) -> Document:
    orcid = {"sameAs": f"https://orcid.org/{person.orcid}"} if person.orcid else {}
    return {"@type": "Person", "name": person.title, **orcid}


def _address(frame: Frame, here: str, there: str) -> str:
    """Return a file's address, or where there is none the way that leads to it."""
    if not frame.base:
        return leading(here, there)
    path, mark, place = there.partition("#")
    return absolute(frame.base, path) + mark + place
