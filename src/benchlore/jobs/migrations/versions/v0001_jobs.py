"""Jobs, their readings and attempts, and the files that they came from."""

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make the tables."""
    _make_meta()
    _make_job()
    _make_entries()
    _make_intake()


def _text() -> Any:
    return sa.Text().with_variant(sa.Text(collation="C"), "postgresql")


def _whole() -> Any:
    return sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def _make_meta() -> None:
    op.create_table(
        "meta",
        sa.Column("name", _text(), nullable=False),
        sa.Column("value", _text(), nullable=False),
        sa.PrimaryKeyConstraint("name", name="pk_meta"),
    )


def _make_job() -> None:
    op.create_table(
        "job",
        sa.Column("id", _whole(), autoincrement=False, nullable=False),
        sa.Column("shop", _text(), nullable=False),
        sa.Column("number", _text(), nullable=False),
        sa.Column("board", _text(), nullable=False),
        sa.Column("complaint", _text(), nullable=False),
        sa.Column("opened", sa.Date()),
        sa.Column("outcome", _text(), nullable=False),
        sa.Column("fault", _text()),
        sa.Column("fault_text", _text(), nullable=False),
        sa.Column("hands_on", sa.Double()),
        sa.Column("waiting", sa.Double()),
        sa.Column("comeback", sa.Boolean()),
        sa.Column("technician", _text(), nullable=False),
        sa.Column("notes", _text(), nullable=False),
        sa.Column("extra", _text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_job"),
        sa.UniqueConstraint("shop", "number", name="uq_job_shop_number"),
    )
    op.create_index("ix_job_board_complaint", "job", ["board", "complaint"])


def _make_entries() -> None:
    op.create_table(
        "reading",
        sa.Column("job_id", _whole(), nullable=False),
        sa.Column("position", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("check_name", _text(), nullable=False),
        sa.Column("step", _whole(), nullable=False),
        sa.Column("result", _text()),
        sa.Column("value", sa.Double()),
        sa.Column("text", _text(), nullable=False),
        sa.PrimaryKeyConstraint("job_id", "position", name="pk_reading"),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name="fk_reading_job_id", ondelete="CASCADE"),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "attempt",
        sa.Column("job_id", _whole(), nullable=False),
        sa.Column("position", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("fix_name", _text(), nullable=False),
        sa.Column("step", _whole(), nullable=False),
        sa.Column("retest", _text(), nullable=False),
        sa.PrimaryKeyConstraint("job_id", "position", name="pk_attempt"),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name="fk_attempt_job_id", ondelete="CASCADE"),
        sqlite_with_rowid=False,
    )


def _make_intake() -> None:
    op.create_table(
        "intake",
        sa.Column("id", _whole(), autoincrement=False, nullable=False),
        sa.Column("file", _text(), nullable=False),
        sa.Column("sha256", _text(), nullable=False),
        sa.Column("taken", sa.DateTime(), nullable=False),
        sa.Column("mapping", _text(), nullable=False),
        sa.Column("rows_read", sa.Integer(), nullable=False),
        sa.Column("rows_refused", sa.Integer(), nullable=False),
        sa.Column("jobs_new", sa.Integer(), nullable=False),
        sa.Column("jobs_same", sa.Integer(), nullable=False),
        sa.Column("jobs_merged", sa.Integer(), nullable=False),
        sa.Column("jobs_conflicting", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_intake"),
    )
    op.create_index("ix_intake_sha256", "intake", ["sha256"])
    op.create_table(
        "source",
        sa.Column("job_id", _whole(), nullable=False),
        sa.Column("intake_id", _whole(), nullable=False),
        sa.Column("sheet", _text()),
        sa.Column("sheet_row", sa.Integer()),
        sa.PrimaryKeyConstraint("job_id", "intake_id", name="pk_source"),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name="fk_source_job_id", ondelete="CASCADE"),
        sa.ForeignKeyConstraint(["intake_id"], ["intake.id"], name="fk_source_intake_id", ondelete="CASCADE"),
        sqlite_with_rowid=False,
    )
