"""Compiled books kept in the user's cache folder, so that a book that was read once is there at once.

An entry is two lines of text: the SHA-256 of the second line, and the book as JSON.  Its name is the
SHA-256 of all that the book was made from, this package included, so that it never has to be thrown
away for being old.  An entry that cannot be read is as good as none.
"""

import contextlib
import json
import os
import tempfile
from hashlib import sha256
from pathlib import Path

import halfsplit
from halfsplit.book.plain import to_book, to_plain
from halfsplit.model.book import Book

KEPT = 8
"""How many books the cache holds; the ones used longest ago go first."""

_SUFFIX = ".book"


def cache_dir() -> Path | None:
    """Return the folder of the cache, or None where the user has no home."""
    for name in ("XDG_CACHE_HOME", "LOCALAPPDATA"):
        if os.environ.get(name):
            return Path(os.environ[name]) / "halfsplit"
    try:
        return Path.home() / ".cache" / "halfsplit"
    except RuntimeError:
        return None


def cache_key(files: list[tuple[str, bytes]]) -> str:
    """Return the name of the cache entry for the files of a book, in their order.

    Args:
        files: the place name and the content of each file.
    """
    key = sha256()
    for name, content in (*_package_files(), *files):
        key.update(f"{len(name)} {len(content)} {name}\n".encode())
        key.update(content)
    return key.hexdigest()


def _package_files() -> list[tuple[str, bytes]]:
    """Return what makes a book of its files: the version, and the sources of the nouns and of this room."""
    top = Path(halfsplit.__file__).parent
    sources = sorted((*top.glob("model/*.py"), *top.glob("book/*.py")))
    return [(path.name, path.read_bytes()) for path in sources]


def load_cached(key: str) -> Book | None:
    """Return the book that was kept under a key, or None."""
    folder = cache_dir()
    if folder is None:
        return None
    path = folder / (key + _SUFFIX)
    try:
        digest, _, body = path.read_bytes().partition(b"\n")
        if sha256(body).hexdigest().encode() != digest:
            return None
        book = to_book(json.loads(body))
        os.utime(path)
    except (OSError, ValueError, TypeError, KeyError, AttributeError):
        return None
    return book


def keep_cached(key: str, book: Book) -> None:
    """Keep a book under a key; a folder that cannot be written is left alone."""
    folder = cache_dir()
    if folder is None:
        return
    body = json.dumps(to_plain(book), ensure_ascii=False, separators=(",", ":")).encode()
    with contextlib.suppress(OSError):
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile(dir=folder, delete=False) as file:
            file.write(sha256(body).hexdigest().encode() + b"\n" + body)
        Path(file.name).replace(folder / (key + _SUFFIX))
        entries = sorted(folder.glob("*" + _SUFFIX), key=lambda path: path.stat().st_mtime)
        for old in entries[:-KEPT]:
            old.unlink(missing_ok=True)
