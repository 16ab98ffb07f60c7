"""What each shop that sent records allows: ``records`` in ``library.yaml``, nothing by default."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from pydantic import Field

from benchlore.notation import Positions, Problem, quoted
from benchlore.notation.findings import Findings
from benchlore.notation.scalars import Text, one_of
from benchlore.notation.shapes import Shape, read_shape

_YES: Final = {"yes": True, "no": False}


@dataclass(frozen=True, slots=True)
class Allowed:
    """What a shop allows: its jobs to be given away, its ``name`` beside them (``""``: none), its texts."""

    publish: bool = False
    name: str = ""
    notes: bool = False


NOTHING: Final = Allowed()
NOBODY: Final[Mapping[str, Allowed]] = {}


class _AllowedShape(Shape):
    """What one shop allows."""

    publish: Text = Field("no", description="Whether its jobs may be given away, made anonymous: yes or no.")
    name: Text = Field("", description="The name under which it is credited; nameless where it is left out.")
    notes: Text = Field("no", description="Whether what the bench wrote freely goes along: yes or no.")


def read_allowed(data: object, positions: Positions) -> tuple[Mapping[str, Allowed], tuple[Problem, ...]]:
    """Read ``records``: shops' names, as the job store has them, with what they allow."""
    if data is None:
        return NOBODY, ()
    findings = Findings(positions, [])
    if not isinstance(data, dict):
        message = "shops with what they allow are expected, such as '{Fennel Street: {publish: yes}}'"
        findings.error(("records",), "bad-value", message)
        return NOBODY, findings.in_order()
    found: dict[str, Allowed] = {}
    for shop, said in data.items():
        shape = read_shape(_AllowedShape, said, ("records", shop), findings)
        if shape is not None:
            found[shop] = Allowed(
                _yes(shape.publish, ("records", shop, "publish"), findings),
                shape.name.strip(),
                _yes(shape.notes, ("records", shop, "notes"), findings),
            )
    names = [each.name for each in found.values() if each.publish and each.name]
    for name in sorted({name for name in names if names.count(name) > 1}):
        findings.error(
            ("records",), "name-twice", f"two shops are to be named {quoted(name)}; tell them apart"
        )
    return found, findings.in_order()


def _yes(text: str, key: tuple[str, ...], findings: Findings) -> bool:
    try:
        return _YES[one_of(_YES, "answer")(text)]
    except ValueError as error:
        findings.error(key, "bad-value", str(error))
        return False


def public_names(allowed: Mapping[str, Allowed]) -> Mapping[str, str]:
    """Name the shops whose jobs may be published: as they wish, or ``shop-1``, ``shop-2``, ….

    Numbers follow the order of the names, so that names given once are given again.
    """
    named = {shop: each.name for shop, each in allowed.items() if each.publish and each.name}
    free = (name for number in range(1, 10**6) if (name := f"shop-{number:03}") not in named.values())
    nameless = sorted(shop for shop, each in allowed.items() if each.publish and not each.name)
    return named | {shop: next(free) for shop in nameless}
