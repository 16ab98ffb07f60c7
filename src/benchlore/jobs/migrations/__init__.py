"""The versions of the job store's tables, oldest first, and the way from each to the next.

A version never changes once it has been released; a new one is a new module in ``versions`` and a new name in
``REVISIONS``. This module imports nothing, so that a store which is up to date opens without Alembic.
"""

from typing import Final

REVISIONS: Final = ("0001", "0002", "0003", "0004")
"""All versions that this benchlore knows; a test compares them with the modules."""

HEAD: Final = REVISIONS[-1]

VERSION_TABLE: Final = "benchlore_version"
"""A name of our own: a PostgreSQL database may hold another program's ``alembic_version``."""
