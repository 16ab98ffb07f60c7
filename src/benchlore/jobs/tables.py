"""The tables of the job store. ``migrations`` builds them; a test sees to it that the two agree."""

from datetime import UTC, datetime
from typing import Any, Final

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    Date,
    DateTime,
    Dialect,
    Double,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    Table,
    Text,
    TypeDecorator,
    UniqueConstraint,
)

NAMING: Final = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s",
    "pk": "pk_%(table_name)s",
}
"""Names of constraints: a migration can only change what has a name."""


class UtcDateTime(TypeDecorator[datetime]):
    """A moment, kept in UTC; both databases then keep the same, and neither has a time zone of its own."""

    impl = DateTime
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002
        """Convert to UTC; a moment without a time zone is a mistake in the program."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"{value!r} has no time zone; a moment needs one")
        return value.astimezone(UTC).replace(tzinfo=None)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002
        """Say that it is UTC."""
        return None if value is None else value.replace(tzinfo=UTC)


def _text() -> Any:
    """Make the type of texts, sorted by code point: an order must not depend on a server's locale."""
    return Text().with_variant(Text(collation="C"), "postgresql")


def _whole() -> Any:
    """Make the type of whole numbers of 64 bits; SQLite's row number must be called INTEGER."""
    return BigInteger().with_variant(Integer(), "sqlite")


metadata: Final = MetaData(naming_convention=NAMING)

meta: Final = Table(
    "meta",
    metadata,
    Column("name", _text(), primary_key=True),
    Column("value", _text(), nullable=False),
)

job: Final = Table(
    "job",
    metadata,
    Column("id", _whole(), primary_key=True, autoincrement=False),
    Column("shop", _text(), nullable=False),
    Column("number", _text(), nullable=False),
    Column("board", _text(), nullable=False),
    Column("complaint", _text(), nullable=False),
    Column("opened", Date),
    Column("outcome", _text(), nullable=False),
    Column("fault", _text()),
    Column("fault_text", _text(), nullable=False),
    Column("hands_on", Double),
    Column("waiting", Double),
    Column("comeback", Boolean),
    Column("technician", _text(), nullable=False),
    Column("notes", _text(), nullable=False),
    Column("extra", _text(), nullable=False),
    UniqueConstraint("shop", "number"),
    Index(None, "board", "complaint"),
)

# The two below are kept in the order of their key, so that a job's rows lie together.
reading: Final = Table(
    "reading",
    metadata,
    Column("job_id", _whole(), ForeignKey("job.id", ondelete="CASCADE"), primary_key=True),
    Column("position", Integer, primary_key=True, autoincrement=False),
    Column("check_name", _text(), nullable=False),
    Column("step", _whole(), nullable=False),
    Column("result", _text()),
    Column("value", Double),
    Column("text", _text(), nullable=False),
    sqlite_with_rowid=False,
)

attempt: Final = Table(
    "attempt",
    metadata,
    Column("job_id", _whole(), ForeignKey("job.id", ondelete="CASCADE"), primary_key=True),
    Column("position", Integer, primary_key=True, autoincrement=False),
    Column("fix_name", _text(), nullable=False),
    Column("step", _whole(), nullable=False),
    Column("retest", _text(), nullable=False),
    Column("soaked", Double),
    sqlite_with_rowid=False,
)

intake: Final = Table(
    "intake",
    metadata,
    Column("id", _whole(), primary_key=True, autoincrement=False),
    Column("file", _text(), nullable=False),
    Column("sha256", _text(), nullable=False, index=True),
    Column("taken", UtcDateTime, nullable=False),
    Column("mapping", _text(), nullable=False),
    Column("rows_read", Integer, nullable=False),
    Column("rows_refused", Integer, nullable=False),
    Column("jobs_new", Integer, nullable=False),
    Column("jobs_same", Integer, nullable=False),
    Column("jobs_merged", Integer, nullable=False),
    Column("jobs_conflicting", Integer, nullable=False),
)

source: Final = Table(
    "source",
    metadata,
    Column("job_id", _whole(), ForeignKey("job.id", ondelete="CASCADE"), primary_key=True),
    Column("intake_id", _whole(), ForeignKey("intake.id", ondelete="CASCADE"), primary_key=True),
    Column("sheet", _text()),
    Column("sheet_row", Integer),
    sqlite_with_rowid=False,
)

demand: Final = Table(
    "demand",
    metadata,
    Column("provider", _text(), primary_key=True),
    Column("id", _text(), primary_key=True),
    Column("country", _text(), nullable=False),
    Column("partner_category", _text(), nullable=False),
    Column("category", _text(), nullable=False),
    Column("category_id", _whole()),
    Column("brand", _text(), nullable=False),
    Column("year", _whole()),
    Column("age", Double),
    Column("status", _text(), nullable=False),
    Column("barrier", _text(), nullable=False),
    Column("group_name", _text(), nullable=False),
    Column("event_date", Date),
    Column("problem", _text(), nullable=False),
    Index(None, "category", "brand"),
)

open_job: Final = Table(
    "open_job",
    metadata,
    Column("key", _text(), primary_key=True),
    Column("shop", _text(), nullable=False),
    Column("number", _text(), nullable=False),
    Column("board", _text(), nullable=False),
    Column("complaint", _text(), nullable=False),
    Column("opened", UtcDateTime, nullable=False),
    Column("said", _text(), nullable=False),
    Column("device", _text(), nullable=False),
    Column("technician", _text(), nullable=False),
    Column("comeback_shop", _text()),
    Column("comeback_number", _text()),
    Column("closed", Boolean, nullable=False),
    UniqueConstraint("shop", "number"),
    Index(None, "closed", "shop"),
)

entry: Final = Table(
    "entry",
    metadata,
    Column("job_key", _text(), ForeignKey("open_job.key", ondelete="CASCADE"), primary_key=True),
    Column("place", Integer, primary_key=True, autoincrement=False),
    Column("kind", _text(), nullable=False),
    Column("data", _text(), nullable=False),
    Column("made", UtcDateTime, nullable=False),
    Column("made_by", _text(), nullable=False),
    Column("token", _text(), nullable=False),
    UniqueConstraint("job_key", "token"),
    sqlite_with_rowid=False,
)
