"""From folders to a book: find the files, read, join, compile, or take it from the cache."""

import gc
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from halfsplit.book.cache import cache_key, keep_cached, load_cached
from halfsplit.book.compile import compile_book
from halfsplit.book.desk import Desk, place_order, sort_mistakes
from halfsplit.book.layers import Change, join_layers
from halfsplit.errors import BookError, Mistake
from halfsplit.model.book import Book
from halfsplit.yamltext import Node, read_yaml

BookDir = str | Path


def shipped_book_dir() -> Path:
    """Return the folder of the book that comes with halfsplit."""
    return Path(__file__).parent / "data" / "desktop"


def load_book(*dirs: BookDir, cache: bool = True) -> tuple[Book | None, tuple[Mistake, ...]]:
    """Return the book in some folders, or None and everything that is wrong with it.

    Args:
        dirs: the folders, each read with all ``*.yaml`` below it; a later one is laid over the earlier.
            An entry with an id that is there changes the fields that it names, a new id adds an entry,
            ``retire: yes`` takes one out.
        cache: whether a compiled book may be taken from the user's cache, and put there.

    Returns:
        The book and no mistakes, or None and the mistakes in the order of their places; never raises
        for what is in the files.

    Notes:
        1 MB of YAML takes about a second, a tenth of it from the cache.
    """
    with _nothing_collected():
        files, mistakes = _find_files(dirs)
        key = cache_key([file for layer in files for file in layer])
        kept = load_cached(key) if cache and not mistakes else None
        if kept is not None:
            return kept, ()
        _, mistakes, book = _read(files, mistakes)
        if mistakes or book is None:
            return None, sort_mistakes(mistakes)
        if cache:
            keep_cached(key, book)
        return book, ()


def check_book(*dirs: BookDir) -> tuple[Book | None, tuple[Mistake, ...]]:
    """Return the book in some folders and everything that is wrong with it, tried out as well as read.

    Args:
        dirs: the folders, as ``load_book`` takes them.

    Returns:
        The book, or None where it cannot be used; and the mistakes in the order of their places.  Where a book
        can be used its checks are tried on its faults: HS336 and HS337.

    Notes:
        It takes some seconds: the checks are tried on each fault.
    """
    files, mistakes = _find_files(dirs)
    desk, mistakes, book = _read(files, mistakes)
    if mistakes or book is None:
        return None, sort_mistakes(mistakes)
    from halfsplit.book.trial import try_checks  # noqa: PLC0415  only who checks a book tries it

    try_checks(desk, book)
    return book, sort_mistakes(desk.mistakes)


def shipped_book() -> Book:
    """Return the book that comes with halfsplit.

    Raises:
        BookError: it has mistakes; with all of them.
    """
    book, mistakes = load_book(shipped_book_dir())
    if book is None:
        raise BookError(mistakes)
    return book


def list_changes(*dirs: BookDir) -> tuple[Change, ...]:
    """Return what the later folders add to, change in or retire from the earlier ones, by place."""
    files, _ = _find_files(dirs)
    return tuple(sorted(_lay_out(files)[0].pages.changes, key=lambda change: place_order(change.place)))


def open_desk(*dirs: BookDir) -> Desk:
    """Return the desk with a book just read, whatever is wrong with it: for its numbers and its fields."""
    files, _ = _find_files(dirs)
    desk, _ = _lay_out(files)
    compile_book(desk)
    return desk


def _read(files: "Sequence[Layer]", mistakes: list[Mistake]) -> tuple[Desk, list[Mistake], Book | None]:
    """Return the desk, all mistakes, and the book where there are none."""
    with _nothing_collected():
        desk, more = _lay_out(files)
        book = compile_book(desk)
    return desk, [*mistakes, *more, *desk.mistakes], book


@contextmanager
def _nothing_collected() -> Iterator[None]:
    """Pause the search for circular garbage: a book being read makes none, and is read in half the time."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


Layer = list[tuple[str, bytes]]
"""The place name and the content of each file of one folder."""


def _find_files(dirs: Sequence[BookDir]) -> tuple[list[Layer], list[Mistake]]:
    """Return the files, folder by folder, and what cannot be read (HS101, HS301)."""
    layers: list[Layer] = []
    mistakes: list[Mistake] = []
    taken: set[str] = set()
    for given in dirs:
        folder = Path(given)
        label = folder.resolve().name
        if label in taken:
            label = str(folder)
        taken.add(label)
        layer: Layer = []
        for path in sorted(folder.rglob("*")):
            name = path.relative_to(folder)
            place = f"{label}/{name.as_posix()}"
            if any(part.startswith(".") for part in name.parts):
                continue
            if path.suffix == ".yml":
                mistakes.append(_no_book(place, "the file ends in .yml", "Rename it to .yaml"))
            elif path.suffix == ".yaml":
                try:
                    layer.append((place, path.read_bytes()))
                except OSError as error:
                    mistakes.append(_unreadable(place, 1, f"it cannot be read ({error.strerror or error})"))
        if not layer:
            mistakes.append(_no_book(str(folder), "there is no .yaml file here", "Name the folder of a book"))
        layers.append(layer)
    return layers, mistakes


def _no_book(place: str, so: str, do: str) -> Mistake:
    return Mistake(f"{place}:1:1", "HS301", so, "a book is a folder of .yaml files", do)


def _unreadable(place: str, line: int, so: str) -> Mistake:
    do = "Check your rights to it, or save it as UTF-8"
    return Mistake(f"{place}:{line}:1", "HS101", so, "it must be a text file in UTF-8", do)


def _lay_out(layers: Sequence[Layer]) -> tuple[Desk, list[Mistake]]:
    """Return a desk with the joined files, and what is wrong before anything is understood."""
    mistakes: list[Mistake] = []
    trees: list[list[Node]] = []
    for layer in layers:
        trees.append([])
        for file, content in layer:
            try:
                text = content.decode("utf-8")
            except UnicodeDecodeError as error:
                line = content.count(b"\n", 0, error.start) + 1
                mistakes.append(_unreadable(file, line, f"it is not UTF-8 text (byte {error.start + 1})"))
                continue
            tree, wrong = read_yaml(text, file)
            mistakes += wrong
            if tree is not None:
                trees[-1].append(tree)
    pages, wrong_layers = join_layers(trees)
    return Desk(pages), [*mistakes, *wrong_layers]
