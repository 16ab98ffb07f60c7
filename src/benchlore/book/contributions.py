"""What people did for a piece of knowledge: the 14 contributor roles of CRediT.

Source: ANSI/NISO Z39.104-2022, CRediT, Contributor Roles Taxonomy. Books may write a role in the standard's
words or in a short word of the bench; both mean the same role.
"""

from types import MappingProxyType
from typing import Final

ROLES: Final = (
    "Conceptualization",
    "Data curation",
    "Formal analysis",
    "Funding acquisition",
    "Investigation",
    "Methodology",
    "Project administration",
    "Resources",
    "Software",
    "Supervision",
    "Validation",
    "Visualization",
    "Writing – original draft",
    "Writing – review & editing",
)
"""The roles, in the standard's order and spelling."""

SHORT: Final = MappingProxyType(
    {
        "idea": "Conceptualization",
        "records": "Data curation",
        "analysis": "Formal analysis",
        "funding": "Funding acquisition",
        "measuring": "Investigation",
        "method": "Methodology",
        "coordination": "Project administration",
        "boards": "Resources",
        "program": "Software",
        "guidance": "Supervision",
        "checking": "Validation",
        "drawing": "Visualization",
        "pictures": "Visualization",
        "writing": "Writing – original draft",
        "review": "Writing – review & editing",
        "editing": "Writing – review & editing",
    }
)
"""Short words that books use, and the role that each means."""


def credit_role(text: str) -> str | None:
    """Return the role that a text means; ``None`` where it means none.

    >>> credit_role("writing - review & editing")
    'Writing – review & editing'
    >>> credit_role("pictures")
    'Visualization'
    """
    return _KNOWN.get(_plain(text))


def role_address(role: str) -> str:
    """Return the address of a role in the standard's register (credit.niso.org).

    >>> role_address("Writing – original draft")
    'https://credit.niso.org/contributor-roles/writing-original-draft/'
    """
    words = "".join(letter if letter.isalpha() else " " for letter in role.casefold()).split()
    return f"https://credit.niso.org/contributor-roles/{'-'.join(words)}/"


def _plain(text: str) -> str:
    """Compare roles without regard to case, to dashes and to 'and' for '&'."""
    dashed = text.casefold().replace("—", "–").replace("-", "–").replace("&", "and")
    return " ".join(dashed.replace("–", " ").split())


_KNOWN: Final = {_plain(role): role for role in ROLES} | {_plain(word): role for word, role in SHORT.items()}
