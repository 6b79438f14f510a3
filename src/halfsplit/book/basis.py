"""What every number of a book rests on, as rows and as a page."""

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from halfsplit.book.layers import file_of
from halfsplit.book.load import BookDir, open_desk
from halfsplit.yamltext import Node

_HEAD = """# What every number of the fault book rests on

Made by `halfsplit book basis`; [book.md](book.md) says how. A spread is the standard deviation of the log odds of a
probability, and of the logarithm of any other number; 0.7 is a factor of two either way, and 0 is certain. A strength
word stands for one number, listed here once; a time is in seconds, and items of a list are counted from 1.
"""


class Basis(NamedTuple):
    """One number of a book with what it rests on.

    Args:
        field: where it belongs: ``faults.supply_trips.base``; items of a list are counted from 1.
        value: the number; a time is in seconds.
        unit: "probability", "seconds", "minutes", ..., or "" for a bare ratio.
        spread: standard deviation of its log odds if it is a probability, else of its logarithm.
        basis: ``source: id``, ``common practice`` or ``estimate``.
        place: ``file:line:col``.
    """

    field: str
    value: float
    unit: str
    spread: float
    basis: str
    place: str

    @property
    def entry(self) -> str:
        """The entry that it is of: ``faults.supply_trips``."""
        return ".".join(self.field.split(".")[:2])


def bases(book_dirs: Sequence[BookDir]) -> tuple[Basis, ...]:
    """Return every number of a book, by section and in the order of the files.

    Args:
        book_dirs: the folders, as ``load_book`` takes them.
    """
    desk = open_desk(*book_dirs)
    fields: dict[str, str] = {}
    for name, section in desk.pages.sections.items():
        for entry_id, (_, node) in section.items():
            fields.update(_fields(node, f"{name}.{entry_id}"))
    for number, node in enumerate(desk.pages.forced, 1):
        fields.update(_fields(node, f"forced.{number}"))
    numbers = {number.place: number for number in desk.numbers}
    return tuple(
        Basis(
            field.removesuffix(".p"),
            numbers[place].value,
            numbers[place].unit,
            numbers[place].spread,
            numbers[place].basis,
            place,
        )
        for place, field in fields.items()
        if place in numbers
    )


def list_sources(book_dirs: Sequence[BookDir]) -> dict[str, str]:
    """Return the published sources that a book names: id -> citation."""
    return {name: node.text for name, (_, node) in open_desk(*book_dirs).pages.sections["sources"].items()}


def write_bases(numbers: Sequence[Basis], sources: Mapping[str, str]) -> str:
    """Return the numbers as a page: how many rest on what, then a table for each basis, entry by entry.

    Args:
        numbers: every number of a book.
        sources: its published sources, id -> citation.
    """
    by_basis: dict[str, list[Basis]] = {}
    for number in numbers:
        by_basis.setdefault(number.basis, []).append(number)
    ordered = sorted(by_basis, key=lambda basis: (not basis.startswith("source:"), basis))
    lines = [_HEAD, "| basis | numbers |", "|---|---|", *(f"| {basis} | {len(by_basis[basis])} |" for basis in ordered)]
    for basis in ordered:
        lines += ["", f"## {basis[0].upper()}{basis[1:]}", ""]
        citation = sources.get(basis.removeprefix("source: "), "") if basis.startswith("source:") else ""
        lines += [citation, ""] if citation else []
        lines += ["| entry | numbers | spread | file |", "|---|---|---|---|", *_rows(by_basis[basis])]
    return "\n".join(lines) + "\n"


def _rows(numbers: Sequence[Basis]) -> Iterator[str]:
    """Yield one row for each entry, file and spread, in the order of the numbers."""
    rows: dict[tuple[str, str, float], list[str]] = {}
    for number in numbers:
        within = number.field.removeprefix(f"{number.entry}.") if number.field != number.entry else ""
        unit = "" if number.unit == "probability" else number.unit
        words = " ".join(filter(None, (within, f"{number.value:g}", unit)))
        rows.setdefault((number.entry, file_of(number.place), number.spread), []).append(words)
    for (entry, file, spread), said in rows.items():
        yield f"| {entry} | {'; '.join(said)} | {spread:g} | {file} |"


def _fields(node: Node, path: str) -> Iterator[tuple[str, str]]:
    """Yield place and path of every scalar below a node."""
    if node.is_scalar:
        yield node.place, path
    for key, (_, value) in node.entries().items():
        yield from _fields(value, f"{path}.{key}")
    for number, item in enumerate(node.items(), 1):
        yield from _fields(item, f"{path}.{number}")
