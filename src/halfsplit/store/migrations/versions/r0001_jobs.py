"""Jobs, their logs and states, and the words that a search looks through."""

import sqlalchemy as sa
from alembic import op
from sqlalchemy.dialects import postgresql, sqlite

from halfsplit.store.migrations.guards import guard_table

revision = "r0001"
down_revision = None

REAL = sa.Float().with_variant(sqlite.REAL(), "sqlite").with_variant(postgresql.DOUBLE_PRECISION(), "postgresql")
"""8 bytes on both."""


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "job",
        sa.Column("number", sa.Integer, primary_key=True),
        sa.Column("name", sa.Text, nullable=False, server_default=""),
        sa.Column("complaint", sa.Text, nullable=False, server_default=""),
        sa.Column("kind", sa.Text, nullable=False, server_default=""),
        sa.Column("age_years", REAL),
        sa.Column("state", sa.Text, nullable=False),
        sa.Column("waiting_for", sa.Text, nullable=False, server_default=""),
        sa.Column("is_open", sa.Integer, nullable=False, server_default=sa.text("1")),
        sa.Column("opened_at", sa.Text, nullable=False),
        sa.Column("promised_on", sa.Text, nullable=False, server_default=""),
        sa.Column("contacted_at", sa.Text, nullable=False, server_default=""),
        sa.Column("put_away_at", sa.Text, nullable=False, server_default=""),
        sa.Column("book_hash", sa.Text, nullable=False),
        sa.Column("comeback_of", sa.Integer, sa.ForeignKey("job.number", name="fk_job_comeback_of")),
        sa.Column("last_rung", sa.Text, nullable=False, server_default=""),
        sa.Column("suspicion", sa.Text, nullable=False, server_default=""),
        sa.Column("suspicion_p", REAL),
        sa.Column("summed_up_to", sa.Integer, nullable=False, server_default=sa.text("0")),
        sa.PrimaryKeyConstraint("number", name="pk_job"),
        sqlite_autoincrement=True,
        sqlite_strict=True,
    )
    op.create_index("ix_job_is_open_number", "job", ["is_open", "number"])
    op.create_table(
        "log",
        sa.Column("job", sa.Integer, sa.ForeignKey("job.number", name="fk_log_job"), nullable=False),
        sa.Column("seq", sa.Integer, nullable=False),
        sa.Column("entry", sa.Text, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("text", sa.Text, nullable=False),
        sa.Column("initials", sa.Text, nullable=False, server_default=""),
        sa.Column("at", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("job", "seq", name="pk_log"),
        sa.UniqueConstraint("job", "entry", name="uq_log_job_entry"),
        sqlite_strict=True,
    )
    op.create_table(
        "state_change",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("job", sa.Integer, sa.ForeignKey("job.number", name="fk_state_change_job"), nullable=False),
        sa.Column("state", sa.Text, nullable=False),
        sa.Column("waiting_for", sa.Text, nullable=False, server_default=""),
        sa.Column("initials", sa.Text, nullable=False, server_default=""),
        sa.Column("at", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_state_change"),
        sqlite_autoincrement=True,
        sqlite_strict=True,
    )
    op.create_index("ix_state_change_job", "state_change", ["job"])
    guard_table("log")
    guard_table("state_change")
    if op.get_bind().dialect.name == "sqlite":
        op.execute("CREATE VIRTUAL TABLE job_words USING fts5(words, tokenize = 'unicode61')")
    else:
        op.execute(
            "CREATE TABLE job_words (rowid INTEGER CONSTRAINT pk_job_words PRIMARY KEY, words TEXT NOT NULL, "
            "stems TSVECTOR GENERATED ALWAYS AS (to_tsvector('simple', words)) STORED)"
        )
        op.execute("CREATE INDEX ix_job_words_stems ON job_words USING gin (stems)")
