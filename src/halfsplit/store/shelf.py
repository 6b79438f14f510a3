"""The shelf: the bench's own parts and what is used up there, and everything that happened to them."""

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from datetime import datetime

from sqlalchemy import Connection, insert, select, update

from halfsplit.errors import Mistake, StoreError
from halfsplit.model.machine import Standing
from halfsplit.store.loans import change_loans, lend
from halfsplit.store.tables import CONSUMABLE, SHELF_EVENT, SHELF_PART

ADDED, EXPOSED, TAKEN_BACK, PROVEN = "added", "exposed", "taken_back", "proven"
REGRADED, GONE, COUNTED = "regraded", "gone", "counted"
"""What happens on a shelf."""


@dataclass(frozen=True)
class PartOnShelf:
    """A part of the shelf as it stands.

    Args:
        id: as in a job file, without ``shelf.``.
        kind: of part.
        grade: as in the fault book.
        title: "" is none.
        proven_at: when it last showed that it is good, "" = never here.
        exposures: how often it was at risk since then.
        is_gone: whether it is off the shelf for good.
        p_bad: the chance that it was bad when that was last known, from a job that it was in; None = as its grade says.
        new_exposures: how often it was at risk since that was known.
        known_at: when that was: it was put on the shelf, proven, graded, or weighed; "" = not known.
    """

    id: str
    kind: str
    grade: str
    title: str = ""
    proven_at: str = ""
    exposures: int = 0
    is_gone: bool = False
    p_bad: float | None = None
    new_exposures: int = 0
    known_at: str = ""

    def standing(self, at: str) -> Standing:
        """Return how it stands at a moment."""
        days = (datetime.fromisoformat(at) - datetime.fromisoformat(self.known_at)).days if self.known_at and at else 0
        return Standing(self.p_bad, self.new_exposures, max(0, days))


@dataclass(frozen=True)
class Consumable:
    """Something that is used up (paste, cells), counted."""

    id: str
    title: str
    count: int


@dataclass(frozen=True)
class ShelfEvent:
    """Something that happened to a part or a consumable.

    Args:
        item: the id of the part or consumable.
        what: "added", "exposed" (it was at risk), "taken_back" (it was not, after all), "proven", "regraded", "gone" or
            "counted".
        said: the new grade or count, what it was exposed to or not, or how likely it is bad although it was proven.
        job: the job that it happened in, or None.
        initials, at: who entered it, and when.
    """

    item: str
    what: str
    said: str = ""
    job: int | None = None
    initials: str = ""
    at: str = ""


def part_after(part: PartOnShelf, event: ShelfEvent) -> PartOnShelf:
    """Return a part as it stands after something happened to it."""
    match event.what:
        case "added":
            return replace(part, known_at=event.at)
        case "exposed" | "taken_back":
            more = 1 if event.what == EXPOSED else -1
            exposures, new = (max(0, many + more) for many in (part.exposures, part.new_exposures))
            return replace(part, exposures=exposures, new_exposures=new)
        case "proven":
            p_bad = float(event.said) if event.said else None
            return replace(part, proven_at=event.at, exposures=0, p_bad=p_bad, new_exposures=0, known_at=event.at)
        case "regraded":
            return replace(part, grade=event.said, p_bad=None, new_exposures=0, known_at=event.at)
        case "gone":
            return replace(part, is_gone=True)
        case _:
            return part


def list_parts(connection: Connection) -> tuple[PartOnShelf, ...]:
    """Return every part that is or was on the shelf, by id."""
    query = select(*[SHELF_PART.c[each.name] for each in fields(PartOnShelf)]).order_by(SHELF_PART.c.id)
    rows = connection.execute(query).mappings()
    return tuple(PartOnShelf(**{**row, "is_gone": bool(row["is_gone"])}) for row in rows)


def list_consumables(connection: Connection) -> tuple[Consumable, ...]:
    """Return what is used up, by id."""
    query = select(*[CONSUMABLE.c[each.name] for each in fields(Consumable)]).order_by(CONSUMABLE.c.id)
    return tuple(Consumable(**row) for row in connection.execute(query).mappings())


def list_events(connection: Connection, item: str = "") -> tuple[ShelfEvent, ...]:
    """Return what happened to a part or consumable, or to all, in order."""
    query = select(*[SHELF_EVENT.c[each.name] for each in fields(ShelfEvent)]).order_by(SHELF_EVENT.c.id)
    if item:
        query = query.where(SHELF_EVENT.c.item == item)
    return tuple(ShelfEvent(**row) for row in connection.execute(query).mappings())


def still_counts(connection: Connection, job: int, run: str, part: str) -> bool:
    """Return whether a run of a job is noted as an exposure of a part, and the part was not proven or graded since."""
    for event in reversed(list_events(connection, part)):
        if event.what in (ADDED, PROVEN, REGRADED):
            return False
        if (event.job, event.said) == (job, run):
            return event.what == EXPOSED
    return False


def add_part(connection: Connection, part: PartOnShelf, event: ShelfEvent) -> None:
    """Put a part on the shelf.

    Raises:
        StoreError: HS731 its id is taken.
    """
    if any(each.id == part.id for each in list_parts(connection)):
        so, should = f"the id '{part.id}' is taken", "each part of the shelf has an id of its own, for good"
        raise StoreError([Mistake("shelf", "HS731", so, should, "Write another id")])
    connection.execute(insert(SHELF_PART).values(**_values(part_after(part, event))))
    _note(connection, event)


def change_part(connection: Connection, event: ShelfEvent) -> PartOnShelf:
    """Let something happen to a part, and return it as it stands then.

    Raises:
        StoreError: HS732 there is no such part on the shelf.
    """
    part = next((each for each in list_parts(connection) if each.id == event.item), None)
    if part is None or part.is_gone:
        so, should = f"there is no part '{event.item}'", "only a part that is on the shelf can be used"
        raise StoreError([Mistake("shelf", "HS732", so, should, "Put it on the shelf first, or take another")])
    if event.what == EXPOSED and event.job is not None:
        lend(connection, event.job, part.id, part.standing(event.at))
    after = part_after(part, event)
    if event.what == PROVEN:
        change_loans(connection, part.id, after.standing(event.at))
    connection.execute(update(SHELF_PART).where(SHELF_PART.c.id == part.id).values(**_values(after)))
    _note(connection, event)
    return after


def keep_p_bad(connection: Connection, job: int, p_bad: Mapping[str, float], at: str) -> None:
    """Keep how likely parts of the shelf are bad after a job, for those that were in no other job since.

    Args:
        connection: of a transaction.
        job: the job's number.
        p_bad: part -> the chance that it is bad, as the job was weighed; two digits of it are kept.
        at: the moment up to which the job was weighed.
    """
    query = select(SHELF_EVENT.c.what, SHELF_EVENT.c.job).order_by(SHELF_EVENT.c.id.desc()).limit(1)
    for part, p in p_bad.items():
        last = connection.execute(query.where(SHELF_EVENT.c.item == part)).one_or_none()
        if last in ((EXPOSED, job), (TAKEN_BACK, job)):
            values = {"p_bad": float(f"{p:.2g}"), "new_exposures": 0, "known_at": at}
            connection.execute(update(SHELF_PART).where(SHELF_PART.c.id == part).values(**values))


def count_consumable(connection: Connection, item: Consumable, event: ShelfEvent) -> None:
    """Set how many of a consumable there are."""
    values = {each.name: getattr(item, each.name) for each in fields(item)}
    if connection.execute(update(CONSUMABLE).where(CONSUMABLE.c.id == item.id).values(**values)).rowcount == 0:
        connection.execute(insert(CONSUMABLE).values(**values))
    _note(connection, event)


def use_consumable(connection: Connection, event: ShelfEvent) -> None:
    """Take one of a consumable; its new count is noted with the event.

    Raises:
        StoreError: HS734 there is none of it left.
    """
    one_less = update(CONSUMABLE).values(count=CONSUMABLE.c.count - 1).returning(CONSUMABLE.c.count)
    is_there = (CONSUMABLE.c.id == event.item) & (CONSUMABLE.c.count > 0)
    count = connection.execute(one_less.where(is_there)).scalar_one_or_none()
    if count is None:
        so, should = "there is none of it left to be used", "a count is 0 or more"
        raise StoreError([Mistake(f"shelf: {event.item}", "HS734", so, should, "Count again")])
    _note(connection, replace(event, said=str(count)))


def _values(part: PartOnShelf) -> dict[str, object]:
    return {**{each.name: getattr(part, each.name) for each in fields(part)}, "is_gone": int(part.is_gone)}


def _note(connection: Connection, event: ShelfEvent) -> None:
    connection.execute(insert(SHELF_EVENT).values(**{each.name: getattr(event, each.name) for each in fields(event)}))
