"""The shelf: parts put on it, what happens to them, and what is used up."""

from datetime import datetime

from halfsplit.actions.bench import Bench, in_utc
from halfsplit.errors import Mistake, StoreError
from halfsplit.job.standing import p_bad_proven
from halfsplit.store import shelf
from halfsplit.store.jobs import get_job
from halfsplit.store.shelf import ADDED, COUNTED, GONE, PROVEN, REGRADED, Consumable, PartOnShelf, ShelfEvent


def stock_shelf(bench: Bench, *, by: str, now: datetime) -> tuple[PartOnShelf, ...]:
    """Put every part on the shelf that the fault book has there and the bench had never; return those."""
    with bench.store.writing() as connection:
        known = {part.id for part in shelf.list_parts(connection)}
        parts = [
            PartOnShelf(part.id, part.kind, part.grade, part.title)
            for part in bench.book.shelf.values()
            if part.id not in known
        ]
        for part in parts:
            shelf.add_part(connection, part, ShelfEvent(part.id, ADDED, part.grade, None, by, in_utc(now)))
    return tuple(parts)


def add_shelf_part(bench: Bench, part: PartOnShelf, *, by: str, now: datetime) -> None:
    """Put a part on the shelf.

    Raises:
        StoreError: HS731 its id is taken; HS733 the fault book has no such kind of part or no such grade.
    """
    _check_word(bench, part.kind, list(bench.book.kinds), "kind of part")
    _check_word(bench, part.grade, list(bench.book.grades), "grade")
    with bench.store.writing() as connection:
        shelf.add_part(connection, part, ShelfEvent(part.id, ADDED, part.grade, None, by, in_utc(now)))


def prove_part(bench: Bench, part: str, *, by: str, now: datetime, job: int | None = None) -> PartOnShelf:
    """Note that a part has just shown that it is good; its exposures count from here.

    Raises:
        StoreError: HS732 there is no such part on the shelf.
    """
    said = f"{p_bad_proven(bench.book):.2g}"
    return _change(bench, ShelfEvent(part, PROVEN, said, job, by, in_utc(now)))


def regrade_part(bench: Bench, part: str, grade: str, *, by: str, now: datetime, job: int | None = None) -> PartOnShelf:
    """Give a part another grade.

    Raises:
        StoreError: HS732 there is no such part on the shelf; HS733 the fault book has no such grade.
    """
    _check_word(bench, grade, list(bench.book.grades), "grade")
    return _change(bench, ShelfEvent(part, REGRADED, grade, job, by, in_utc(now)))


def drop_part(bench: Bench, part: str, *, by: str, now: datetime, job: int | None = None) -> PartOnShelf:
    """Take a part off the shelf for good: dead, sold or fitted in a job.

    Raises:
        StoreError: HS732 there is no such part on the shelf.
    """
    return _change(bench, ShelfEvent(part, GONE, "", job, by, in_utc(now)))


def count_consumable(bench: Bench, item: Consumable, *, by: str, now: datetime, job: int | None = None) -> None:
    """Set how many of something that is used up there are.

    Raises:
        StoreError: HS734 the count is below 0.
    """
    if item.count < 0:
        so, should = f"the count is {item.count}", "a count is 0 or more"
        raise StoreError([Mistake(f"shelf: {item.id}", "HS734", so, should, "Count again")])
    event = ShelfEvent(item.id, COUNTED, str(item.count), job, by, in_utc(now))
    with bench.store.writing() as connection:
        if job is not None:
            get_job(connection, job)
        shelf.count_consumable(connection, item, event)


def use_consumable(bench: Bench, item: str, *, by: str, now: datetime) -> None:
    """Take one of something that is used up, however many others take one at the same moment.

    Raises:
        StoreError: HS734 there is none of it left.
    """
    with bench.store.writing() as connection:
        shelf.use_consumable(connection, ShelfEvent(item, COUNTED, "", None, by, in_utc(now)))


def list_shelf(bench: Bench) -> tuple[tuple[PartOnShelf, ...], tuple[Consumable, ...]]:
    """Return the parts that are or were on the shelf, and what is used up, each by id."""
    with bench.store.reading() as connection:
        return shelf.list_parts(connection), shelf.list_consumables(connection)


def shelf_events(bench: Bench, item: str = "") -> tuple[ShelfEvent, ...]:
    """Return what happened to a part or consumable, or to all, in order."""
    with bench.store.reading() as connection:
        return shelf.list_events(connection, item)


def _change(bench: Bench, event: ShelfEvent) -> PartOnShelf:
    with bench.store.writing() as connection:
        if event.job is not None:
            get_job(connection, event.job)
        return shelf.change_part(connection, event)


def _check_word(bench: Bench, word: str, allowed: list[str], what: str) -> None:
    if word not in allowed:
        so, should = f"'{word}' is no {what}", f"allowed here: {', '.join(allowed)}"
        raise StoreError([Mistake("shelf", "HS733", so, should, "Write one of them")])
