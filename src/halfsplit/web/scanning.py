"""What a scanned label does: it opens its job, or puts its part of the shelf into the machine on the bench."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from starlette.responses import Response

from halfsplit import actions
from halfsplit.actions import JobView
from halfsplit.errors import Mistake, StoreError, WebError
from halfsplit.job.lines import title_of, title_of_slot
from halfsplit.job.units import OWNER, kind_of
from halfsplit.model.bench import REPLACES
from halfsplit.model.book import Book
from halfsplit.model.job import RepairDone
from halfsplit.store.shelf import PartOnShelf
from halfsplit.web.codes import JOB, read_code
from halfsplit.web.entry_fields import read_whole
from halfsplit.web.entry_text import fields_text
from halfsplit.web.screen import show
from halfsplit.web.texts import say
from halfsplit.web.visit import Visit, go_to

NEW_STOCK = "new_stock"
"""The grade of parts that are never lent: one that was is used."""

_SWAPPED = str.maketrans("yz", "zy")
"""Letters that lie the other way round on some keyboards, as which a scanner may type."""


@dataclass(frozen=True)
class Place:
    """A place that a part may go to: its title, what is there now, and the entry that puts the part there."""

    title: str
    held: str
    entry: str


@dataclass(frozen=True)
class ScannedPage:
    """A part that may go to several places, or is fitted for good or lent.

    Args:
        number: of the job.
        part: what was scanned.
        is_new: whether it is new stock, which is never lent.
        places: where it may go.
    """

    number: int
    part: str
    is_new: bool
    places: tuple[Place, ...]


def scan(visit: Visit) -> Response:
    """Open the job of a label; or swap a part of the shelf in, or out again, where a job is open beside it.

    Raises:
        WebError: HS805 no job has such a number; HS811 it is none of this bench's codes; HS812 the machine cannot take
            the part.
        StoreError: HS711 there is no such job; HS732 there is no such part on the shelf.
    """
    code = read_code(visit.one("code"))
    if code.of == JOB:
        number = read_whole(say("scan.job"), code.id)
        return go_to(f"/jobs/{actions.job_view(visit.desk.bench, number).row.number}")
    part = _part(visit, code.id)
    if not visit.one("job").isdecimal():
        return go_to(f"/shelf#{part.id}")
    return _swap(visit, actions.job_view(visit.desk.bench, read_whole(say("scan.job"), visit.one("job"))), part)


def _part(visit: Visit, name: str) -> PartOnShelf:
    there = {part.id: part for part in actions.list_shelf(visit.desk.bench)[0] if not part.is_gone}
    for each in (name, name.translate(_SWAPPED)):
        if each in there:
            return there[each]
    so, should = f"there is no part '{name}'", "only a part that is on the shelf can be used"
    raise StoreError([Mistake("shelf", "HS732", so, should, "Put it on the shelf first, or take another")])


def _swap(visit: Visit, view: JobView, part: PartOnShelf) -> Response:
    number, book = view.row.number, view.on_file.book
    if view.course is None or not view.row.is_open:
        raise WebError([_no_place(number, part, "the job is closed, or its log cannot be read")])
    now, unit = view.course.standing[OWNER].slots, f"shelf.{part.id}"
    back = next((slot for slot, held in now.items() if held == unit), "")
    if back and _is_fitted(view, unit):
        return go_to(f"/jobs/{number}#setup")
    if back:
        entry = fields_text("setup", {back: "in" if back in view.course.intake[OWNER].slots else "out"})
        return _enter(visit, number, entry)
    slots = [slot for slot in dict.fromkeys((*view.course.intake[OWNER].slots, *now)) if kind_of(slot) == part.kind]
    kind = book.kinds.get(part.kind)
    if kind is None:
        raise WebError([_no_place(number, part, "the fault book has no such kind of part")])
    empty = [slot for slot in slots if not now.get(slot)]
    slots = slots or [f"{part.kind}.1" if kind.many else part.kind]
    if part.grade == NEW_STOCK:
        held = [(slot, now.get(slot, "")) for slot in slots]
        return show(visit, "scanned", _new_stock(number, part, held, book))
    if len(slots) == 1 or len(empty) == 1:
        return _enter(visit, number, fields_text("setup", {(empty or slots)[0]: unit}))
    places = tuple(_place(slot, now.get(slot, ""), {slot: unit}, book) for slot in empty or slots)
    return show(visit, "scanned", ScannedPage(number, part.title or part.id, False, places))


def _new_stock(number: int, part: PartOnShelf, places: Sequence[tuple[str, str]], book: Book) -> ScannedPage:
    """Return the question for a part that is never lent: is it fitted for good, or lent, and used from then on."""
    unit = f"shelf.{part.id}"
    repair = next((each for each in book.repairs.values() if each.does == REPLACES and each.at == part.kind), None)
    fitted = [
        Place(say("scan.fitted", place=title_of_slot(slot, book)), _held(held, book), _fitting(repair.id, slot, unit))
        for slot, held in places
        if repair is not None
    ]
    lent = [
        Place(say("scan.lent", place=title_of_slot(slot, book)), _held(held, book), fields_text("setup", {slot: unit}))
        for slot, held in places
    ]
    return ScannedPage(number, part.title or part.id, True, (*fitted, *lent))


def _fitting(repair: str, slot: str, unit: str) -> str:
    return fields_text("repair", {"do": repair, "at": slot, "with": unit})


def _place(slot: str, held: str, setup: Mapping[str, str], book: Book) -> Place:
    return Place(title_of_slot(slot, book), _held(held, book), fields_text("setup", setup))


def _is_fitted(view: JobView, unit: str) -> bool:
    """Return whether a repair fitted a part: then it is not taken out by a scan."""
    moments = view.course.moments if view.course is not None else ()
    return any(isinstance(each.entry, RepairDone) and each.entry.fitted == unit for each in moments)


def _enter(visit: Visit, number: int, entry: str) -> Response:
    actions.record(visit.desk.bench, number, entry, by=visit.who, now=visit.now)
    return go_to(f"/jobs/{number}#setup")


def _held(unit: str, book: Book) -> str:
    return title_of(unit, book) if unit else ""


def _no_place(number: int, part: PartOnShelf, so: str) -> Mistake:
    should = f"'{part.title or part.id}' goes into an open job"
    return Mistake(f"job {number}", "HS812", so, should, "Scan the label of the machine that it goes into first")
