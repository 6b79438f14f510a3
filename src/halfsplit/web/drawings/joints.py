"""The joints of the plan as lines between the parts that meet."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from halfsplit.job.units import Pair, kind_of
from halfsplit.model.book import Book
from halfsplit.web.drawings.hatching import Box
from halfsplit.web.drawings.plan import SQUARE, Piece, Plan

STUB = 9.0
"""How far the line of a part that sits on another one goes into that, in units."""

APART = 13.0
"""The least distance of two lines that run side by side, in units."""

_TRIES = (0.5, 0.25, 0.75, 0.12, 0.88, 0.37, 0.63)
"""Where along the edge that two parts share a line may run."""

Point = tuple[float, float]


@dataclass(frozen=True)
class Line:
    """A joint on the plan.

    Args:
        pair: the two units that meet.
        points: the corners of the line; its mark stands at the first.
    """

    pair: Pair
    points: tuple[Point, ...]


def lines_of_joints(pairs: Iterable[Pair], plan: Plan, book: Book) -> tuple[Line, ...]:
    """Return the lines of joints, in the order of the book.

    Args:
        pairs: the joints that there are.
        plan: where the parts are; joints of parts that are not on it are left out.
        book: the fault book.
    """
    order = {joint: place for place, joint in enumerate(book.joints)}
    drawer = _Drawer(plan.pieces, book)
    wanted = sorted(pairs, key=lambda pair: (order.get(pair.joint, 0), pair.number, pair.ends))
    lines = []
    for pair in wanted:
        slots = [slot for slot, _ in pair.ends]
        if len(slots) == 2 and all(slot in plan.pieces for slot in slots):
            lines.append(Line(pair, drawer.points(*(plan.pieces[slot] for slot in slots))))
    return tuple(lines)


class _Drawer:
    """Lays one line after the other, beside those that are there."""

    def __init__(self, pieces: Mapping[str, Piece], book: Book) -> None:
        self._pieces = pieces
        self._book = book
        self._marks: list[Point] = []

    def points(self, one: Piece, other: Piece) -> tuple[Point, ...]:
        if self._is_on(other, one):
            return tuple(reversed(self.points(other, one)))
        options = list(self._options(one, other))
        best = next((option for option in options if self._is_free(option[0])), options[0])
        self._marks.append(best[0])
        return best

    def _is_free(self, mark: Point) -> bool:
        return all(abs(mark[0] - x) + abs(mark[1] - y) >= APART for x, y in self._marks)

    def _is_on(self, one: Piece, other: Piece) -> bool:
        """Return whether one part is drawn on the other."""
        kind = kind_of(one.slot)
        while (kind := self._book.map[kind].on if kind in self._book.map else "") != "":
            if kind == kind_of(other.slot):
                return True
        return False

    def _options(self, one: Piece, other: Piece) -> Iterator[tuple[Point, ...]]:
        a, b = one.box, other.box
        if self._is_on(one, other):
            for share in _TRIES:
                x = a.x + a.w * share
                yield (x, a.bottom), (x, a.bottom + STUB)
            return
        if self._is_outside(one) and self._is_outside(other) and not _touch(a, b):
            x = -SQUARE / 2
            yield (a.x, a.y + a.h / 2), (x, a.y + a.h / 2), (x, b.y + b.h / 2), (b.x, b.y + b.h / 2)
            return
        left, right = max(a.x, b.x), min(a.right, b.right)
        top, bottom = max(a.y, b.y), min(a.bottom, b.bottom)
        if right - left > SQUARE:
            ends = (a.bottom, b.y) if a.bottom <= b.y else (a.y, b.bottom)
            for share in _TRIES:
                x = left + (right - left) * share
                yield (x, ends[0]), (x, ends[1])
        elif bottom - top > SQUARE:
            ends = (a.right, b.x) if a.right <= b.x else (a.x, b.right)
            for share in _TRIES:
                y = top + (bottom - top) * share
                yield (ends[0], y), (ends[1], y)
        else:
            for share in (0.1, 0.2, 0.3):
                x, y = a.x + a.w * share, b.y + b.h / 2
                yield (x, a.y if b.y < a.y else a.bottom), (x, y), (b.right if b.x < a.x else b.x, y)

    def _is_outside(self, piece: Piece) -> bool:
        return self._book.kinds[kind_of(piece.slot)].outside


def _touch(a: Box, b: Box) -> bool:
    """Return whether two blocks are as near as neighbours are."""
    near = 12 * SQUARE
    return max(a.x, b.x) - min(a.right, b.right) < near and max(a.y, b.y) - min(a.bottom, b.bottom) < near
