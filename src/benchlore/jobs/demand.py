"""What other people's repair events say of which devices come to a bench: a prior for demand, never a job."""

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True)
class DemandRecord:
    """One repair event from an open repair dataset; ``provider`` and ``id`` identify it.

    Texts are as the provider wrote them, empty where nothing was said. ``status`` is ``Fixed``,
    ``Repairable``, ``End of life`` or ``Unknown``; ``barrier`` says why an item at its end of life was not
    repaired; ``country`` is a three-letter code (ISO 3166-1 alpha-3). ``age`` is in years.
    """

    id: str
    provider: str
    country: str = ""
    partner_category: str = ""
    category: str = ""
    category_id: int | None = None
    brand: str = ""
    year: int | None = None
    age: float | None = None
    status: str = "Unknown"
    barrier: str = ""
    group: str = ""
    event_date: date | None = None
    problem: str = ""
