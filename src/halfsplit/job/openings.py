"""Which openings lead to what, as far as the book tells it by its checks and repairs."""

from collections.abc import Mapping, Sequence

from halfsplit.job.machine import LEAST_SHARE, NO_FACTS, share_of
from halfsplit.job.units import kind_of
from halfsplit.model.bench import REPLACES, Check
from halfsplit.model.book import Book

BOARD_OUT = "board_out"
"""The opening that takes the board out of its case."""

MORE_THAN_IN_PASSING = 0.005
"""An opening that disturbs a joint at least so often is one in which that joint is handled (estimate)."""


class OpeningsOf:
    """Which openings lead to what.

    Args:
        book: the fault book.
        facts: what is known of the machine; what is more likely than not done on another kind of machine only does
            not count.

    Attributes:
        replacing: kind of part -> the repair that replaces it.
    """

    def __init__(self, book: Book, facts: Mapping[str, object] = NO_FACTS) -> None:
        self._book = book
        repairs = [each for each in book.repairs.values() if share_of(each.only, facts, book) >= LEAST_SHARE]
        self.replacing = {repair.at: repair.id for repair in repairs if repair.does == REPLACES}
        self._changing: dict[str, list[str]] = {}  # kind of part -> the openings of the checks that change it
        for check in book.checks.values():
            if check.opening in book.openings and share_of(check.only, facts, book) >= LEAST_SHARE:
                for changed in dict.fromkeys(map(kind_of, check.setup)):
                    self._changing.setdefault(changed, []).append(check.opening)
        self._of_kind = {kind.id: self._least(kind.id) for kind in book.kinds.values()}

    def chain(self, opening: str) -> tuple[str, ...]:
        """Return an opening and all that it is inside of, the outermost first."""
        names: list[str] = []
        while opening in self._book.openings and opening not in names:
            names.append(opening)
            opening = self._book.openings[opening].inside
        return tuple(reversed(names))

    def of_kind(self, kind: str) -> tuple[str, ...]:
        """Return the openings through which a part of this kind is put in or taken out, () for one outside."""
        return self._of_kind[kind]

    def _least(self, kind: str) -> tuple[str, ...]:
        """Return the least work by which the book changes a part of this kind: as a check does, or a replacement."""
        book = self._book
        if book.kinds[kind].outside:
            return ()
        joints = {joint.id for joint in book.joints.values() if kind in joint.between}
        names = [name for name in dict.fromkeys(self._changing.get(kind, ())) if self._handles(name, joints)]
        if kind in self.replacing:
            names.append(book.repairs[self.replacing[kind]].opening)
        chains = [self.chain(name) for name in names if name in book.openings]
        return min(chains, key=lambda chain: (self._minutes(chain), chain), default=())

    def _handles(self, opening: str, joints: set[str]) -> bool:
        disturbs = self._book.openings[opening].disturbs
        return any(joint in joints and chance.p >= MORE_THAN_IN_PASSING for joint, chance in disturbs.items())

    def _minutes(self, chain: Sequence[str]) -> float:
        openings = [self._book.openings[name] for name in chain]
        return sum(opening.minutes_open + opening.minutes_close for opening in openings)


def minutes_of(check: Check, book: Book) -> float:
    """Return the hands-on minutes of a check with its openings, made and closed again."""
    openings = [book.openings[name] for name in OpeningsOf(book).chain(check.opening)]
    return check.minutes.hands_on + sum(opening.minutes_open + opening.minutes_close for opening in openings)
