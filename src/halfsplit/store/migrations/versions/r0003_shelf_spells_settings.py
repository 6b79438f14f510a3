"""The shelf with all that happened to it, the time spent on jobs, and the settings."""

import sqlalchemy as sa
from alembic import op

from halfsplit.store.migrations.guards import guard_table

revision = "r0003"
down_revision = "r0002"


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "shelf_part",
        sa.Column("id", sa.Text, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("grade", sa.Text, nullable=False),
        sa.Column("title", sa.Text, nullable=False, server_default=""),
        sa.Column("proven_at", sa.Text, nullable=False, server_default=""),
        sa.Column("exposures", sa.Integer, nullable=False, server_default=sa.text("0")),
        sa.Column("is_gone", sa.Integer, nullable=False, server_default=sa.text("0")),
        sa.PrimaryKeyConstraint("id", name="pk_shelf_part"),
        sqlite_strict=True,
    )
    op.create_table(
        "consumable",
        sa.Column("id", sa.Text, nullable=False),
        sa.Column("title", sa.Text, nullable=False, server_default=""),
        sa.Column("count", sa.Integer, nullable=False, server_default=sa.text("0")),
        sa.PrimaryKeyConstraint("id", name="pk_consumable"),
        sqlite_strict=True,
    )
    op.create_table(
        "shelf_event",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("item", sa.Text, nullable=False),
        sa.Column("what", sa.Text, nullable=False),
        sa.Column("said", sa.Text, nullable=False, server_default=""),
        sa.Column("job", sa.Integer, sa.ForeignKey("job.number", name="fk_shelf_event_job")),
        sa.Column("initials", sa.Text, nullable=False, server_default=""),
        sa.Column("at", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_shelf_event"),
        sqlite_autoincrement=True,
        sqlite_strict=True,
    )
    op.create_index("ix_shelf_event_item", "shelf_event", ["item"])
    op.create_table(
        "spell",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("job", sa.Integer, sa.ForeignKey("job.number", name="fk_spell_job"), nullable=False),
        sa.Column("initials", sa.Text, nullable=False),
        sa.Column("started_at", sa.Text, nullable=False),
        sa.Column("ended_at", sa.Text, nullable=False, server_default=""),
        sa.PrimaryKeyConstraint("id", name="pk_spell"),
        sqlite_autoincrement=True,
        sqlite_strict=True,
    )
    op.create_index("ix_spell_job", "spell", ["job"])
    op.create_index(
        "uq_spell_running",
        "spell",
        ["initials"],
        unique=True,
        sqlite_where=sa.text("ended_at = ''"),
        postgresql_where=sa.text("ended_at = ''"),
    )
    op.create_table(
        "setting",
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("value", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("name", name="pk_setting"),
        sqlite_strict=True,
    )
    guard_table("shelf_event")
