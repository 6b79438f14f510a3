"""Where the work so far may have left something worse than it was: to be looked at before the machine is proved.

The chances are those of the fault book: what an opening disturbs, and what an opening or a repair brings in.
"""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from math import prod

from halfsplit.job.changes import Course, Moment, Opened, Repaired
from halfsplit.job.machine import LEAST_SHARE, share_of
from halfsplit.job.units import OWNER, Foothold, Pair, kind_of, number_of
from halfsplit.model.bench import Inspection
from halfsplit.model.book import Book
from halfsplit.model.faults import Fault
from halfsplit.model.job import UNSURE, Inspect, RepairDone

LEAST_LEFT = 0.005
"""A place that the work leaves worse less often than this is not asked for."""


@dataclass(frozen=True)
class Touched:
    """A place that the work reached.

    Args:
        at: the joint or the kind of part, with its number where there are several.
        look: the inspection that shows it, with its number.
        p: the chance that the work left it worse; 1 where it was worked at itself.
        seen: what the last look since then saw, or "" where nobody has looked.
        is_fine: whether that look found nothing.
    """

    at: str
    look: str
    p: float
    seen: str
    is_fine: bool


def touched_by_work(course: Course, facts: Mapping[str, object], book: Book) -> tuple[Touched, ...]:
    """Return the places that the work reached, what is likeliest left worse first, whatever was seen there since.

    What could be seen only by taking more apart is not asked for.

    Args:
        course: what the log did to the machine.
        facts: what is known of the machine.
        book: the fault book.
    """
    looker = _Looker(course, facts, book)
    for moment in course.moments:
        looker.walk(moment)
    return tuple(sorted(looker.touched(), key=lambda place: (-place.p, place.at)))


class _Looker:
    def __init__(self, course: Course, facts: Mapping[str, object], book: Book) -> None:
        self._book = book
        self._slots = course.standing[OWNER].slots
        self._joints = _joints(course)
        self._p: dict[str, float] = {}
        self._seen: dict[str, str] = {}
        at_parts = [each for each in book.faults.values() if each.made_by and each.at[0] not in book.joints]
        self._brought = [each for each in at_parts if share_of(each.only, facts, book) >= LEAST_SHARE]

    def walk(self, moment: Moment) -> None:
        """Note what one entry did, and what it saw."""
        for change in moment.changes:
            if isinstance(change, Opened):
                if not (isinstance(moment.entry, Inspect) and self._is_cover(change)):
                    self._open(change)
            elif isinstance(change, Repaired):
                self._bring([change.repair.id], self._slots.values(), change.repair.at, change.number)
        entry = moment.entry
        if isinstance(entry, RepairDone):  # what was bad may be put right; what was fine is still so
            self._seen = {place: word for place, word in self._seen.items() if self._is_fine(place, word)}
        if isinstance(entry, Inspect) and entry.on == OWNER and entry.seen != UNSURE:
            pairs = [each.name for each in moment.looked_at if isinstance(each, Pair)]
            self._seen |= dict.fromkeys([entry.what, *pairs], entry.seen)

    def touched(self) -> Iterable[Touched]:
        """Yield the places."""
        for place, p in self._p.items():
            look = self._look(place)
            if look is not None and p >= LEAST_LEFT:
                word = self._seen.get(place, "")
                yield Touched(place, look.id + number_of(place), p, word, self._is_fine(place, word))

    def _is_cover(self, change: Opened) -> bool:
        """Return whether no more than a cover was taken off: to look below one is no work, or the list grew by it."""
        return not any(self._book.openings[name].inside for name in change.openings)

    def _open(self, change: Opened) -> None:
        openings = [self._book.openings[name] for name in change.openings]
        for pair in change.reaches:
            if isinstance(pair, Pair) and pair.name in self._joints:
                moved = [each.disturbs[pair.joint].p for each in openings if pair.joint in each.disturbs]
                is_at = change.at == pair.joint and change.number in ("", pair.number)
                self._leave(pair.name, max([*moved, float(is_at)], default=0.0))
        self._bring(change.openings, change.reaches, change.at, change.number)

    def _bring(self, works: Iterable[str], reached: Collection[Foothold], at: str, number: str) -> None:
        """Note the faults of parts that openings or a repair may bring in, at the place where a look shows them."""
        works = tuple(works)
        kinds = {kind_of(slot) for slot, unit in self._slots.items() if unit in reached}
        for fault in self._brought:
            chances = [fault.made_by[name].p for name in works if name in fault.made_by]
            look = self._shows(fault) if chances and not kinds.isdisjoint(fault.at) else None
            if look is not None:
                for place in self._places(look, number if at in (look.at, *fault.at) else ""):
                    self._leave(place, 1.0 - prod(1.0 - p for p in chances))

    def _places(self, look: Inspection, number: str) -> Iterable[str]:
        """Yield the places of an inspection in this machine; of the one with a number only, where it has one."""
        joints = [name for name in self._joints if kind_of(name) == look.at]
        parts = [look.id + number_of(slot) for slot in self._slots if kind_of(slot) == look.at]
        yield from (name for name in (*joints, *parts) if number in ("", number_of(name)))

    def _leave(self, place: str, p: float) -> None:
        """Note that work may have left a place worse: what was seen there before does not count any more."""
        self._p[place] = 1.0 - (1.0 - self._p.get(place, 0.0)) * (1.0 - p)
        if p >= LEAST_LEFT:
            self._seen.pop(place, None)

    def _shows(self, fault: Fault) -> Inspection | None:
        """Return the inspection that shows a fault best."""
        catches: dict[str, float] = {}
        for pattern in fault.patterns:
            for look in pattern.looks:
                if self._is_in_sight(self._book.inspections[look.inspection]):
                    caught = catches.get(look.inspection, 0.0) + pattern.share * look.catch.p
                    catches[look.inspection] = caught
        return self._book.inspections[max(sorted(catches), key=catches.__getitem__)] if catches else None

    def _look(self, place: str) -> Inspection | None:
        """Return the inspection of a place: of a joint the one that is called like it, or the first."""
        name, looks = kind_of(place), self._book.inspections
        there = [each for each in looks.values() if each.at == name] if name not in looks else [looks[name]]
        return next(filter(self._is_in_sight, there), None)

    def _is_in_sight(self, look: Inspection) -> bool:
        """Return whether something can be looked at with no more than one cover off."""
        return not look.opening or not self._book.openings[look.opening].inside

    def _is_fine(self, place: str, word: str) -> bool:
        look = self._look(place)
        return look is not None and word == look.fine


def _joints(course: Course) -> frozenset[str]:
    """Return the joints at which something is together in the owner's machine now, each with its number."""
    own = (each.together for each in reversed(course.moments) if each.together.setup.host == OWNER)
    last = next(own, None)
    return frozenset(pair.name for pair in last.pairs) if last is not None else frozenset()
