"""Days that are typed on the command line."""

from datetime import date, datetime

import typer


def day_of(text: str) -> date:
    """Read a day such as 2026-11-28, or say how one is written."""
    try:
        return datetime.strptime(text.strip(), "%Y-%m-%d").date()  # noqa: DTZ007  a day has no time zone
    except ValueError:
        raise typer.BadParameter(f"'{text}' is no day; write a day such as 2026-11-28") from None
