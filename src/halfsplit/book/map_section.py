"""The section ``map``: where each kind of part is drawn, in squares of a grid."""

from collections.abc import Mapping
from itertools import combinations
from types import MappingProxyType

from halfsplit.book.desk import Desk, Range
from halfsplit.book.form import Form
from halfsplit.book.machine_sections import forms_of
from halfsplit.model.book import Book
from halfsplit.model.machine import HEAD_SQUARES, Block

MOST_SQUARES = 200
"""No map is wider or higher than this many squares."""


def read_map(desk: Desk) -> Mapping[str, Block]:
    """Read ``map``; its ids are those of parts, and the numbers are a drawing, which rests on nothing."""
    blocks = {}
    for form in forms_of(desk, "map", "block"):
        kind = desk.id_at(form.place, form.id, ("parts",), drops=True)
        block = Block(
            form.id,
            _squares(form, "x", 0),
            _squares(form, "y", 0),
            _squares(form, "w", 1),
            _squares(form, "h", 1),
            form.ref("on", "parts", default=""),
            form.prose("label", ""),
        )
        form.close()
        if kind is not None:
            blocks[kind] = block
    return MappingProxyType(blocks)


def check_map(desk: Desk, book: Book) -> None:
    """Note blocks that cross (HS340), and parts that have none on a map that there is (HS341)."""
    blocks = [block for block in book.map.values() if ("map", block.kind) not in desk.marred]
    for block in blocks:
        if block.on in book.map and ("map", block.on) not in desk.marred and not book.map[block.on].holds(block):
            desk.say(
                desk.place_in("map", block.kind),
                "HS340",
                f"the block of '{block.kind}' does not lie within that of '{block.on}'",
                f"it is drawn on it, below the {HEAD_SQUARES} rows for its label",
                "Move one of the two, or change its size",
            )
    for one, other in combinations(blocks, 2):
        if one.on == other.on and one.overlaps(other):
            desk.say(
                desk.place_in("map", other.kind),
                "HS340",
                f"the blocks of '{one.kind}' and '{other.kind}' overlap",
                "each part has squares of its own",
                "Move one of the two",
            )
    for kind in book.kinds if book.map else ():
        if kind not in book.map and ("map", kind) not in desk.marred:
            desk.say(
                desk.place_in("parts", kind),
                "HS341",
                f"part '{kind}' has no place on the map",
                "each part is drawn",
                f"Write '{kind}: {{x: ..., y: ..., w: ..., h: ...}}' under 'map'",
            )


def _squares(form: Form, key: str, least: int) -> int:
    """Return a whole number of squares; it is needed."""
    node = form.node(key, needed=True)
    value = None if node is None else form.desk.number_of(node, f"'{key}'", Range(float(least), MOST_SQUARES))
    if node is None or value is None:
        return least
    if value != int(value):
        form.desk.say_wrong_kind(node, f"'{key}'", "a whole number of squares")
    return int(value)
