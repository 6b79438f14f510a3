"""A backup of a store while it is in use: the database as of one moment, and the photos; never the key."""

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

from halfsplit.errors import Mistake, StoreError
from halfsplit.store.opening import DATABASE, PHOTOS, Store


def back_up(store: Store, folder: Path) -> None:
    """Copy a store into a new folder, which ``open_store`` can open with the same key.

    Args:
        store: an open store on SQLite; others may read and write it meanwhile.
        folder: where to; it must be empty or not there.

    Raises:
        StoreError: HS741 the folder is in use or cannot be written; HS742 the store is on PostgreSQL, which has
            its own backup.

    Notes:
        The copy is made by a connection of its own.  SQLite's backup by a connection that has a change open waits
        for that change for ever.  The photos are copied after the database, so that each one that it knows is there.
    """
    if store.engine.dialect.name != "sqlite":
        so, should = "this store is on PostgreSQL", "the backup made here is of SQLite"
        do = "Make it with pg_dump, and copy the folder of photos"
        raise StoreError([Mistake("backup", "HS742", so, should, do)])
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if any(folder.iterdir()):
            raise StoreError([_unusable(folder, "there is something in it")])
        source_path = Path(str(store.engine.url.database)).absolute()
        with (
            closing(sqlite3.connect(f"{source_path.as_uri()}?mode=ro", uri=True)) as source,
            closing(sqlite3.connect(folder / DATABASE)) as target,
        ):
            source.backup(target)
        shutil.copytree(store.photos, folder / PHOTOS)
    except OSError as error:
        raise StoreError([_unusable(folder, error.strerror or str(error))]) from error
    except sqlite3.Error as error:
        raise StoreError([_unusable(folder, str(error))]) from error


def _unusable(folder: Path, why: str) -> Mistake:
    should, do = "a backup goes into an empty folder", "Name another folder"
    return Mistake(str(folder), "HS741", f"it cannot be used ({why})", should, do)
