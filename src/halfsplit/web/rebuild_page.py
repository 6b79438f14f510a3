"""The rebuild list: what was taken out or opened must be back, and be looked at, before the proof runs."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from starlette.responses import Response

from halfsplit import actions
from halfsplit.job.changes import Course, Opened
from halfsplit.job.lines import book_of, numbered, said_place, title_of_slot
from halfsplit.job.units import OWNER, Pair, kind_of, number_of
from halfsplit.model.bench import LEAVES_OFF
from halfsplit.model.book import Book
from halfsplit.model.job import Entry, Inspect, Job, Remark, RepairDone
from halfsplit.web.entry_text import fields_text
from halfsplit.web.screen import show
from halfsplit.web.seen_page import Choice
from halfsplit.web.setup_chips import Chip, chips_of
from halfsplit.web.texts import say
from halfsplit.web.visit import Visit

ON_BOARD = ("settings", "cell", "firmware", "board")
"""Kinds of part after whose repair the firmware's settings are to be set again."""

LEAST_MOVED = 0.005
"""A joint that work moves less often is not asked for."""


@dataclass(frozen=True)
class Joint:
    """A joint that work may have moved.

    Args:
        title: what it is, with its number.
        seen: what the last look since then saw, or "".
        is_fine: whether that look was fine.
        choices: what a look may see; none where the fault book has no look at it.
    """

    title: str
    seen: str
    is_fine: bool
    choices: tuple[Choice, ...]


@dataclass(frozen=True)
class RebuildPage:
    """The rebuild list.

    Args:
        number: of the job.
        moved: what is not as it came, each with the tap that puts it back.
        fitted: what a repair left otherwise, as it should be.
        opened: what was opened, the innermost first: in this order it is closed.
        joints: what that work may have moved, what was not looked at first, then what is likeliest moved.
        home: what else is to be minded before it goes home.
    """

    number: int
    moved: tuple[Chip, ...]
    fitted: tuple[str, ...]
    opened: tuple[str, ...]
    joints: tuple[Joint, ...]
    home: tuple[str, ...]


def show_rebuild(visit: Visit) -> Response:
    """Answer with the rebuild list of a job."""
    view = actions.job_view(visit.desk.bench, visit.number)
    return show(visit, "rebuild", rebuild_page(visit.number, view.job or Job(), view.course, view.on_file.book))


def rebuild_page(number: int, job: Job, course: Course | None, book: Book) -> RebuildPage:
    """Return the rebuild list.

    Args:
        number: of the job.
        job: the job.
        course: what its log did to the machine, or None where that cannot be said.
        book: the fault book.
    """
    if course is None:
        return RebuildPage(number, (), (), (), (), ())
    log = [moment.entry for moment in course.moments if moment.entry is not None]
    meant = _meant(course, log, book_of(course, book))
    changed = [chip for chip in chips_of(course, book) if chip.is_changed]
    return RebuildPage(
        number,
        tuple(chip for chip in changed if chip.title not in meant),
        tuple(f"{chip.title}: {chip.state}" for chip in changed if chip.title in meant),
        tuple(book.openings[name].title for name in reversed(_opened(course))),
        tuple(sorted(_joints(course, book), key=lambda joint: joint.is_fine)),
        tuple(_home(job, log, book)),
    )


def _opened(course: Course) -> list[str]:
    """Return the openings that were made, each once, the outermost first."""
    made = [opened for moment in course.moments for opened in moment.changes if isinstance(opened, Opened)]
    return [*dict.fromkeys(name for opened in made for name in opened.openings)]


def _meant(course: Course, log: Iterable[Entry], book: Book) -> frozenset[str]:
    """Return the titles of parts that a repair replaced or left off: they are not put back."""
    repairs = [entry for entry in log if isinstance(entry, RepairDone)]
    fitted = {entry.fitted for entry in repairs}
    left_off = {entry.to for entry in repairs if book.repairs[entry.do].does == LEAVES_OFF}
    slots = course.standing[OWNER].slots
    meant = {slot for slot, unit in slots.items() if unit.startswith("new.") or unit in fitted} | left_off
    return frozenset(title_of_slot(slot, book) for slot in meant if slot.partition(".")[0] in book.kinds)


def _joints(course: Course, book: Book) -> Iterable[Joint]:
    """Yield the joints that openings and repairs reached, what is likeliest moved first, with the last look since."""
    reached = _reached(course, book)
    seen, words_book = _looked_at(course, book, reached.keys()), book_of(course, book)
    for name in sorted(reached, key=lambda name: (-reached[name], name)):
        joint = kind_of(name)
        looks = [each for each in book.inspections.values() if each.at == joint]
        look = next((each for each in looks if each.id == joint), looks[0] if looks else None)
        words = tuple(reversed(look.seen)) if look is not None else ()
        choices = tuple(
            Choice(word.replace("_", " "), fields_text("inspect", {"at": look.id + number_of(name), "seen": word}))
            for word in words
            if look is not None
        )
        word, title = seen.get(name, ""), numbered(book.joints[joint].title, said_place(name, words_book))
        yield Joint(title, word.replace("_", " "), bool(words) and word == words[0], choices)


def _reached(course: Course, book: Book) -> Mapping[str, float]:
    """Return joint with its number -> the chance that work moved it; 1 where it was worked at itself."""
    now = {pair.name for pair in _pairs(course)}
    found: dict[str, float] = {}
    for opened in (each for moment in course.moments for each in moment.changes if isinstance(each, Opened)):
        for pair in opened.reaches:
            if isinstance(pair, Pair) and pair.name in now:
                moves = [
                    book.openings[name].disturbs[pair.joint].p for name in opened.openings if _moves(book, name, pair)
                ]
                is_at = opened.at == pair.joint and opened.number in ("", pair.number)
                found[pair.name] = max([found.get(pair.name, 0.0), *moves, float(is_at)])
    return {name: p for name, p in found.items() if p >= LEAST_MOVED}


def _moves(book: Book, opening: str, pair: Pair) -> bool:
    return pair.joint in book.openings[opening].disturbs


def _looked_at(course: Course, book: Book, names: Collection[str]) -> Mapping[str, str]:
    """Return joint with its number -> what was seen there since work last reached it; a repair ends what was bad."""
    fine = {look.at: look.seen[-1] for look in book.inspections.values()}  # "fine" for all of them
    found: dict[str, str] = {}
    for moment in course.moments:
        for opened in moment.changes:
            if isinstance(opened, Opened):
                found |= {pair.name: "" for pair in opened.reaches if isinstance(pair, Pair)}
        if isinstance(moment.entry, RepairDone):
            found = {name: word for name, word in found.items() if word == fine.get(name.partition(".")[0])}
        if isinstance(moment.entry, Inspect) and moment.entry.on == OWNER:
            seen = {pair.name for pair in moment.looked_at if isinstance(pair, Pair)} & set(names)
            found |= dict.fromkeys(seen, moment.entry.seen)
    return found


def _pairs(course: Course) -> Iterable[Pair]:
    last = next((moment.together for moment in reversed(course.moments) if moment.together.setup.host == OWNER), None)
    return [pair for pair in last.footholds if isinstance(pair, Pair)] if last is not None else []


def _home(job: Job, log: Iterable[Entry], book: Book) -> Iterable[str]:
    log = list(log)
    along = say("intake.came_along_note", what="")
    yield from (entry.text for entry in log if isinstance(entry, Remark) and entry.text.startswith(along))
    repairs = [book.repairs[entry.do] for entry in log if isinstance(entry, RepairDone)]
    if any(repair.at in ON_BOARD for repair in repairs):
        yield say("rebuild.settings")
    if job.machine.get("drive_lock") == "encrypted":
        yield say("rebuild.key")
    yield say("rebuild.screws")
