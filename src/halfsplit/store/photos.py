"""Photos: files by the SHA-256 of their content, one folder for each job; private ones sealed."""

import os
import tempfile
from dataclasses import dataclass, fields, replace
from hashlib import sha256
from pathlib import Path

from sqlalchemy import ColumnElement, Connection, delete, insert, select, update

from halfsplit.errors import Mistake, StoreError
from halfsplit.store.opening import Store
from halfsplit.store.pictures import Picture
from halfsplit.store.tables import PHOTO

SUFFIX = {"jpeg": "jpg", "png": "png", "webp": "webp"}
"""Kind of picture -> how its file's name ends."""


@dataclass(frozen=True)
class Photo:
    """A photo as kept.

    Args:
        job: the job that it is of.
        hash: SHA-256 of its content, in hex.
        kind: "jpeg", "png" or "webp".
        size_bytes: of its content.
        title: "" is none.
        is_private: whether it goes with the person: sealed, never exported, erased with the rest.
        removed: what was taken out of it when it came in, parted by commas.
        initials, at: who entered it, and when.
    """

    job: int
    hash: str
    kind: str
    size_bytes: int
    title: str
    is_private: bool
    removed: str
    initials: str
    at: str


def keep_photo(connection: Connection, store: Store, photo: Photo, content: bytes) -> bool:
    """Keep a photo: its file first, then its row.

    One that the job has already stays as it is, but that it is private once anybody says so.  The file that was
    open until then goes with ``drop_open_file``, once this is kept.

    Returns:
        Whether a file was made: it is dropped with ``drop_file`` where the row is not kept after all.
    """
    before = next((each for each in list_photos(connection, photo.job) if each.hash == photo.hash), None)
    if before is not None and (before.is_private or not photo.is_private):
        return False
    path = _path(store, photo)
    path.parent.mkdir(exist_ok=True)
    handle, made = tempfile.mkstemp(dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(store.vault.seal(content) if photo.is_private else content)
            file.flush()
            os.fsync(file.fileno())
        Path(made).replace(path)
    except OSError:
        Path(made).unlink(missing_ok=True)
        raise
    if before is None:
        values = {each.name: getattr(photo, each.name) for each in fields(photo)}
        connection.execute(insert(PHOTO).values(**{**values, "is_private": int(photo.is_private)}))
    else:
        connection.execute(update(PHOTO).where(_is_row(photo)).values(is_private=1))
    return True


def drop_file(store: Store, photo: Photo) -> None:
    """Drop the file of a photo whose row was not kept."""
    _path(store, photo).unlink(missing_ok=True)


def drop_open_file(store: Store, photo: Photo) -> None:
    """Drop the file of a photo that was open before it became private."""
    _path(store, replace(photo, is_private=False)).unlink(missing_ok=True)


def new_photo(picture: Picture, number: int, *, title: str, is_private: bool, initials: str, at: str) -> Photo:
    """Return what is kept of a picture beside its content."""
    digest, removed = sha256(picture.content).hexdigest(), ", ".join(picture.removed)
    return Photo(number, digest, picture.kind, len(picture.content), title, is_private, removed, initials, at)


def list_photos(connection: Connection, number: int) -> tuple[Photo, ...]:
    """Return the photos of a job, in the order in which they came."""
    columns = [PHOTO.c[each.name] for each in fields(Photo)]
    query = select(*columns).where(PHOTO.c.job == number).order_by(PHOTO.c.at, PHOTO.c.hash)
    rows = connection.execute(query).mappings()
    return tuple(Photo(**{**row, "is_private": bool(row["is_private"])}) for row in rows)


def read_photo(store: Store, photo: Photo) -> bytes:
    """Return the content of a photo.

    Raises:
        StoreError: HS723 its file is gone or not as it was; HS704 the key is another than it was sealed by.
    """
    try:
        content = _path(store, photo).read_bytes()
    except OSError as error:
        raise StoreError([_lost(photo, "its file cannot be read")]) from error
    if photo.is_private:
        content = store.vault.unseal(content)
    if sha256(content).hexdigest() != photo.hash:
        raise StoreError([_lost(photo, "its file is not as it was")])
    return content


def erase_photo(connection: Connection, store: Store, photo: Photo) -> None:
    """Erase a photo: its file, and its row."""
    connection.execute(delete(PHOTO).where(_is_row(photo)))
    _path(store, photo).unlink(missing_ok=True)


def _is_row(photo: Photo) -> ColumnElement[bool]:
    return (PHOTO.c.job == photo.job) & (PHOTO.c.hash == photo.hash)


def _path(store: Store, photo: Photo) -> Path:
    suffix = "sealed" if photo.is_private else SUFFIX[photo.kind]
    return store.photos / str(photo.job) / f"{photo.hash}.{suffix}"


def _lost(photo: Photo, so: str) -> Mistake:
    return Mistake(f"photo {photo.hash[:12]}", "HS723", so, "a photo is kept as it came", "Take it from a backup")
