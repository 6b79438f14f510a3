"""Which lines of a log were entered by one tap; of those that are there already it is not known."""

import sqlalchemy as sa
from alembic import op

revision = "r0005"
down_revision = "r0004"


def upgrade() -> None:
    """Make the column."""
    op.add_column("log", sa.Column("tap", sa.Integer))
