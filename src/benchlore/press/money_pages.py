"""Pages about money: what the terminal tells, with pictures."""

from benchlore.library import (
    Funded,
    ImpactReport,
    LearningCurve,
    Quoted,
    fund_passages,
    impact_passages,
    learning_passages,
    quote_passages,
)
from benchlore.press.coverage import draw_coverage
from benchlore.press.cumulative import draw_cumulative
from benchlore.press.drawing import Picture
from benchlore.press.learning import draw_learning
from benchlore.press.page import ReportPage, report_html
from benchlore.press.proof_page import section_of
from benchlore.press.values import Covered, Mark
from benchlore.units import money


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
        marks.append(Mark("pays on average from", last.break_even))
    if last.price is not None:
        marks.append(Mark("keeps the chance of a loss from", last.price))
    points = list(zip(costs.cost.tolist(), costs.sums.tolist(), strict=True))
    return draw_cumulative(points, marks, unit=quoted.shop.currency, title="What a job costs in cash")


def fund_html(funded: Funded, currency: str) -> str:
    """Set a fund plan as one HTML file with everything in it."""
    pictures = {"Benefit against budget": fund_picture(funded, currency)}
    return report_html(
        ReportPage(
            title="What to fund",
            lead="Which research brings the shops most for the money, how sure that is, and what to offer.",
            sections=tuple(
                section_of(passage, pictures.get(passage.heading))
                for passage in fund_passages(funded, currency)
            ),
            facts=(
                ("Budget", money(funded.terms.budget, currency)),
                ("Candidates", str(len(funded.candidates))),
            ),
        )
    )


def fund_picture(funded: Funded, currency: str) -> Picture:
    """Draw the share of all that can be had against the budget."""
    most = max((each.benefit for each in funded.curve), default=0.0)
    points = [(each.cost, each.benefit / most) for each in funded.curve] if most > 0 else []
    marks = [Mark("the budget", funded.terms.budget)]
    return draw_cumulative(points, marks, unit=currency, title="Share of the benefit to be had for a budget")


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
