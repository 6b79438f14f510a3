"""What a single finding points at, as the trade has it: the commonest fault that shows so, and what mends it best."""

from collections.abc import Iterable, Mapping

from halfsplit.job.findings import INSIDE
from halfsplit.job.numbers import LOW, limits_of, side_of
from halfsplit.job.units import number_of
from halfsplit.model.bench import Measurement
from halfsplit.model.book import Book
from halfsplit.model.faults import Fault, Pattern
from halfsplit.model.job import YES, Entry, Inspect, Measure, Run

FAULTS = 2
"""Faults thought of for one finding, the commonest."""


def pointed_at(book: Book, entry: Entry) -> tuple[str, ...]:
    """Return the repairs, with their places, that one finding points at, the best first.

    A look or a number points at the faults that show so; a run at those that show a sign which no sound machine shows.
    """
    match entry:
        case Inspect():
            what = entry.what.partition(".")[0]
            is_fine = entry.seen == book.inspections[what].fine
            return () if is_fine else _repairs(book, _seen(book, what, entry.seen), number_of(entry.what))
        case Measure():
            what = entry.what.partition(".")[0]
            state = _state(book.measurements[what], entry.value)
            return _repairs(book, _read(book, what, state), number_of(entry.what)) if state else ()
        case Run():
            signs = [name for name, said in entry.seen.signs.items() if said == YES and not book.signs[name].is_on]
            found = (name for sign in signs for name in _repairs(book, _shown(book, sign), ""))
            return tuple(dict.fromkeys(found))
        case _:
            return ()


def _seen(book: Book, what: str, word: str) -> Mapping[str, float]:
    return _weighed(
        (fault, pattern.share * look.catch.p)
        for fault, pattern in _patterns(book)
        for look in pattern.looks
        if look.inspection == what and look.word == word
    )


def _read(book: Book, what: str, state: str) -> Mapping[str, float]:
    return _weighed(
        (fault, pattern.share * read.q.p)
        for fault, pattern in _patterns(book)
        for read in pattern.reads
        if read.measurement == what and read.state == state
    )


def _shown(book: Book, sign: str) -> Mapping[str, float]:
    return _weighed(
        (fault, pattern.share * act.q.p * ending.share)
        for fault, pattern in _patterns(book)
        for act in pattern.acts
        for ending in act.endings
        if sign in ending.shows
    )


def _patterns(book: Book) -> Iterable[tuple[Fault, Pattern]]:
    known = (fault for fault in book.faults.values() if not fault.is_normal and not fault.is_unlisted)
    return ((fault, pattern) for fault in known for pattern in fault.patterns)


def _weighed(shows: Iterable[tuple[Fault, float]]) -> Mapping[str, float]:
    found: dict[str, float] = {}
    for fault, p in shows:
        found[fault.id] = found.get(fault.id, 0.0) + fault.base.p * p
    return found


def _repairs(book: Book, faults: Mapping[str, float], number: str) -> tuple[str, ...]:
    """Return for each of the commonest faults the repair that mends it most surely, at its place."""
    found = []
    for name in sorted(faults, key=lambda name: (-faults[name], name))[:FAULTS]:
        cures = [cure for cure in book.faults[name].cures if cure.repair in book.repairs]
        if cures:
            best = max(cures, key=lambda cure: (cure.goes.p, cure.repair))
            at = book.repairs[best.repair].at
            found.append(f"{best.repair}@{at}{_first(book, at) and (number or _first(book, at))}")
    return tuple(dict.fromkeys(found))


def _first(book: Book, at: str) -> str:
    kinds = book.joints[at].between if at in book.joints else (at,)
    return ".1" if any(kind in book.kinds and book.kinds[kind].many for kind in kinds) else ""


def _state(point: Measurement, value: float) -> str:
    """Return where a number lies: low, high, absent (as low as nothing), or "" for inside."""
    side = side_of(value, point)
    nearest = min((abs(limit) for limit in limits_of(point) if limit is not None), default=0.0)
    if side == LOW and abs(value) < _NOTHING * nearest:
        return "absent"
    return "" if side == INSIDE else side


_NOTHING = 0.1
