"""A quote in passages."""

from collections.abc import Iterator

from benchlore.library.advice_words import PARTS
from benchlore.library.passages import Passage, table_of
from benchlore.library.quoting import Quoted
from benchlore.money import QUANTILES, Decline, Offer
from benchlore.units import counted, decimal_amount, money, share

MOST_STOPS = 3
LEAST_MONEY = 0.005


def quote_passages(quoted: Quoted) -> tuple[Passage, ...]:
    """Tell a quote, what matters most first."""
    return (_prices(quoted), _decline(quoted), _costs(quoted), _parts(quoted), _rates(quoted))


def terms_name(offer: Offer, currency: str) -> str:
    """Name a way of charging."""
    return f"diagnostic fee {money(offer.fee, currency)}" if offer.fee else "no fix, no fee"


def _prices(quoted: Quoted) -> Passage:
    currency, first = quoted.shop.currency, quoted.offers[0]
    over = "a loss on a job" if first.jobs == 1 else f"a loss over {counted(first.jobs, 'job')}"
    rows = [
        (terms_name(each, currency), _up(each.break_even, currency), _up(each.price, currency))
        for each in quoted.offers
    ]
    table = table_of(("terms", "pays from", f"loss at most {share(first.target)} from"), rows, "<>>")
    return Passage("What to charge for a repair", tuple(_price_sentences(quoted, over)), table)


def _price_sentences(quoted: Quoted, over: str) -> Iterator[str]:
    currency = quoted.shop.currency
    for each in quoted.offers:
        name = terms_name(each, currency)
        yield (
            f"At {money(each.asked, currency)}, {name}: a job earns {money(each.margin, currency)} on "
            f"average; "
            f"{over} has a chance of {share(each.loss)}."
        )
        if each.price is None:
            yield (
                f"On these terms ({name}) no price keeps {over} at {share(each.target)}: devices that go "
                f"back unrepaired alone make it {share(each.least_loss)}."
            )
        elif each.margin_at_price is not None and each.price > each.asked:
            price, earned = _up(each.price, currency), money(each.margin_at_price, currency)
            yield f"Charged {price}, a job would earn {earned} on average."
    if quoted.offers[0].jobs > 1:
        yield "Chances over several jobs are drawn, with the seed that was given."


def _decline(quoted: Quoted) -> Passage:
    sentences = []
    for each, rule in zip(quoted.offers, quoted.declines, strict=True):
        name = terms_name(each, quoted.shop.currency)
        if rule is None:
            sentences.append("The procedure is too large to say where in a job to stop.")
            break
        sentences += list(_declined(rule, f"{money(each.asked, quoted.shop.currency)}, {name}", quoted))
    return Passage("When to decline", tuple(sentences))


def _declined(rule: Decline, terms: str, quoted: Quoted) -> Iterator[str]:
    currency = quoted.shop.currency
    if rule.declined:
        yield (
            f"At {terms}: decline. Even with the best stops a job loses {money(-rule.margin, currency)} "
            f"on average."
        )
        return
    if not rule.stops:
        yield f"At {terms}: take the job, and follow the procedure to its end."
        return
    named = [
        f"step {stop.step + 1} ({stop.action}; {share(stop.reach)} of jobs get there, going on would earn "
        f"{money(stop.margin, currency)})"
        for stop in sorted(rule.stops, key=lambda stop: -stop.reach)[:MOST_STOPS]
    ]
    more = f" and {len(rule.stops) - MOST_STOPS} more" if len(rule.stops) > MOST_STOPS else ""
    yield (
        f"At {terms}: take the job; a job earns {money(rule.margin, currency)} on average if it stops before "
        f"{', '.join(named)}{more}. What was spent by then does not count."
    )


def _costs(quoted: Quoted) -> Passage:
    costs, currency = quoted.costs, quoted.shop.currency
    how = "The distribution is exact: every way through the procedure counts with its chance."
    if costs.draws:
        how = (
            f"The procedure is too large to be counted out, so {counted(costs.draws, 'job')} were simulated, "
            f"with the seed that was given."
        )
    rows = [
        (f"{share(each)} of jobs cost at most", money(costs.quantile(each), currency)) for each in QUANTILES
    ]
    spread = (
        f"Mean {money(costs.mean, currency)}, standard deviation {money(costs.deviation, currency)}; "
        f"{share(costs.returned)} of devices go back unrepaired. {how}"
    )
    lost = (
        f"The procedure's expected cost of {money(costs.expected, currency)} is more than the mean: it "
        f"counts "
        f"{money(costs.forgone, currency)} for each return, a repair that is not sold. Nobody pays that out."
    )
    return Passage("What a job costs in cash", (spread, lost), table_of(("share", "cost"), rows, "<>"))


def _parts(quoted: Quoted) -> Passage:
    currency, steps = quoted.shop.currency, quoted.procedure.steps
    spent = {name: sum(step.reach * getattr(step.cost, name) for step in steps) for name in PARTS}
    rows = [
        (text, money(spent[name], currency), "lost, not paid" if name == "lost_worth" else "cash")
        for name, text in PARTS.items()
        if spent[name] >= LEAST_MONEY
    ]
    note = (
        "Risk of ruin and of a comeback are set aside for: the first at its average in every job that "
        "runs the "
        "risk, the second in full in those that come back."
    )
    return Passage("Where the money goes", (note,), table_of(("cost", "a job", "kind"), rows, "<><"))


def _rates(quoted: Quoted) -> Passage:
    currency = quoted.shop.currency
    rows = [
        (
            money(each.hour, currency),
            money(each.cost, currency),
            _up(each.break_even, currency),
            money(each.margin, currency),
        )
        for each in quoted.rates
    ]
    last = quoted.offers[-1]
    head = ("an hour costs", "a job costs", "pays from", f"earns at {money(last.asked, currency)}")
    sentence = f"The same procedure, {terms_name(last, currency)}; planned anew it could only cost less."
    return Passage("If the hour cost less or more", (sentence,), table_of(head, rows, ">>>>"))


def _up(price: float | None, currency: str) -> str:
    """Print a price that must cover something: never rounded down."""
    return "no price" if price is None else money(decimal_amount(price, currency, up=True), currency)
