"""What a page's bench says: steps in the words of the sheet, sentences of advice, cautions, number lines.

A page brings the texts of its book; the script that all pages share brings the others.
"""

from collections.abc import Callable, Iterable
from typing import Any, Final

from markupsafe import Markup

from benchlore.book import CAUTIONS, Book, Check, Complaint, Fix, Work
from benchlore.jobs import UNLISTED, Outcome, Retest
from benchlore.library.advice_words import METHODS, MOST_ALIKE, PARTS, SAID
from benchlore.library.bench import UNCLEAR
from benchlore.library.sheet import (
    STANDING,
    hazards_of,
    minutes,
    parts_of_fix,
    retest_text,
    setup_sentence,
    wire_text,
    works_of,
)
from benchlore.model import Model
from benchlore.press.page_record import COLUMNS, mapping_text
from benchlore.press.place import Size, place_of
from benchlore.press.scale import scale_of
from benchlore.procedure import OVER_BUDGET, Instance
from benchlore.units import Measure, example_of, spellings_of

SCALE_WIDTH: Final = 340
"""A number line is drawn for a telephone; a wider window gives it no more."""

SHOP: Final = "{shop}"


def bench_texts(
    book: Book, model: Model, instance: Instance, size: Size, address: Callable[[str], str]
) -> dict[str, Any]:
    """Return the texts of one page, as data for :func:`json.dumps`; what is empty is left out.

    ``size`` tells the size of a picture of the book, ``address`` leads from the page to it. Cautions are
    places in the ``cautions`` of :func:`common_texts`, setups those in the model. A picture is its address,
    width and height; a place its picture, and where it names one its coordinates and the window around it.
    """
    complaint = book.complaints[model.complaint]
    setups = [each.name for each in model.setups]
    pictures, places = list[Any](), list[Any]()

    def entry(each: Check | Fix) -> dict[str, Any]:
        found: dict[str, Any] = {
            "how": each.how,
            "time": minutes(each.work),
            "cautions": _cautions(works_of(book, each, model.complaint)),
            "setups": [setups.index(name) for name in each.work.setups],
        }
        filled = {name: value for name, value in found.items() if value}
        if place := place_of(each, size):
            picture = _place_in(pictures, [address(place.file), place.width, place.height])
            where = [] if place.at is None else [*place.at, place.window]
            filled["place"] = _place_in(places, [picture, *where])
        return filled

    return {
        "says": complaint.title,
        "device": book.board.device,
        "board": book.board.title,
        "checks": {c.name: {**entry(book.checks[c.name]), **_scale(model, c.name)} for c in model.checks},
        "fixes": {f.name: {**entry(book.fixes[f.name]), **_fix(book, f.name)} for f in model.fixes},
        "setups": {each.name: setup_sentence(each) for each in book.setups.values()},
        "retest": {
            "how": complaint.retest_how,
            "cautions": _cautions([complaint.retest]),
            "after": _retests(complaint, instance),
        },
        "pictures": pictures,
        "places": places,
    }


def common_texts() -> dict[str, Any]:
    """Return the texts that are the same on every page: they come with the script."""
    return {
        "cautions": list(CAUTIONS.values()),
        "said": {**SAID, "standing": STANDING},
        "parts": PARTS,
        "methods": METHODS,
        "words": {
            "unclear": UNCLEAR,
            "over budget": OVER_BUDGET,
            "most alike": MOST_ALIKE,
            "unlisted": UNLISTED,
            "retests": list(Retest),
            "outcomes": [each for each in Outcome if each is not Outcome.OPEN],
        },
        "units": {
            measure.value: {"example": example_of(measure), **spellings_of(measure)} for measure in Measure
        },
        "record": {"columns": list(COLUMNS), "mapping": mapping_text(SHOP)},
    }


def _cautions(works: Iterable[Work]) -> list[int]:
    cautions = list(CAUTIONS)
    return [cautions.index(hazard) for hazard in hazards_of(works)]


def _place_in(known: list[Any], value: Any) -> int:
    """Give the place of a value among those that are known, and make it known."""
    if value not in known:
        known.append(value)
    return known.index(value)


def _scale(model: Model, name: str) -> dict[str, Any]:
    check = next(check for check in model.checks if check.name == name)
    scale = scale_of(check, model.conditions[check.condition].states)
    return {} if scale is None else {"scale": [scale.low, scale.high]}


def scale_drawings(model: Model) -> dict[str, Markup]:
    """Draw the number line of each numeric check, by the check's name."""
    found = {}
    for check in model.checks:
        scale = scale_of(check, model.conditions[check.condition].states)
        if scale is not None:
            found[check.name] = scale.svg(SCALE_WIDTH)
    return found


def _fix(book: Book, name: str) -> dict[str, Any]:
    fix = book.fixes[name]
    told = {"wire": wire_text(fix), "parts": list(parts_of_fix(fix, book.currency))}
    return {name: value for name, value in told.items() if value}


def _retests(complaint: Complaint, instance: Instance) -> dict[str, str]:
    """How to try the complaint again after each soak that a fix may have."""
    soaks = sorted({fix.soak for fix in instance.fixes})
    return {f"{soak:g}": retest_text(complaint, soak) for soak in soaks}
