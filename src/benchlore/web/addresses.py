"""How a finished job is named in addresses and forms, whatever signs its shop and number have."""

from urllib.parse import quote, unquote

from benchlore.jobs import Identity


def job_path(shop: str, number: str) -> str:
    """Return a job's address."""
    return f"/jobs/{identity_text(shop, number)}"


def identity_text(shop: str, number: str) -> str:
    """Name a job in one word; :func:`identity_in` reads it."""
    return f"{quote(shop, safe='')}/{quote(number, safe='')}"


def identity_in(text: str) -> Identity | None:
    """Read the job that a text names, ``None`` if it names none."""
    shop, _, number = text.partition("/")
    return (unquote(shop), unquote(number)) if shop and number else None
