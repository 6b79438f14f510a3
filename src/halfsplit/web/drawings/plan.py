"""The plan of the machine: where each of its parts is drawn, by the coordinates in the fault book."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from halfsplit.job.lines import numbered
from halfsplit.job.units import kind_of, number_of
from halfsplit.model.book import Book
from halfsplit.model.machine import HEAD_SQUARES, Block
from halfsplit.web.drawings.hatching import Box

SQUARE = 12.0
"""One square of the grid, in units: the smallest blocks, 4 by 4, are then large enough for a finger."""

MOST_EMPTY = 2
"""More empty rows than this come of parts that are not there, and one is left of them."""


@dataclass(frozen=True)
class Piece:
    """One part on the plan.

    Args:
        slot: the slot that it is drawn for.
        box: its rectangle.
        label: what stands on it.
        is_holder: whether others are drawn on it; its label and hatching are then in the strip at its top.
        is_one_of_several: whether others of its kind stand beside it; its label is then a number.
    """

    slot: str
    box: Box
    label: str
    is_holder: bool = False
    is_one_of_several: bool = False

    @property
    def face(self) -> Box:
        """The part of the rectangle that nothing else is drawn on."""
        if not self.is_holder:
            return self.box
        return Box(self.box.x, self.box.y, self.box.w, HEAD_SQUARES * SQUARE)


@dataclass(frozen=True)
class Plan:
    """All parts on the plan.

    Args:
        pieces: slot -> its piece; those that others are drawn on come before these.
        captions: label and rectangle for each kind of which there are several.
        width, height: of the whole, in units.
    """

    pieces: Mapping[str, Piece]
    captions: tuple[tuple[str, Box], ...]
    width: float
    height: float


def plan_of(slots: Iterable[str], book: Book) -> Plan:
    """Return where some slots are drawn.

    Args:
        slots: the slots; those of kinds that have no block are left out.
        book: the fault book, for its map.
    """
    by_kind: dict[str, list[str]] = {}
    for slot in dict.fromkeys(slots):
        if kind_of(slot) in book.map:
            by_kind.setdefault(kind_of(slot), []).append(slot)
    holders = {block.on for block in book.map.values() if block.on}
    shown = [block for block in book.map.values() if block.kind in by_kind]
    row_of = _rows(shown, holders)
    pieces: dict[str, Piece] = {}
    captions = []
    for block in sorted(shown, key=lambda block: _depth(block, book)):
        y = row_of(block.y) * SQUARE
        box = Box(block.x * SQUARE, y, block.w * SQUARE, row_of(block.bottom) * SQUARE - y)
        label = block.label or book.kinds[block.kind].title
        many = sorted(by_kind[block.kind], key=lambda slot: int(number_of(slot)[1:] or 0))
        if len(many) == 1:
            said = numbered(label, many[0]) if number_of(many[0]) not in ("", ".1") else label
            pieces[many[0]] = Piece(many[0], box, said, block.kind in holders)
            continue
        captions.append((label, Box(box.x, box.y, box.w, SQUARE)))
        width = box.w / len(many)
        for place, slot in enumerate(many):
            part = Box(box.x + place * width, box.y + SQUARE, width, box.h - SQUARE)
            pieces[slot] = Piece(slot, part, number_of(slot)[1:], is_one_of_several=True)
    return Plan(
        pieces,
        tuple(captions),
        SQUARE * max((block.right for block in book.map.values()), default=0),
        SQUARE * row_of(max((block.bottom for block in shown), default=0)),
    )


class _Rows:
    """Rows of the grid -> rows of the drawing, without those that nothing stands in."""

    def __init__(self, moved: Sequence[int]) -> None:
        self._moved = moved

    def __call__(self, row: int) -> int:
        return self._moved[row]


def _rows(blocks: Sequence[Block], holders: Iterable[str]) -> _Rows:
    last = max((block.bottom for block in blocks), default=0)
    used = [False] * last
    held = set(holders)
    for block in blocks:
        rows = [*range(block.y, block.y + HEAD_SQUARES), block.bottom - 1]
        for row in rows if block.kind in held else range(block.y, block.bottom):
            used[row] = True
    moved, row = [0], 0
    while row < last:
        end = next((later for later in range(row, last) if used[later] != used[row]), last)
        kept = end - row if used[row] or end - row <= MOST_EMPTY else 1
        moved += [moved[-1] + min(step, kept) for step in range(1, end - row + 1)]
        row = end
    return _Rows(moved)


def _depth(block: Block, book: Book) -> int:
    depth = 0
    while block.on in book.map:
        block, depth = book.map[block.on], depth + 1
    return depth
