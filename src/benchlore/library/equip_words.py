"""What equipment is worth, in passages."""

from collections.abc import Iterator

from benchlore.library.equipping import LEAST, EquipmentValue, InstrumentValues
from benchlore.library.passages import Passage, table_of
from benchlore.units import counted, money, share

MOST_TOGETHER = 10


def equip_passages(values: InstrumentValues) -> tuple[Passage, ...]:
    """Tell what equipment would save, what pays, what pays only together."""
    return tuple(
        passage
        for passage in (_saving(values), _buying(values), _together(values), _mix(values), _assumed(values))
        if passage.sentences or passage.table
    )


def _saving(values: InstrumentValues) -> Passage:
    heading, currency = "What it would save in a year", values.shop.currency
    if not values.single:
        said = (
            "The shop lacks nothing that a check or fix of these complaints needs: no purchase saves a cent."
        )
        return Passage(heading, (said, *_passed_over(values)))
    shown = [*values.single, *([values.everything] if values.everything else [])]
    rows = [
        (
            equipment_name(value, values),
            money(value.yearly.saved, currency),
            f"{value.yearly.low:,.0f} to {value.yearly.high:,.0f} {currency}",
            proven_said(value, currency),
        )
        for value in shown
    ]
    return Passage(
        heading,
        tuple(_read(values)),
        table_of(("equipment", "saved", "nine times in ten", "proven"), rows, "<>><"),
    )


def _read(values: InstrumentValues) -> Iterator[str]:
    yield (
        "What the procedures cost now less what they cost with it, times the jobs of a year. The range is "
        "from demand alone."
    )
    if any(not value.is_proven for value in values.single):
        yield (
            "'Not proven': the saving lies within the planner's gap, so that better procedures might show "
            "none; 'benchlore equip --effort thorough' narrows the gap."
        )
    yield from _passed_over(values)


def _passed_over(values: InstrumentValues) -> Iterator[str]:
    """Name what the table of prices holds and nobody has to buy."""
    if values.needless:
        yield f"No check or fix of these complaints needs, so saving nothing: {', '.join(values.needless)}."
    if values.owned:
        yield f"In the table, but the shop has it: {', '.join(values.owned)}."


def equipment_name(value: EquipmentValue, values: InstrumentValues) -> str:
    """Name equipment; all of it together by its number."""
    if values.everything is not None and value is values.everything:
        return f"all {len(value.names)} together"
    if len(value.names) == 1 and values.is_skill(value.names[0]):
        return f"{value.names[0]} (skill)"
    return ", ".join(value.names)


def proven_said(value: EquipmentValue, currency: str) -> str:
    """Say how much of a saving is proven."""
    if value.is_exact:
        return "exactly"
    if value.least > LEAST:
        return f"at least {money(value.least, currency)}"
    return f"not; at most {money(value.most, currency)}"


def _buying(values: InstrumentValues) -> Passage:
    currency = values.shop.currency
    shown = [*values.single, *([values.everything] if values.everything else [])]
    rows = [
        (
            equipment_name(value, values),
            money(value.price or 0.0, currency),
            str(value.years),
            "never" if value.bought.payback is None else f"{value.bought.payback:,.1f} years",
            money(value.bought.value, currency),
            f"{value.bought.low:,.0f} to {value.bought.high:,.0f}",
            share(value.bought.chance),
        )
        for value in shown
        if value.bought is not None
    ]
    if not rows:
        return Passage("Does it pay")
    head = ("equipment", "price", "life", "back in", "value", "nine times in ten", "pays")
    told = (
        f"Value: savings over its life, discounted by {share(values.terms.discount)} a year, less the price. "
        "'Back in' is not discounted. 'Pays' is the chance that the value is not negative."
    )
    best = max((v for v in values.single if v.bought), key=lambda v: v.bought.value if v.bought else 0.0)
    return Passage("Does it pay", tuple(_advice(best, values, told)), table_of(head, rows, "<>>>>>>"))


def _advice(best: EquipmentValue, values: InstrumentValues, told: str) -> Iterator[str]:
    assert best.bought is not None
    if best.bought.pays:
        yield f"Buy first: {equipment_name(best, values)}."
    else:
        most = money(best.bought.most, values.shop.currency)
        yield f"None pays by itself; {equipment_name(best, values)} would at {most} or less."
    yield told


def _together(values: InstrumentValues) -> Passage:
    currency = values.shop.currency
    alone = {value.names[0]: value.yearly.saved for value in values.single}
    shown = list(values.together[:MOST_TOGETHER])
    if values.best_two is not None and values.best_two not in shown:
        shown.append(values.best_two)
    rows = [
        (
            equipment_name(value, values),
            money(value.yearly.saved, currency),
            money(sum(alone[name] for name in value.names), currency),
            "" if value.bought is None else money(value.bought.value, currency),
        )
        for value in shown
        if value.yearly.saved > LEAST
    ]
    if not rows:
        return Passage("Several at once")
    sentences = []
    if values.best_two is not None and values.best_two.yearly.saved > LEAST:
        sentences.append(f"The best two are {equipment_name(values.best_two, values)}.")
    if values.together:
        sentences.append(f"{counted(len(values.together), 'set')} save more together than one by one.")
    else:
        sentences.append("Nothing saves more together than one by one.")
    head = ("equipment", "saved a year", "one by one", "value")
    return Passage("Several at once", tuple(sentences), table_of(head, rows, "<>>>"))


def _mix(values: InstrumentValues) -> Passage:
    currency = values.shop.currency
    whole = values.everything or (values.single[0] if values.single else None)
    rows = [
        (
            f"{row.board}, {row.complaint}",
            f"{row.demand.mean:,.1f}",
            *(money(amount, currency) for amount in _now_and_then(whole, k)),
        )
        for k, row in enumerate(values.mix)
    ]
    sources = "; ".join(f"{row.board}, {row.complaint}: {row.source}" for row in values.mix)
    left_out = [f"Left out: {each.what}: {each.why}" for each in values.left_out]
    costs = () if whole is None else ("a job costs now", "with all of it")
    table = table_of(("complaint", "jobs a year", *costs), rows, "<>" + ">" * len(costs))
    return Passage("The shop's year", (f"Jobs from: {sources}.", *left_out), table)


def _now_and_then(whole: EquipmentValue | None, place: int) -> tuple[float, ...]:
    """What a job of a complaint costs now and with all equipment; nothing where none is lacking."""
    return () if whole is None else (whole.saved[place].now, whole.saved[place].then)


def _assumed(values: InstrumentValues) -> Passage:
    return Passage(
        "What this takes for granted",
        (
            (
                "Faults and readings are as the models say, and jobs as many as recorded or given. Time to "
                "learn an instrument, its upkeep, and what else it is good for are not counted; nor is a "
                "customer who comes because more can be repaired."
            ),
            (
                f"Of {counted(values.asked, 'plan')} asked for, {values.planned} had to be made; bounds "
                f"answered the rest."
            ),
        ),
    )
