"""What a page's bench says: steps in the words of the sheet, sentences of advice, cautions, number lines."""

from collections.abc import Callable, Iterable
from dataclasses import asdict
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
    """Return all texts, as data for :func:`json.dumps`.

    ``size`` tells the size of a picture of the book, ``address`` leads from the page to it. Cautions are
    places in ``cautions``.
    """
    complaint = book.complaints[model.complaint]
    cautions = list(CAUTIONS.values())

    def shown(works: Iterable[Work]) -> list[int]:
        return [cautions.index(CAUTIONS[hazard]) for hazard in hazards_of(works)]

    def entry(each: Check | Fix) -> dict[str, Any]:
        place = place_of(each, size)
        return {
            "how": each.how,
            "time": minutes(each.work),
            "cautions": shown(works_of(book, each, model.complaint)),
            "setups": list(each.work.setups),
            "place": place and {**asdict(place), "file": address(place.file), "window": _window(place)},
        }

    return {
        "says": complaint.title,
        "device": book.board.device,
        "board": book.board.title,
        "checks": {c.name: {**entry(book.checks[c.name]), **_scale(model, c.name)} for c in model.checks},
        "fixes": {f.name: {**entry(book.fixes[f.name]), **_fix(book, f.name)} for f in model.fixes},
        "setups": {each.name: setup_sentence(each) for each in book.setups.values()},
        "retest": {
            "how": complaint.retest_how,
            "cautions": shown([complaint.retest]),
            "after": _retests(complaint, instance),
        },
        "cautions": cautions,
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
            measure: {"example": example_of(Measure(measure)), **spellings_of(Measure(measure))}
            for measure in sorted(
                {c.densities.measure.value for c in model.checks if c.densities is not None}
            )
        },
        "record": {"columns": list(COLUMNS), "mapping": mapping_text(SHOP)},
    }


def _window(place: Any) -> str:
    return "" if place.at is None else str(place.window)


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
    return {
        "wire": wire_text(fix),
        "parts": list(parts_of_fix(fix, book.currency)),
    }


def _retests(complaint: Complaint, instance: Instance) -> dict[str, str]:
    """How to try the complaint again after each soak that a fix may have."""
    soaks = sorted({fix.soak for fix in instance.fixes})
    return {f"{soak:g}": retest_text(complaint, soak) for soak in soaks}
