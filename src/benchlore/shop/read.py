"""From a shop file's text to its values, with everything that is wrong with it."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from benchlore.notation import Key, Positions, Problem, load_yaml, nearest, quoted
from benchlore.notation.document import Data
from benchlore.notation.equipment import STANDARD_INSTRUMENTS, STANDARD_SKILLS
from benchlore.notation.findings import Findings
from benchlore.notation.scalars import Money
from benchlore.notation.shapes import read_shape
from benchlore.shop.shape import FORMAT, OTHERWISE, ShopShape
from benchlore.shop.values import Shop

_UNKNOWN: Final = "XXX"
"""ISO 4217's code for no currency: stands in for one that could not be read."""

_STANDINS: Final = {"shop": FORMAT, "name": "?", "hour": "0", "waiting hour": "0"}


@dataclass(frozen=True, slots=True)
class ReadShop:
    """What reading a shop file gave: ``shop`` is ``None`` where any problem is an error."""

    shop: Shop | None
    problems: tuple[Problem, ...]
    positions: Positions


def read_shop(text: str, *, file: str = "shop.yaml", described: Collection[str] = ()) -> ReadShop:
    """Read a shop file; whatever the text is, the answer is a shop or problems.

    ``described`` are instruments and skills that books describe: a shop may name them like standard ones.
    """
    document = load_yaml(text, file)
    findings = Findings(document.positions, list(document.problems))
    shop = None
    if isinstance(document.data, dict):
        shop = _shop(_shape(document.data, findings), described, findings)
    elif not findings.problems:
        findings.error(
            (), "no-shop", "this is no shop file; it begins with 'shop: 1' and has names with values"
        )
    return ReadShop(None if findings.has_errors else shop, findings.in_order(), document.positions)


def _shape(data: dict[str, Data], findings: Findings) -> ShopShape:
    """Return the file's shape; what has mistakes is left out, so that they hide no others."""
    if (shape := read_shape(ShopShape, data, (), findings)) is not None:
        return shape
    wrong = {problem.key[0] for problem in findings.problems if problem.key}
    sound = {name: value for name, value in data.items() if name not in wrong and value is not None}
    return ShopShape.model_validate({**_STANDINS, "currency": _UNKNOWN, **sound})


def _shop(shape: ShopShape, described: Collection[str], findings: Findings) -> Shop:
    _check_currencies(shape, findings)
    instruments, skills = list(STANDARD_INSTRUMENTS), list(STANDARD_SKILLS)
    _check_known(shape.instruments, "instrument", [*instruments, *described], skills, findings)
    _check_known(shape.skills, "skill", [*skills, *described], instruments, findings)
    worth = {board: money.amount for board, money in shape.worth.items()}
    shop = Shop(
        name=shape.name,
        currency=shape.currency,
        hour=shape.hour.amount,
        waiting_hour=shape.waiting_hour.amount,
        instruments=frozenset(shape.instruments),
        skills=frozenset(shape.skills),
        worth={board: amount for board, amount in worth.items() if board != OTHERWISE},
        worth_otherwise=worth.get(OTHERWISE),
        diagnostic_fee=shape.diagnostic_fee.amount if shape.diagnostic_fee else 0.0,
        comeback=shape.comeback.amount if shape.comeback else None,
        exchange=dict(shape.exchange),
    )
    _check_fee(shop, findings)
    _check_comeback(shop, findings)
    return shop


def _check_currencies(shape: ShopShape, findings: Findings) -> None:
    """All amounts are in the shop's own currency; ``exchange`` is for the prices in books."""
    for key, money in _amounts(shape):
        if money.currency not in {None, shape.currency} and shape.currency != _UNKNOWN:
            message = f"amounts of this file are in {shape.currency}, not {money.currency}; convert it"
            findings.error(key, "currency", message)
    if shape.currency in shape.exchange:
        message = f"{shape.currency} is the shop's own currency; leave it out"
        findings.error(("exchange", shape.currency), "currency", message)


def _amounts(shape: ShopShape) -> Iterable[tuple[Key, Money]]:
    yield ("hour",), shape.hour
    yield ("waiting hour",), shape.waiting_hour
    yield from ((("worth", board), money) for board, money in shape.worth.items())
    if shape.diagnostic_fee:
        yield ("diagnostic fee",), shape.diagnostic_fee
    if shape.comeback:
        yield ("comeback",), shape.comeback


def _check_known(
    names: tuple[str, ...], kind: str, known: Sequence[str], other: Sequence[str], findings: Findings
) -> None:
    """Doubt names that nobody has described: they are right only if some book does."""
    for place, name in enumerate(names):
        key: Key = (f"{kind}s", place)
        if name in other:
            wrong = "an instrument" if kind == "skill" else "a skill"
            findings.error(key, "wrong-list", f"{quoted(name)} is {wrong}; move it to '{_other(kind)}'")
        elif name not in known:
            near = nearest(name, known)
            hint = (
                f"; did you mean {quoted(near)}?" if near else "; it counts only for books that describe it"
            )
            findings.warning(key, "unknown-name", f"no standard {kind} {quoted(name)}{hint}")


def _other(kind: str) -> str:
    return "instruments" if kind == "skill" else "skills"


def _worths(shop: Shop) -> Iterable[tuple[Key, float]]:
    yield from ((("worth", board), amount) for board, amount in shop.worth.items())
    if shop.worth_otherwise is not None:
        yield ("worth", OTHERWISE), shop.worth_otherwise


def _check_fee(shop: Shop, findings: Findings) -> None:
    for key, worth in _worths(shop):
        if shop.diagnostic_fee > worth:
            message = (
                f"the diagnostic fee of {shop.diagnostic_fee:g} is more than a finished repair at {worth:g}"
            )
            findings.warning(key, "fee-above-worth", f"{message}: returning every device would pay best")


def _check_comeback(shop: Shop, findings: Findings) -> None:
    """Refuse a comeback that costs less than returning the board, which loses its worth but for the fee."""
    worths = list(_worths(shop))
    if shop.comeback is None or not worths:
        return
    key, worth = max(worths, key=lambda each: each[1])
    least = worth - shop.diagnostic_fee
    if shop.comeback < least:
        message = (
            f"a comeback at {shop.comeback:g} costs less than returning the board unrepaired "
            f"({worth:g} − {shop.diagnostic_fee:g} = {least:g} for '{key[-1]}'), so that releasing bad "
            f"boards would pay; write at least {least:g}"
        )
        findings.error(("comeback",), "cheap-comeback", message)
