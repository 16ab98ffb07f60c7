"""How many minutes each board soaked after a fix."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """Add the column; of attempts that are stored already nobody recorded it."""
    op.add_column("attempt", sa.Column("soaked", sa.Double()))
