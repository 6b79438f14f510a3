"""The shelf: the bench's own parts, how far each can be trusted, what happened to it, and what is used up."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from starlette.responses import Response

from halfsplit import actions
from halfsplit.errors import Mistake, WebError
from halfsplit.job.standing import p_bad_of
from halfsplit.model.book import Book
from halfsplit.model.machine import ShelfPart
from halfsplit.store.shelf import (
    ADDED,
    COUNTED,
    EXPOSED,
    GONE,
    PROVEN,
    REGRADED,
    TAKEN_BACK,
    Consumable,
    PartOnShelf,
    ShelfEvent,
)
from halfsplit.text import entry_name, in_words
from halfsplit.web.entry_fields import MOST_DIGITS
from halfsplit.web.screen import show
from halfsplit.web.texts import say
from halfsplit.web.visit import Visit, go_to

EVENTS = 12
"""The last things that happened to a part, at most, that are told."""

FEW = 3
"""So few of something that is used up are shown (common practice)."""


@dataclass(frozen=True)
class ShelfLine:
    """One part of the shelf.

    Args:
        id: as in a job file, without ``shelf.``.
        title: what it is.
        kind: of part, as the trade says it.
        grade: its title.
        good: how likely it is good as it stands, in words.
        proven: when it last showed that it is good, in words.
        exposures: how often it was at risk since.
        is_due: whether it is to be proven again.
        events: what happened to it, the last first: when, what, and the number of the job or None.
    """

    id: str
    title: str
    kind: str
    grade: str
    good: str
    proven: str
    exposures: int
    is_due: bool
    events: tuple[tuple[str, str, int | None], ...]


@dataclass(frozen=True)
class ShelfKind:
    """The parts of the shelf of one kind.

    Args:
        title: of the kind, as the trade says it.
        parts: what there is of it.
        due: how many of them are to be proven again.
    """

    title: str
    parts: tuple[ShelfLine, ...]
    due: int


@dataclass(frozen=True)
class CountLine:
    """Something that is used up: its id, what it is, how many there are, and whether those are few."""

    id: str
    title: str
    count: int
    is_few: bool


@dataclass(frozen=True)
class ShelfPage:
    """The shelf.

    Args:
        parts: what is on it, by kind of part.
        counted: what is used up.
        kinds, grades: what a new part may be: id and title.
        is_stocked: whether anything was ever put on it.
    """

    parts: tuple[ShelfKind, ...]
    counted: tuple[CountLine, ...]
    kinds: tuple[tuple[str, str], ...]
    grades: tuple[tuple[str, str], ...]
    is_stocked: bool


def show_shelf(visit: Visit) -> Response:
    """Answer with the shelf."""
    bench, book = visit.desk.bench, visit.desk.bench.book
    parts, counted = actions.list_shelf(bench)
    events: dict[str, list[ShelfEvent]] = {}
    for event in actions.shelf_events(bench):
        if event.what != COUNTED:
            events.setdefault(event.item, []).append(event)
    page = ShelfPage(
        _by_kind(_line(part, events.get(part.id, []), visit) for part in parts if not part.is_gone),
        tuple(CountLine(item.id, item.title, item.count, item.count <= FEW) for item in counted),
        tuple((name, kind.title) for name, kind in book.kinds.items()),
        tuple((name, grade.title) for name, grade in book.grades.items()),
        bool(parts),
    )
    return show(visit, "shelf", page)


def change_shelf(visit: Visit) -> Response:
    """Change something on the shelf: stock it, add or count something, or let something happen to a part."""
    bench, by, now, part = visit.desk.bench, visit.who, visit.now, visit.one("part")
    match visit.one("what"):
        case "stock":
            actions.stock_shelf(bench, by=by, now=now)
        case "add":
            added = PartOnShelf(_id(visit, "kind"), visit.one("kind"), visit.one("grade"), visit.one("title"))
            actions.add_shelf_part(bench, added, by=by, now=now)
        case "proven":
            actions.prove_part(bench, part, by=by, now=now)
        case "regrade":
            actions.regrade_part(bench, part, visit.one("grade"), by=by, now=now)
        case "gone":
            actions.drop_part(bench, part, by=by, now=now)
        case "used":
            actions.use_consumable(bench, visit.one("item"), by=by, now=now)
        case "count":
            actions.count_consumable(bench, _counted(visit), by=by, now=now)
        case other:
            should = "it is stock, add, proven, regrade, gone, used or count"
            raise WebError([Mistake("what", "HS805", f"it is '{other}'", should, "Choose one of them")])
    return go_to(f"/shelf#{part}" if part else "/shelf")


def _by_kind(lines: Iterable[ShelfLine]) -> tuple[ShelfKind, ...]:
    """Return parts by their kind, each kind where its first part stands."""
    kinds: dict[str, list[ShelfLine]] = {}
    for line in lines:
        kinds.setdefault(line.kind, []).append(line)
    return tuple(ShelfKind(kind, tuple(each), sum(line.is_due for line in each)) for kind, each in kinds.items())


def _line(part: PartOnShelf, events: list[ShelfEvent], visit: Visit) -> ShelfLine:
    book, now = visit.desk.bench.book, visit.now
    days = (now - datetime.fromisoformat(part.proven_at)).days if part.proven_at else None
    grade = book.grades.get(part.grade)
    p_bad = None
    if grade is not None and part.kind in book.kinds:
        p_bad = p_bad_of(ShelfPart(part.id, part.kind, part.grade), part.standing(now.isoformat()), book)
    proven = say("shelf.unproven") if days is None else say("shelf.proven", days=days) if days else say("shelf.today")
    return ShelfLine(
        part.id,
        part.title or part.id,
        book.kinds[part.kind].title if part.kind in book.kinds else part.kind,
        grade.title if grade is not None else part.grade,
        in_words(1.0 - p_bad) if p_bad is not None else "",
        proven,
        part.exposures,
        p_bad is not None and p_bad >= visit.desk.settings().rates.try_first,
        tuple(_told(events, book)),
    )


def _told(events: list[ShelfEvent], book: Book) -> Iterable[tuple[str, str, int | None]]:
    for event in reversed(events[-EVENTS:]):
        grade = book.grades[event.said].title if event.said in book.grades else event.said
        said = {
            ADDED: say("shelf.was_added", grade=grade),
            EXPOSED: say("shelf.was_exposed", run=entry_name(event.said)),
            TAKEN_BACK: say("shelf.was_taken_back", run=entry_name(event.said)),
            PROVEN: say("shelf.was_proven"),
            REGRADED: say("shelf.was_regraded", grade=grade),
            GONE: say("shelf.was_gone"),
        }[event.what]
        yield event.at, f"{said} {event.initials}".strip(), event.job


def _counted(visit: Visit) -> Consumable:
    """Return what is counted anew: there are as many as were written."""
    there = {item.id: item for item in actions.list_shelf(visit.desk.bench)[1]}
    name = visit.one("item") or _id(visit, "title")
    known = there.get(name)
    many = visit.one("many")
    if not many.isdecimal() or len(many) > MOST_DIGITS or not name:
        so = f"'{many}' is no count"
        should = (
            f"what is used up has a name, and a whole number of at most {MOST_DIGITS} digits says how many there are"
        )
        raise WebError([Mistake("many", "HS805", so, should, "Write how many there are")])
    return Consumable(name, known.title if known is not None else visit.one("title"), int(many))


def _id(visit: Visit, otherwise: str) -> str:
    """Return the id of something new by its title, or by what else is known of it."""
    return re.sub(r"\W+", "_", visit.one("title").casefold()).strip("_") or visit.one(otherwise)
