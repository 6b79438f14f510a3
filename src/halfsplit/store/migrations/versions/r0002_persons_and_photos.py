"""Persons apart from the log, and photos."""

import sqlalchemy as sa
from alembic import op

revision = "r0002"
down_revision = "r0001"


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "person",
        sa.Column(
            "job",
            sa.Integer,
            sa.ForeignKey("job.number", name="fk_person_job"),
            nullable=False,
            autoincrement=False,
        ),
        sa.Column("sealed", sa.Text, nullable=False),
        sa.Column("dies_on", sa.Text, nullable=False, server_default=""),
        sa.PrimaryKeyConstraint("job", name="pk_person"),
        sqlite_strict=True,
    )
    op.create_index("ix_person_dies_on", "person", ["dies_on"])
    op.create_table(
        "photo",
        sa.Column("job", sa.Integer, sa.ForeignKey("job.number", name="fk_photo_job"), nullable=False),
        sa.Column("hash", sa.Text, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("size_bytes", sa.Integer, nullable=False),
        sa.Column("title", sa.Text, nullable=False, server_default=""),
        sa.Column("is_private", sa.Integer, nullable=False, server_default=sa.text("0")),
        sa.Column("removed", sa.Text, nullable=False, server_default=""),
        sa.Column("initials", sa.Text, nullable=False, server_default=""),
        sa.Column("at", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("job", "hash", name="pk_photo"),
        sqlite_strict=True,
    )
