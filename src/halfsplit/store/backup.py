"""A backup of a store while it is in use: the database as of one moment, and the photos; never the key."""

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

from halfsplit.errors import Mistake, StoreError
from halfsplit.store.opening import DATABASE, PHOTOS


def back_up(bench: Path, folder: Path) -> None:
    """Copy a bench on SQLite into a new folder, which ``open_store`` can open with the same key.

    Args:
        bench: the folder that it is kept in; others may read and write it meanwhile, and it is not brought up to date.
        folder: where to; it must be empty or not there.

    Raises:
        StoreError: HS741 the folder is in use or cannot be written; HS742 there is no bench on SQLite.

    Notes:
        The copy is made by a connection of its own.  SQLite's backup by a connection that has a change open waits
        for that change for ever.  The photos are copied after the database, so that each one that it knows is there.
    """
    source_path = (bench / DATABASE).absolute()
    if not source_path.is_file():
        so, should = f"there is no {DATABASE} in it", "a backup is made of a bench on SQLite"
        do = "Name its folder with --folder; a bench on PostgreSQL is backed up with pg_dump, its photos by a copy"
        raise StoreError([Mistake(str(bench), "HS742", so, should, do)])
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if any(folder.iterdir()):
            raise StoreError([_unusable(folder, "there is something in it")])
        with (
            closing(sqlite3.connect(f"{source_path.as_uri()}?mode=ro", uri=True)) as source,
            closing(sqlite3.connect(folder / DATABASE)) as target,
        ):
            source.backup(target)
        shutil.copytree(bench / PHOTOS, folder / PHOTOS)
    except OSError as error:
        raise StoreError([_unusable(folder, error.strerror or str(error))]) from error
    except sqlite3.Error as error:
        raise StoreError([_unusable(folder, str(error))]) from error


def _unusable(folder: Path, why: str) -> Mistake:
    should, do = "a backup goes into an empty folder", "Name another folder"
    return Mistake(str(folder), "HS741", f"it cannot be used ({why})", should, do)
