"""How long work says how far it is."""

from typing import Protocol


class Report(Protocol):
    """Called now and then by long work."""

    def __call__(self, stage: str, done: float, total: float, note: str = "") -> None:
        """Say that ``done`` of ``total`` (0: nobody knows) of ``stage`` is done; ``note`` adds words."""


def silent(stage: str, done: float, total: float, note: str = "") -> None:
    """Report nothing."""
