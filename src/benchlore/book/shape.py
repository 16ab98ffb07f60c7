"""What a fault book's text may hold: the shape that is checked first, and that editors are told.

Each description is written for the person who writes the book; ``json_schema`` shows it beside the field.
"""

from typing import Annotated, Any, Final, TypeAlias

from pydantic import Field

from benchlore.book.fields import (
    CurrentText,
    FileName,
    FromRecord,
    Gates,
    HazardText,
    MeasureText,
    Orcid,
    Place,
    Shown,
    VoltageText,
)
from benchlore.notation.scalars import (
    SCALAR,
    ChanceText,
    Currency,
    FilledText,
    FilledTexts,
    Minutes,
    MoneyText,
    Name,
    Names,
    Number,
    Positive,
    Shorthand,
    Text,
    as_list,
    described,
)
from benchlore.notation.shapes import Shape, schema_of

FORMAT: Final = "1"

Hazards: TypeAlias = Annotated[tuple[HazardText, ...], Shorthand(as_list, {"type": "string"})]


def _also(kind: str) -> Any:
    return Field((), description=f"Other names that shops write for this {kind}, in any language.")


class BoardShape(Shape):
    """The board that the book is about."""

    name: FilledText = Field(description="The board's name.", examples=["Halden T4 main board"])
    device: FilledText = Field(description="The device it sits in.", examples=["Halden T4 warehouse tablet"])
    revision: Text = Field("", description="The board's revision, as printed on it.", examples=["B"])


class PersonShape(Shape):
    """Somebody whose knowledge stands in the book and who is credited for it."""

    name: FilledText = Field(description="The name to credit.", examples=["Ines Okafor"])
    roles: FilledTexts = Field(
        (), description="What they did: roles of CRediT, or short: measuring, writing, pictures, checking."
    )
    orcid: Orcid | None = Field(None, description="Their ORCID identifier, if they have one.")


class WorkShape(Shape):
    """What work asks of the bench."""

    takes: Minutes = Field(description="Hands-on time.", examples=["6 min"])
    waits: Minutes = Field(0.0, description="Time in which the technician is free for other work.")
    needs: Names = Field((), description="Setups of this book, instruments and skills that it needs.")
    ruins: ChanceText | None = Field(None, description="How often it ruins the board.", examples=["0.5 %"])
    cautions: Hazards = Field((), description="Hazards of this work; the caution is printed beside it.")


class SetupShape(WorkShape):
    """A bench state that checks and fixes need. It costs its time once and then holds."""

    title: Text = Field("", description="What people call it; without one, its name is shown.")
    how: Text = Field("", description="How to make it.")
    after: Names = Field((), description="Setups that must stand before this one.")


class ConditionShape(Shape):
    """The hidden state of one place on the board."""

    title: Text = Field("", description="What people call it; without one, its name is shown.")
    at: FilledText = Field(description="Where it is found or measured.", examples=['"VSYS, pad of C1201"'])
    states: Names = Field(
        description="What state it can be in; 'normal' where one of them is.", examples=["[normal, shorted]"]
    )
    by_chance: ChanceText | None = Field(
        None,
        description="How often it leaves its first state on boards whose fault does not cause that.",
        examples=["2 %"],
    )


class PictureShape(Shape):
    """A picture in the book's folder, and the place that it shows."""

    file: FileName = Field(description="The picture's file, beside the book.", examples=["board-top.svg"])
    at: Place | None = Field(None, description="The place: pixels from the left and from the top.")


def _picture(value: object) -> object:
    return {"file": value} if isinstance(value, str) else value


Picture: TypeAlias = Annotated[PictureShape, Shorthand(_picture, {"type": "string"})]
_GATES: Final = "Checks that come first: a list, or names with the state (or 'not' the state) they must show."


class CheckShape(WorkShape):
    """Something to look at, measure or try. It reads one condition."""

    title: Text = Field("", description="What people call it; without one, its name is shown.")
    reads: Name = Field(description="The condition that it reads.", examples=["vsys"])
    only_after: Gates = Field((), description=_GATES)
    how: FilledText = Field(
        description="How to do it, probe by probe.", examples=["Black lead on the shield."]
    )
    picture: Picture | None = Field(None, description="A picture of the place.")
    measures: MeasureText | None = Field(None, description="What is measured, where the outcome is a number.")
    results: Names = Field((), description="The possible outcomes, where they are no number.")
    shows: Shown = Field(
        description="What each state shows: a span, or how often it gives each result.",
        examples=["{normal: 3.3 V ± 3 %, shorted: below 0.2 V}"],
    )
    from_record: FromRecord = Field(
        default_factory=dict,
        description="Which result a restart record of each kind gives; 'others' are all that are not named.",
        examples=["{even: fixed, uneven: others}"],
    )
    also: FilledTexts = _also("check")


class PartShape(Shape):
    """The part that fails."""

    ref: Text = Field("", description="Its designator on the board.", examples=["L1204"])
    class_: Text = Field("", description="What kind of part it is.", examples=["inductor"])


class FaultShape(Shape):
    """A root cause at component level."""

    title: Text = Field("", description="What people call it; without one, its name is shown.")
    part: PartShape | None = Field(None, description="The part that fails.")
    causes: dict[Name, dict[Name, ChanceText]] = Field(
        default_factory=dict,
        description="For each condition, how often a board with this fault shows each state.",
        examples=["{vsys: {sagging: 85 %}}"],
    )
    about_every: Minutes | None = Field(
        None, description="Mean time between events, where it differs from the complaint's."
    )
    notes: Text = Field("", description="What else is worth knowing.")
    also: FilledTexts = _also("fault")


class SparePartShape(Shape):
    """A part that a fix uses up."""

    title: FilledText = Field(description="What to order.", examples=["Inductor 1 µH 2520"])
    price: MoneyText = Field(description="Its price in the book's currency.", examples=["0.90"])


class WireShape(Shape):
    """A jumper wire."""

    from_: FilledText = Field(description="Where it starts.", examples=["pad 2 of R1310"])
    to: FilledText = Field(description="Where it ends.", examples=["TP77"])
    carries: CurrentText = Field(description="The current it carries.", examples=["20 mA"])
    may_drop: VoltageText | None = Field(None, description="The voltage it may lose.", examples=["5 mV"])


class FixShape(WorkShape):
    """A repair action."""

    title: Text = Field("", description="What people call it; without one, its name is shown.")
    cures: dict[Name, ChanceText] = Field(
        description="How often it ends each fault that it can end.", examples=["{l1204-joint: 92 %}"]
    )
    only_after: Gates = Field((), description=_GATES)
    how: FilledText = Field(description="How to do it, step by step.", examples=["Flux, hot air 340 °C."])
    picture: Picture | None = Field(None, description="A picture of the place.")
    parts: tuple[SparePartShape, ...] = Field((), description="Parts that it uses up.")
    wire: WireShape | None = Field(None, description="The jumper that it lays.")
    also: FilledTexts = _also("fix")


class IntermittentShape(Shape):
    """A complaint that comes and goes."""

    about_every: Minutes = Field(description="Mean time between events.", examples=["25 min"])


def _intermittent(value: object) -> object:
    return {"about every": value} if isinstance(value, str) else value


Intermittent: TypeAlias = Annotated[IntermittentShape, Shorthand(_intermittent, SCALAR)]


class RetestShape(WorkShape):
    """Trying whether the complaint is still there."""

    how: Text = Field("", description="How to try it.")
    soak: Minutes | None = Field(None, description="How long to run a repaired board before it may go home.")


class SeenShape(Shape):
    """The writer's own last boards with this complaint."""

    boards: Number = Field(description="How many there were in all.", examples=["60"])
    faults: dict[Name, Number] = Field(
        default_factory=dict, description="How many had each fault; the rest stayed unexplained."
    )
    weight: Positive = Field(1.0, description="As how many recorded jobs one of these boards counts.")


class ComplaintShape(Shape):
    """What the customer says is wrong."""

    title: Text = Field("", description="The customer's words.", examples=["Restarts by itself"])
    intermittent: Intermittent | None = Field(None, description="Given where the complaint comes and goes.")
    retest: RetestShape = Field(description="The work of trying it again.", examples=["{takes: 3 min}"])
    worth: MoneyText | None = Field(None, description="What a finished repair is usually worth.")
    seen: SeenShape | None = Field(None, description="The writer's own last boards with this complaint.")
    also: FilledTexts = _also("complaint")


def _format(value: object) -> str:
    if value != FORMAT:
        raise ValueError(f"this reads format 1; write 'book: {FORMAT}'")
    return FORMAT


class BookShape(Shape):
    """A fault book: one board's knowledge in plain text."""

    book: Annotated[str, *described(_format, {"const": 1})] = Field(
        description="The format's version, 1.", examples=["1"]
    )
    board: BoardShape = Field(description="The board.", examples=["{name: Main board, device: Tablet}"])
    licence: FilledText = Field(description="The licence, an SPDX identifier.", examples=["CC-BY-SA-4.0"])
    currency: Currency | None = Field(None, description="The currency of the prices in this file.")
    people: dict[Name, PersonShape] = Field(default_factory=dict, description="The people to credit.")
    instruments: dict[Name, Text] = Field(
        default_factory=dict, description="Instruments that are not in the standard list, each with a line."
    )
    skills: dict[Name, Text] = Field(
        default_factory=dict, description="Skills that are not in the standard list, each with a line."
    )
    setups: dict[Name, SetupShape] = Field(default_factory=dict, description="Bench states.")
    conditions: dict[Name, ConditionShape] = Field(default_factory=dict, description="Hidden states.")
    checks: dict[Name, CheckShape] = Field(default_factory=dict, description="What can be looked at.")
    faults: dict[Name, FaultShape] = Field(description="Root causes.", examples=["…"])
    fixes: dict[Name, FixShape] = Field(default_factory=dict, description="Repair actions.")
    complaints: dict[Name, ComplaintShape] = Field(description="What customers say.", examples=["…"])


def json_schema() -> dict[str, Any]:
    """Return the shape as JSON Schema (draft 2020-12), for editors that complete and explain while typing."""
    return schema_of(BookShape, "Fault book")
