"""The tables: plain text and numbers, the same on SQLite and PostgreSQL.

What a person entered is text in the job file's own form; the other columns are what lists and searches need.
Times are ISO 8601 in UTC, and "" is "not said".  The tables that are only ever added to (``log``,
``state_change``, ``shelf_event``) are guarded by triggers, which the migrations make.
"""

from sqlalchemy import (
    REAL,
    Column,
    Dialect,
    Double,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    PrimaryKeyConstraint,
    Table,
    Text,
    UniqueConstraint,
    text,
)
from sqlalchemy.types import TypeDecorator, TypeEngine

REVISION = "r0005"
"""The revision of the migrations that makes these tables."""


class Words(TypeDecorator[str]):
    """Text as both databases can keep it: without NUL, and without halves of characters."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: str | None, dialect: Dialect) -> str | None:
        """Return the text to be kept."""
        return None if value is None else storable(value)


def storable(words: str) -> str:
    """Return a text as both databases can keep it."""
    return words.encode("utf-8", errors="replace").decode("utf-8").replace("\0", " ")


METADATA = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "pk": "pk_%(table_name)s",
    }
)

EIGHT_BYTES: TypeEngine[float] = Double().with_variant(REAL(), "sqlite")
"""A number of 8 bytes on both; SQLite's strict tables know it by this name only."""


def _text(name: str, default: str | None = "") -> Column[str]:
    """Return a column of text that is never null; None as default means that it must be given."""
    return Column(name, Words, nullable=False, server_default=default)


def _number(name: str, default: int | None = 0) -> Column[int]:
    """Return a column of whole numbers that is never null."""
    return Column(name, Integer, nullable=False, server_default=None if default is None else text(str(default)))


def _job() -> Column[int]:
    return Column("job", Integer, ForeignKey("job.number"), nullable=False)


JOB = Table(
    "job",
    METADATA,
    Column("number", Integer, primary_key=True),
    _text("name"),
    _text("complaint"),
    _text("kind"),
    Column("age_years", EIGHT_BYTES),
    _text("state", None),
    _text("waiting_for"),
    _number("is_open", 1),
    _text("opened_at", None),
    _text("promised_on"),
    _text("contacted_at"),
    _text("put_away_at"),
    _text("book_hash", None),
    Column("comeback_of", Integer, ForeignKey("job.number")),
    _text("last_rung"),
    _text("suspicion"),
    Column("suspicion_p", EIGHT_BYTES),
    _number("summed_up_to"),
    Index(None, "is_open", "number"),
    sqlite_autoincrement=True,
    sqlite_strict=True,
)

LOG = Table(
    "log",
    METADATA,
    _job(),
    _number("seq", None),
    _text("entry", None),
    _text("kind", None),
    _text("text", None),
    _text("initials"),
    _text("at", None),
    Column("tap", Integer),
    PrimaryKeyConstraint("job", "seq"),
    UniqueConstraint("job", "entry"),
    sqlite_strict=True,
)

STATE_CHANGE = Table(
    "state_change",
    METADATA,
    Column("id", Integer, primary_key=True),
    _job(),
    _text("state", None),
    _text("waiting_for"),
    _text("initials"),
    _text("at", None),
    Index(None, "job"),
    sqlite_autoincrement=True,
    sqlite_strict=True,
)

PERSON = Table(
    "person",
    METADATA,
    Column("job", Integer, ForeignKey("job.number"), primary_key=True, autoincrement=False),
    _text("sealed", None),
    _text("dies_on"),
    Index(None, "dies_on"),
    sqlite_strict=True,
)

PHOTO = Table(
    "photo",
    METADATA,
    _job(),
    _text("hash", None),
    _text("kind", None),
    _number("size_bytes", None),
    _text("title"),
    _number("is_private"),
    _text("removed"),
    _text("initials"),
    _text("at", None),
    PrimaryKeyConstraint("job", "hash"),
    sqlite_strict=True,
)

SHELF_PART = Table(
    "shelf_part",
    METADATA,
    Column("id", Text, primary_key=True),
    _text("kind", None),
    _text("grade", None),
    _text("title"),
    _text("proven_at"),
    _number("exposures"),
    _number("is_gone"),
    Column("p_bad", EIGHT_BYTES),
    _number("new_exposures"),
    _text("known_at"),
    sqlite_strict=True,
)

LOAN = Table(
    "loan",
    METADATA,
    _job(),
    _text("part", None),
    Column("p_bad", EIGHT_BYTES),
    _number("exposures"),
    _number("days"),
    PrimaryKeyConstraint("job", "part"),
    sqlite_strict=True,
)

CONSUMABLE = Table(
    "consumable",
    METADATA,
    Column("id", Text, primary_key=True),
    _text("title"),
    _number("count"),
    sqlite_strict=True,
)

SHELF_EVENT = Table(
    "shelf_event",
    METADATA,
    Column("id", Integer, primary_key=True),
    _text("item", None),
    _text("what", None),
    _text("said"),
    Column("job", Integer, ForeignKey("job.number")),
    _text("initials"),
    _text("at", None),
    Index(None, "item"),
    sqlite_autoincrement=True,
    sqlite_strict=True,
)

SPELL = Table(
    "spell",
    METADATA,
    Column("id", Integer, primary_key=True),
    _job(),
    _text("initials", None),
    _text("started_at", None),
    _text("ended_at"),
    Index(None, "job"),
    Index("uq_spell_running", "initials", unique=True),  # of those that run: to say so here loads PostgreSQL's dialect
    sqlite_autoincrement=True,
    sqlite_strict=True,
)

SETTING = Table(
    "setting",
    METADATA,
    Column("name", Text, primary_key=True),
    _text("value", None),
    sqlite_strict=True,
)
