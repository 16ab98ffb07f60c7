"""Repair events elsewhere, from which demand is guessed."""

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Make the table."""
    op.create_table(
        "demand",
        sa.Column("provider", _text(), nullable=False),
        sa.Column("id", _text(), nullable=False),
        sa.Column("country", _text(), nullable=False),
        sa.Column("partner_category", _text(), nullable=False),
        sa.Column("category", _text(), nullable=False),
        sa.Column("category_id", _whole()),
        sa.Column("brand", _text(), nullable=False),
        sa.Column("year", _whole()),
        sa.Column("age", sa.Double()),
        sa.Column("status", _text(), nullable=False),
        sa.Column("barrier", _text(), nullable=False),
        sa.Column("group_name", _text(), nullable=False),
        sa.Column("event_date", sa.Date()),
        sa.Column("problem", _text(), nullable=False),
        sa.PrimaryKeyConstraint("provider", "id", name="pk_demand"),
    )
    op.create_index("ix_demand_category_brand", "demand", ["category", "brand"])


def _text() -> Any:
    return sa.Text().with_variant(sa.Text(collation="C"), "postgresql")


def _whole() -> Any:
    return sa.BigInteger().with_variant(sa.Integer(), "sqlite")
