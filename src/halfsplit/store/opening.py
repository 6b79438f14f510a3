"""Opening a store: the database brought to the newest tables, the folder of photos, and the key."""

import contextlib
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, exists, make_url, select, text
from sqlalchemy.engine import URL
from sqlalchemy.exc import ArgumentError, DBAPIError
from sqlalchemy.pool import ConnectionPoolEntry

from halfsplit.errors import Mistake, StoreError
from halfsplit.store.tables import PERSON, PHOTO, REVISION
from halfsplit.store.vault import Vault, open_vault

DATABASE = "bench.db"
KEY = "bench.key"
PHOTOS = "photos"

BUSY_MS = 10_000
"""How long a writer waits for another on SQLite, in ms; a write takes a few."""

SETTLE_MS = 100
SETTLE_TRIES = 5
"""How often the journal is written into the database before that is given up, and how long each waits for readers."""


@dataclass(frozen=True)
class Store:
    """An open store.

    Args:
        engine: of the database, which is at the newest revision.
        photos: the folder that photos are kept in.
        vault: what seals the records of persons.
    """

    engine: Engine
    photos: Path
    vault: Vault

    @contextlib.contextmanager
    def reading(self) -> Iterator[Connection]:
        """Give a connection to read by, all within one transaction."""
        with self.engine.begin() as connection:
            yield connection

    @contextlib.contextmanager
    def writing(self) -> Iterator[Connection]:
        """Give a connection to write by: all is kept when the block ends, or nothing when it raises.

        Who writes waits for whoever else does: a bench writes a few times a minute, for a few ms.
        """
        with _writing(self.engine) as connection:
            yield connection

    def settle(self) -> None:
        """Write SQLite's journal into the database, so that what was erased is in neither.

        PostgreSQL has no such journal to be written: what becomes of its own is told in ``docs/store.md``.

        Raises:
            StoreError: HS705 somebody reads the database for long, and the journal could not be emptied.
        """
        if self.engine.dialect.name != "sqlite":
            return
        with contextlib.closing(self.engine.raw_connection()) as connection:
            cursor = connection.cursor()
            cursor.execute(f"PRAGMA busy_timeout = {SETTLE_MS}")
            try:
                for _ in range(SETTLE_TRIES):
                    is_busy, _, _ = cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()[0]
                    if not is_busy:
                        return
                    time.sleep(SETTLE_MS / 1000)  # another that settles is told at once, without a wait
            finally:
                cursor.execute(f"PRAGMA busy_timeout = {BUSY_MS}")
        so = "all is entered, but the journal beside it still has what was erased, as another program reads it"
        should = "what is erased is neither in the database nor in its journal"
        do = "End that program (a backup, a copy): the next erasing takes it along, and so does the next start"
        raise StoreError([Mistake(str(self.engine.url.database), "HS705", so, should, do)])

    def close(self) -> None:
        """Close all connections."""
        self.engine.dispose()


def open_store(folder: Path, *, url: str = "", key_path: Path | None = None) -> Store:
    """Open the store of a bench; what is missing is made, and an older database is brought up to date.

    Args:
        folder: where the database (``bench.db``), the photos and, if not told otherwise, the key are.
        url: of a PostgreSQL database that is to be used instead: ``postgresql://user@host/name``.
        key_path: the file with the key that seals the records of persons.  Keep it where copies of the
            database do not go: who has both can read the records.

    Raises:
        StoreError: HS701 the folder or the database cannot be used; HS702 the database is of a newer
            halfsplit; HS703 the key file cannot be used, or is gone while there are records that it sealed.
    """
    place = str(folder)
    try:
        (folder / PHOTOS).mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise StoreError([_unusable(place, error.strerror or str(error))]) from error
    address = _address(url) if url else URL.create("sqlite", database=str(folder / DATABASE))
    engine = create_engine(address)
    if engine.dialect.name == "sqlite":
        _prepare_sqlite(engine)
    where = engine.url.render_as_string(hide_password=True)
    with contextlib.ExitStack() as on_failure:
        on_failure.callback(engine.dispose)
        try:
            bring_up_to_date(engine)
        except DBAPIError as error:
            raise StoreError([_unusable(where, str(error.orig).strip())]) from error
        vault = open_vault(key_path or folder / KEY, has_sealed=_has_sealed(engine))
        on_failure.pop_all()
    return Store(engine, folder / PHOTOS, vault)


def bring_up_to_date(engine: Engine, revision: str = "head") -> None:
    """Bring a database to a revision, the newest if not told otherwise.

    Raises:
        StoreError: HS702 the database is at a revision that this halfsplit does not know.
    """
    if revision == "head" and _revision_of(engine) == REVISION:
        return
    from alembic import command  # noqa: PLC0415  0.2 s, and only where something is to be done
    from alembic.config import Config  # noqa: PLC0415
    from alembic.util import CommandError  # noqa: PLC0415

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
    with _writing(engine) as connection:
        config.attributes["connection"] = connection
        try:
            command.upgrade(config, revision)
        except CommandError as error:
            where = engine.url.render_as_string(hide_password=True)
            should, do = "a store is read by the halfsplit that wrote it, or a newer one", "Install the newer halfsplit"
            raise StoreError([Mistake(where, "HS702", f"its tables are not known ({error})", should, do)]) from error


def _has_sealed(engine: Engine) -> bool:
    """Return whether there is a record of a person, or a private photo."""
    with engine.begin() as connection:
        found = select(exists().select_from(PERSON)), select(exists().where(PHOTO.c.is_private == 1))
        return any(connection.execute(query).scalar_one() for query in found)


def _revision_of(engine: Engine) -> str:
    """Return the revision that a database is at, or "" where it has none yet."""
    with engine.begin() as connection:
        if not connection.dialect.has_table(connection, "alembic_version"):
            return ""
        return str(connection.execute(text("SELECT version_num FROM alembic_version")).scalar() or "")


_LOCK = 0x68616C66  # any number that no other program is likely to lock by


@contextlib.contextmanager
def _writing(engine: Engine) -> Iterator[Connection]:
    """Give a connection to write by, one at a time: SQLite does so by itself, PostgreSQL where it is told."""
    with engine.execution_options(is_writing=True).begin() as connection:
        if connection.dialect.name == "postgresql":
            connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({_LOCK})")
        yield connection


def _address(url: str) -> URL:
    try:
        address = make_url(url)
    except (ArgumentError, ValueError):  # a port that is no number
        address = None
    if address is None or address.get_backend_name() != "postgresql":
        should = "it is the address of a PostgreSQL database"
        do = "Write it as postgresql://user@host/name, or leave it out for SQLite"
        raise StoreError([Mistake("url", "HS701", "this is no address that can be used", should, do)])
    return address.set(drivername="postgresql+psycopg")


def _unusable(place: str, why: str) -> Mistake:
    do = "Check the name, your rights to it, and that there is room"
    return Mistake(place, "HS701", f"it cannot be used ({why})", "a store can be read and written", do)


def _prepare_sqlite(engine: Engine) -> None:
    """Set up each connection, and let a transaction begin where it says so: at once, and to write at once.

    Python's sqlite3 begins by itself only before a change, so that what was read before it may be out of date.
    """

    @event.listens_for(engine, "connect")
    def set_up(connection: Any, _: ConnectionPoolEntry) -> None:
        connection.isolation_level = None
        for pragma in (
            "journal_mode = WAL",
            "synchronous = FULL",  # what was entered is there after a power cut
            "foreign_keys = ON",
            "secure_delete = ON",  # what is erased is overwritten
            f"busy_timeout = {BUSY_MS}",
        ):
            connection.execute(f"PRAGMA {pragma}")

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        is_writing = connection.get_execution_options().get("is_writing", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if is_writing else "BEGIN")
