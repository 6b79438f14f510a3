"""What every number of a book rests on, one line for each."""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from halfsplit.book.load import BookDir, open_desk
from halfsplit.yamltext import Node


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


def write_bases(numbers: Sequence[Basis]) -> str:
    """Return the numbers as a page: how many rest on what, then a table for each basis."""
    by_basis: dict[str, list[Basis]] = {}
    for number in numbers:
        by_basis.setdefault(number.basis, []).append(number)
    counts = [f"| {basis} | {len(by_basis[basis])} |" for basis in sorted(by_basis)]
    lines = ["| basis | numbers |", "|---|---|", *counts]
    for basis in sorted(by_basis):
        lines += ["", f"## {basis}", "", "| number | value | spread | place |", "|---|---|---|---|"]
        lines += [
            f"| {number.field} | {number.value:g} {number.unit}".rstrip() + f" | {number.spread:g} | {number.place} |"
            for number in by_basis[basis]
        ]
    return "\n".join(lines) + "\n"


def _fields(node: Node, path: str) -> Iterator[tuple[str, str]]:
    """Yield place and path of every scalar below a node."""
    if node.is_scalar:
        yield node.place, path
    for key, (_, value) in node.entries().items():
        yield from _fields(value, f"{path}.{key}")
    for number, item in enumerate(node.items(), 1):
        yield from _fields(item, f"{path}.{number}")
