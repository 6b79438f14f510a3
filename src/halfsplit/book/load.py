"""From folders to a book: find the files, read, join, compile, or take it from the cache."""

from collections.abc import Sequence
from pathlib import Path

from halfsplit.book.cache import cache_key, keep_cached, load_cached
from halfsplit.book.compile import compile_book
from halfsplit.book.desk import Desk, sort_mistakes
from halfsplit.book.layers import Change, join_layers
from halfsplit.book.tree import Map, parse_tree
from halfsplit.errors import BookError, Mistake
from halfsplit.model.book import Book

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
    files, mistakes = _find_files(dirs)
    key = cache_key([file for layer in files for file in layer])
    if cache and not mistakes:
        kept = load_cached(key)
        if kept is not None:
            return kept, ()
    desk, more = _lay_out(files)
    mistakes += more
    book = compile_book(desk)
    mistakes += desk.mistakes
    if mistakes or book is None:
        return None, sort_mistakes(mistakes)
    if cache:
        keep_cached(key, book)
    return book, ()


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
    """Return what the later folders add to, change in or retire from the earlier ones."""
    files, _ = _find_files(dirs)
    return _lay_out(files)[0].pages.changes


def open_desk(*dirs: BookDir) -> Desk:
    """Return the desk with a book just read, for its numbers and fields; its mistakes are beside the point."""
    files, _ = _find_files(dirs)
    desk, _ = _lay_out(files)
    compile_book(desk)
    return desk


Layer = list[tuple[str, bytes]]


def _find_files(dirs: Sequence[BookDir]) -> tuple[list[Layer], list[Mistake]]:
    """Return the place name and the content of each file, layer by layer, and what cannot be read (HS301)."""
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
            if any(part.startswith(".") for part in name.parts) or path.suffix not in (".yaml", ".yml"):
                continue
            place = f"{label}/{name.as_posix()}"
            if path.suffix == ".yml":
                mistakes.append(_no_file(place, "the file ends in .yml", "Rename it to .yaml"))
                continue
            try:
                layer.append((place, path.read_bytes()))
            except OSError as error:
                mistakes.append(_no_file(place, f"it cannot be read ({error.strerror})", "Let it be read"))
        if not layer:
            mistakes.append(_no_file(str(folder), "there is no .yaml file here", "Give the folder of a book"))
        layers.append(layer)
    return layers, mistakes


def _no_file(place: str, so: str, do: str) -> Mistake:
    return Mistake(f"{place}:1:1", "HS301", so, "a book is a folder of .yaml files", do)


def _lay_out(layers: Sequence[Layer]) -> tuple[Desk, list[Mistake]]:
    """Return a desk with the joined files, and what is wrong before anything is understood."""
    mistakes: list[Mistake] = []
    trees: list[list[Map]] = []
    for layer in layers:
        trees.append([])
        for name, content in layer:
            tree, wrong = parse_tree(content, name)
            mistakes += wrong
            if tree is not None:
                trees[-1].append(tree)
    pages, wrong = join_layers(trees)
    return Desk(pages), [*mistakes, *wrong]
