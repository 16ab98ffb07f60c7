"""What a procedure has to do without, in a few lines."""

from benchlore.cli.text import wrapped
from benchlore.library import Planned
from benchlore.procedure import BandLoss, band_losses, cannot_do
from benchlore.units import share

MOST_NAMED = 3
LEAST_LOST = 0.02
"""Share of a number's information below which its loss is not worth a word."""


def lines(planned: Planned) -> list[str]:
    """Say what this shop cannot do and what it would need, and what reading bands for numbers loses."""
    return [*_lacking(planned), *_lost(band_losses(planned.model, planned.procedure))]


def _lacking(planned: Planned) -> list[str]:
    left_out = cannot_do(planned.model, planned.shop)
    if not left_out:
        return []
    lines = [f"Left out, because {planned.shop.name} cannot do it:"]
    for reason, names in left_out.items():
        lines += wrapped(f"{', '.join(names)}: {reason}", indent=2, hang=2)
    return lines


def _lost(losses: tuple[BandLoss, ...]) -> list[str]:
    taken = sum(loss.taken for loss in losses)
    if not taken:
        return []
    overall = sum(loss.taken * loss.lost for loss in losses) / taken
    worst = [f"{loss.check} {share(loss.lost)}" for loss in losses[:MOST_NAMED] if loss.lost >= LEAST_LOST]
    most = f" (most: {', '.join(worst)})" if worst else ""
    return wrapped(
        f"Its bands lose {share(overall)} of what the numbers say{most}; 'benchlore next' takes the number."
    )
