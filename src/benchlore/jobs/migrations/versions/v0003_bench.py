"""Jobs that lie on a bench, and their journals."""

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "open_job",
        sa.Column("key", _text(), nullable=False),
        sa.Column("shop", _text(), nullable=False),
        sa.Column("number", _text(), nullable=False),
        sa.Column("board", _text(), nullable=False),
        sa.Column("complaint", _text(), nullable=False),
        sa.Column("opened", sa.DateTime(), nullable=False),
        sa.Column("said", _text(), nullable=False),
        sa.Column("device", _text(), nullable=False),
        sa.Column("technician", _text(), nullable=False),
        sa.Column("comeback_shop", _text()),
        sa.Column("comeback_number", _text()),
        sa.Column("closed", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("key", name="pk_open_job"),
        sa.UniqueConstraint("shop", "number", name="uq_open_job_shop_number"),
    )
    op.create_index("ix_open_job_closed_shop", "open_job", ["closed", "shop"])
    op.create_table(
        "entry",
        sa.Column("job_key", _text(), nullable=False),
        sa.Column("place", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("kind", _text(), nullable=False),
        sa.Column("data", _text(), nullable=False),
        sa.Column("made", sa.DateTime(), nullable=False),
        sa.Column("made_by", _text(), nullable=False),
        sa.Column("token", _text(), nullable=False),
        sa.PrimaryKeyConstraint("job_key", "place", name="pk_entry"),
        sa.ForeignKeyConstraint(["job_key"], ["open_job.key"], name="fk_entry_job_key", ondelete="CASCADE"),
        sa.UniqueConstraint("job_key", "token", name="uq_entry_job_key_token"),
        sqlite_with_rowid=False,
    )


def _text() -> Any:
    return sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
