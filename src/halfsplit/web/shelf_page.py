"""The shelf: the bench's own parts, how far each can be trusted, and what happened to it."""

import re
from dataclasses import dataclass

from starlette.responses import Response

from halfsplit import actions
from halfsplit.errors import Mistake, WebError
from halfsplit.store.shelf import PartOnShelf
from halfsplit.web.screen import show
from halfsplit.web.visit import Visit, go_to


@dataclass(frozen=True)
class ShelfLine:
    """One part of the shelf.

    Args:
        id: as in a job file, without ``shelf.``.
        title: what it is.
        kind: of part, as the trade says it.
        grade: its title.
        proven_at: when it last showed that it is good, "" = never here.
        exposures: how often it was at risk since.
    """

    id: str
    title: str
    kind: str
    grade: str
    proven_at: str
    exposures: int


@dataclass(frozen=True)
class ShelfPage:
    """The shelf.

    Args:
        parts: what is on it.
        kinds, grades: what a new part may be: id and title.
        is_stocked: whether anything was ever put on it.
    """

    parts: tuple[ShelfLine, ...]
    kinds: tuple[tuple[str, str], ...]
    grades: tuple[tuple[str, str], ...]
    is_stocked: bool


def show_shelf(visit: Visit) -> Response:
    """Answer with the shelf."""
    book = visit.desk.bench.book
    parts = actions.list_shelf(visit.desk.bench)[0]
    lines = tuple(
        ShelfLine(
            part.id,
            part.title or part.id,
            book.kinds[part.kind].title if part.kind in book.kinds else part.kind,
            book.grades[part.grade].title if part.grade in book.grades else part.grade,
            part.proven_at,
            part.exposures,
        )
        for part in parts
        if not part.is_gone
    )
    kinds = tuple((name, kind.title) for name, kind in book.kinds.items())
    grades = tuple((name, grade.title) for name, grade in book.grades.items())
    return show(visit, "shelf", ShelfPage(lines, kinds, grades, bool(parts)))


def change_shelf(visit: Visit) -> Response:
    """Change something on the shelf: stock it, add a part, or let something happen to one."""
    bench, by, now, part = visit.desk.bench, visit.who, visit.now, visit.one("part")
    match visit.one("what"):
        case "stock":
            actions.stock_shelf(bench, by=by, now=now)
        case "add":
            name = re.sub(r"\W+", "_", visit.one("title").casefold()).strip("_") or visit.one("kind")
            added = PartOnShelf(name, visit.one("kind"), visit.one("grade"), visit.one("title"))
            actions.add_shelf_part(bench, added, by=by, now=now)
        case "proven":
            actions.prove_part(bench, part, by=by, now=now)
        case "regrade":
            actions.regrade_part(bench, part, visit.one("grade"), by=by, now=now)
        case "gone":
            actions.drop_part(bench, part, by=by, now=now)
        case other:
            should = "it is stock, add, proven, regrade or gone"
            raise WebError([Mistake("what", "HS805", f"it is '{other}'", should, "Choose one of them")])
    return go_to("/shelf")
