"""What a shop file may hold. Descriptions are written for the person who fills it in."""

from typing import Annotated, Any, Final

from pydantic import Field

from benchlore.notation.scalars import Currency, FilledText, MoneyText, Name, Names, Positive, described
from benchlore.notation.shapes import Shape, schema_of

FORMAT: Final = "1"
OTHERWISE: Final = "otherwise"


def _format(value: object) -> str:
    if value != FORMAT:
        raise ValueError(f"this reads format 1; write 'shop: {FORMAT}'")
    return FORMAT


class ShopShape(Shape):
    """A shop: what its time costs, what it owns, what it can do."""

    shop: Annotated[str, *described(_format, {"const": 1})] = Field(
        description="The format's version, 1.", examples=["1"]
    )
    name: FilledText = Field(description="The shop's name.", examples=["Fennel Street Repairs"])
    currency: Currency = Field(description="The currency of all amounts in this file.", examples=["EUR"])
    hour: MoneyText = Field(description="What an hour of hands-on bench work costs.", examples=["48"])
    waiting_hour: MoneyText = Field(
        description="What an hour costs in which a board only runs, cools or soaks.", examples=["6"]
    )
    instruments: Names = Field((), description="Instruments that stand on the bench.")
    skills: Names = Field((), description="What the people at the bench can do.")
    worth: dict[Name, MoneyText] = Field(
        default_factory=dict,
        description="What a finished repair is worth, by board; 'otherwise' for all other boards.",
        examples=["{otherwise: 120}"],
    )
    diagnostic_fee: MoneyText | None = Field(None, description="Earned when a device goes back unrepaired.")
    comeback: MoneyText | None = Field(
        None, description="What it costs in all when a repaired device returns with the same complaint."
    )
    exchange: dict[Currency, Positive] = Field(
        default_factory=dict, description="What one unit of another currency costs in this one."
    )


def json_schema() -> dict[str, Any]:
    """Return the shape as JSON Schema (draft 2020-12), for editors that complete and explain while typing."""
    return schema_of(ShopShape, "Shop file")
