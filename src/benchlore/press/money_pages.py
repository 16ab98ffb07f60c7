"""Pages about money: what the terminal tells, with pictures."""

from typing import Final

from benchlore.library import (
    Funded,
    ImpactReport,
    InstrumentValues,
    LearningCurve,
    Quoted,
    Researched,
    equipment_name,
    fund_passages,
    impact_passages,
    learning_passages,
    quote_passages,
    researched_passages,
)
from benchlore.press.coverage import draw_coverage
from benchlore.press.cumulative import draw_cumulative
from benchlore.press.drawing import Picture
from benchlore.press.figures import draw_figures
from benchlore.press.learning import draw_learning
from benchlore.press.page import ReportPage, Section, report_html
from benchlore.press.proof_page import section_of
from benchlore.press.values import Covered, Figure, Mark
from benchlore.proof.estimate import Estimate, proportion
from benchlore.units import counted, decimal_amount, money

MOST_BARS: Final = 40


def quote_html(quoted: Quoted) -> str:
    """Set a quote as one HTML file with everything in it, fit to be printed."""
    return report_html(quote_page(quoted))


def quote_page(quoted: Quoted) -> ReportPage:
    """What the page of a quote shows."""
    passages = quote_passages(quoted)
    pictures = {"What a job costs in cash": quote_picture(quoted)}
    title = quoted.book.complaints[quoted.procedure.complaint].title
    return ReportPage(
        title=f"{title}: what to charge",
        lead=(
            f"For {quoted.book.board.title} at {quoted.shop.name}: what a job costs that follows the "
            f"procedure, "
            f"and the prices that cover it."
        ),
        sections=tuple(section_of(passage, pictures.get(passage.heading)) for passage in passages),
        facts=(
            ("Board", quoted.book.board.title),
            ("Complaint", title),
            ("Shop", quoted.shop.name),
            ("An hour costs", money(quoted.shop.hour, quoted.shop.currency)),
            ("Learned from", f"{quoted.jobs:,} recorded jobs"),
            *((("Changed since it was planned", ", ".join(quoted.stale)),) if quoted.stale else ()),
        ),
    )


def quote_picture(quoted: Quoted) -> Picture:
    """Draw what a job costs, with the asked price and those that pay."""
    costs, last = quoted.costs, quoted.offers[-1]
    marks = [Mark("asked for a repair", last.asked)]
    if last.break_even is not None:
        marks.append(Mark("pays on average from", _covering(last.break_even, quoted.shop.currency)))
    if last.price is not None:
        marks.append(Mark("keeps the chance of a loss from", _covering(last.price, quoted.shop.currency)))
    points = list(zip(costs.cost.tolist(), costs.sums.tolist(), strict=True))
    return draw_cumulative(points, marks, unit=quoted.shop.currency, title="What a job costs in cash")


def _covering(price: float, currency: str) -> float:
    """A price that covers something, as it is printed: never rounded down."""
    return float(decimal_amount(price, currency, up=True))


def fund_html(funded: Funded, currency: str) -> str:
    """Set a fund plan as one HTML file with everything in it."""
    return report_html(fund_page(funded, currency))


def fund_page(funded: Funded, currency: str) -> ReportPage:
    """What the page of a fund plan shows."""
    pictures = {
        "What to fund": often_picture(funded),
        "Benefit against budget": fund_picture(funded, currency),
    }
    return ReportPage(
        title="What to fund",
        lead="Which research brings the shops most for the money, how sure that is, and what to offer.",
        sections=tuple(
            section_of(passage, pictures.get(passage.heading)) for passage in fund_passages(funded, currency)
        ),
        facts=(
            ("Budget", money(funded.terms.budget, currency)),
            ("Candidates", str(len(funded.candidates))),
        ),
    )


def research_sections(researched: Researched) -> tuple[Section, ...]:
    """What a page says of whether research pays."""
    pictures = {"Year by year": chances_picture(researched)} if researched.chances else {}
    return tuple(
        section_of(passage, pictures.get(passage.heading)) for passage in researched_passages(researched)
    )


def chances_picture(researched: Researched) -> Picture:
    """Draw the chance that research pays against the number of shops that use it."""
    points = [(float(shops), chance) for shops, chance in researched.chances]
    least = researched.verdict.least_shops
    return draw_cumulative(
        points,
        () if least is None else [Mark("pays on average from", float(least))],
        unit="shops",
        title="Chance that it pays, by shops that use the book",
        height="chance that it pays",
        told="is the chance from",
        written=lambda at: counted(round(at), "shop"),
    )


def equipment_picture(values: InstrumentValues) -> Picture | None:
    """Draw what equipment would save in a year; ``None`` where nothing saves anything."""
    shown = [*values.single[: MOST_BARS - 1], *([values.everything] if values.everything else [])]
    if not any(round(each.yearly.saved, 2) > 0 for each in shown):
        return None
    figures = [
        Figure(equipment_name(each, values), Estimate(each.yearly.saved, each.yearly.low, each.yearly.high))
        for each in shown
    ]
    title = "Saved in a year, with what it is nine times in ten"
    return draw_figures(figures, unit=values.shop.currency, title=title, mark="bar", sure=0.9)


def often_picture(funded: Funded) -> Picture:
    """Draw how often each candidate is chosen when demand and hours are drawn again, the most often first."""
    counts = max(1, funded.terms.draws - funded.conflicts)
    ranked = sorted(zip(funded.candidates, funded.often, strict=True), key=lambda pair: -pair[1])
    shown = []
    for each, often in ranked[:MOST_BARS]:
        share = proportion(round(often * counts), counts)
        shown.append(Figure(each.name, Estimate(100 * share.value, 100 * share.low, 100 * share.high)))
    title = f"How often each is chosen, of {counted(funded.terms.draws, 'draw')}"
    return draw_figures(shown, unit="%", title=title, mark="bar", digits=0)


def fund_picture(funded: Funded, currency: str) -> Picture:
    """Draw the share of all that can be had against the budget."""
    most = max((each.benefit for each in funded.curve), default=0.0)
    points = [(each.cost, each.benefit / most) for each in funded.curve] if most > 0 else []
    marks = [Mark("the budget", funded.terms.budget)]
    return draw_cumulative(
        points,
        marks,
        unit=currency,
        title="Share of the benefit to be had for a budget",
        height="share of all that could be had",
        told="of the benefit are had from",
    )


def impact_html(report: ImpactReport) -> str:
    """Set what books have brought as one HTML file, a page to print for who pays."""
    return report_html(
        ReportPage(
            title="What the books have brought",
            lead="Boards repaired instead of given up, bench hours and money, with what is not known yet.",
            sections=tuple(section_of(passage, None) for passage in impact_passages(report)),
            facts=(
                ("Boards", ", ".join(report.boards)),
                ("Shop", report.shop),
                ("Led jobs", "all" if report.since is None else f"opened since {report.since.isoformat()}"),
            ),
        )
    )


def learning_html(curve: LearningCurve) -> str:
    """Set a learning curve as one HTML file with everything in it."""
    coverage, cost = learning_pictures(curve)
    stop, along, assumed = learning_passages(curve)
    own = "own jobs" if curve.source == "own" else "jobs on like boards"
    return report_html(
        ReportPage(
            title=f"{curve.title}: when to stop",
            lead=f"{curve.device}: what each board examined adds to what is known, from {own}.",
            sections=(section_of(stop, cost), section_of(along, coverage), section_of(assumed, None)),
            facts=(
                ("Boards so far", str(curve.boards)),
                ("Shop", curve.shop.name),
                ("An hour costs", money(curve.rate, curve.shop.currency)),
            ),
        )
    )


def learning_pictures(curve: LearningCurve) -> tuple[Picture, Picture]:
    """Draw coverage against boards, and the cost of a job against hours."""
    coverage = draw_coverage(
        [Covered(point.boards, point.coverage) for point in curve.points if point.boards],
        present=curve.boards,
    )
    stop = curve.at(curve.stop.place).hours if curve.stop.place else None
    points = [(point.hours, point.cost, point.expected) for point in curve.points]
    return coverage, draw_learning(points, stop=stop, currency=curve.shop.currency)
