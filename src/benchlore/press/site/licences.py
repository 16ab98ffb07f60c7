"""Licences by their SPDX identifiers (SPDX License List), and where their texts stand."""

from benchlore.book import LICENCES


def licence_page(licence: str) -> str:
    """Return the address of a licence's page in the SPDX list; ``""`` for one that is not known here."""
    return f"https://spdx.org/licenses/{licence}.html" if licence in LICENCES else ""
