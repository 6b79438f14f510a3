"""The rebuild list: what was taken out or opened must be back, and be looked at, before the proof runs."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from starlette.responses import Response

from halfsplit import actions
from halfsplit.job.changes import Course, Opened
from halfsplit.job.lines import book_of, numbered, said_place, title_of_slot
from halfsplit.job.machine import facts_of
from halfsplit.job.touched import Touched, touched_by_work
from halfsplit.job.units import OWNER, kind_of, number_of
from halfsplit.model.bench import LEAVES_OFF
from halfsplit.model.book import Book
from halfsplit.model.job import Entry, Job, Remark, RepairDone
from halfsplit.web.entered import Entered, entered
from halfsplit.web.entry_text import fields_text
from halfsplit.web.screen import show
from halfsplit.web.seen_page import Choice
from halfsplit.web.setup_chips import Chip, chips_of
from halfsplit.web.texts import say
from halfsplit.web.visit import Visit

ON_BOARD = ("settings", "cell", "firmware", "board")
"""Kinds of part after whose repair the firmware's settings are to be set again."""


@dataclass(frozen=True)
class Place:
    """A place that the work reached.

    Args:
        title: what it is, with its number.
        seen: what the last look since then saw, or "".
        is_fine: whether that look was fine.
        choices: what a look may see, "fine" first; none where it was fine.
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
        entered: what was entered last, as long as it can be taken back.
        moved: what is not as it came, each with the tap that puts it back.
        fitted: what a repair left otherwise, as it should be.
        opened: what was opened, the innermost first: in this order it is closed.
        places: what that work may have left worse, the likeliest first.
        all_fine: what is entered when each place that nobody has looked at is fine, or "" where that is not several.
        home: what else is to be minded before it goes home.
    """

    number: int
    entered: Entered | None
    moved: tuple[Chip, ...]
    fitted: tuple[str, ...]
    opened: tuple[str, ...]
    places: tuple[Place, ...]
    all_fine: str
    home: tuple[str, ...]

    @property
    def is_odd(self) -> bool:
        """Whether a place was seen not to be right."""
        return any(place.seen and not place.is_fine for place in self.places)


def show_rebuild(visit: Visit) -> Response:
    """Answer with the rebuild list of a job."""
    view = actions.job_view(visit.desk.bench, visit.number)
    page = rebuild_page(visit.number, view.job or Job(), view.course, view.on_file.book)
    return show(visit, "rebuild", replace(page, entered=entered(visit, view)))


def rebuild_page(number: int, job: Job, course: Course | None, book: Book) -> RebuildPage:
    """Return the rebuild list; what was entered is put in later.

    Args:
        number: of the job.
        job: the job.
        course: what its log did to the machine, or None where that cannot be said.
        book: the fault book.
    """
    if course is None:
        return RebuildPage(number, None, (), (), (), (), "", ())
    log = [moment.entry for moment in course.moments if moment.entry is not None]
    spoken = book_of(course, book)
    moved, meant = _moved(course, log, spoken)
    places = touched_by_work(course, facts_of(job, book, []), book)
    return RebuildPage(
        number,
        None,
        moved,
        tuple(f"{chip.title}: {chip.state}" for chip in meant),
        tuple(book.openings[name].title for name in reversed(_opened(course))),
        tuple(_place(place, spoken) for place in places),
        _all_fine(places, book),
        tuple(_home(job, log, book)),
    )


def still_to_rebuild(job: Job, course: Course | None, book: Book) -> str:
    """Return what stands on the rebuild list and is not done yet, in words, or "" where all is.

    Args:
        job, course, book: see ``rebuild_page``.
    """
    page = rebuild_page(0, job, course, book)
    unseen = sum(not place.seen for place in page.places)
    odd = sum(bool(place.seen) and not place.is_fine for place in page.places)
    said = [
        say("rebuild.left_moved", many=str(len(page.moved))) if page.moved else "",
        say("rebuild.left_unseen", many=str(unseen)) if unseen else "",
        say("rebuild.left_odd", many=str(odd)) if odd else "",
    ]
    return "; ".join(filter(None, said))


def _moved(course: Course, log: Iterable[Entry], book: Book) -> tuple[tuple[Chip, ...], tuple[Chip, ...]]:
    """Return what is not as it came: what goes back, and what a repair means to stay so."""
    meant = _meant(course, log, book)
    changed = [chip for chip in chips_of(course, book) if chip.is_changed]
    stays = tuple(chip for chip in changed if chip.title in meant)
    return tuple(chip for chip in changed if chip not in stays), stays


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


def _all_fine(places: Iterable[Touched], book: Book) -> str:
    """Return what is entered when all that nobody has looked at yet is fine, or "" where that is not several."""
    unseen = [place for place in places if not place.seen]
    fine = [_choice(place, book.inspections[kind_of(place.look)].fine).entry for place in unseen]
    return "\n".join(fine) if len(fine) > 1 else ""


def _place(place: Touched, words_book: Book) -> Place:
    """Return a place that the work reached as it stands on the list; ``words_book`` speaks of this machine."""
    look, joint = words_book.inspections[kind_of(place.look)], words_book.joints.get(kind_of(place.at))
    at = said_place(look.at + number_of(place.at), words_book)
    title = numbered(look.title if joint is None else joint.title, at)
    words = () if place.is_fine else tuple(reversed(look.seen))
    return Place(title, place.seen.replace("_", " "), place.is_fine, tuple(_choice(place, word) for word in words))


def _choice(place: Touched, word: str) -> Choice:
    return Choice(word.replace("_", " "), fields_text("inspect", {"at": place.look, "seen": word}))


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
