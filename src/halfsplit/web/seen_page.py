"""Anything seen by the way, in two taps: how a run went, signs, looks and numbers; and repairs that were done."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from starlette.responses import Response

from halfsplit import actions
from halfsplit.job.asked import numbers_at, placed_entries
from halfsplit.job.corrections import apply_corrections
from halfsplit.job.lines import numbered, said_place
from halfsplit.job.machine import facts_of
from halfsplit.job.units import OWNER, kind_of
from halfsplit.model.bench import Check
from halfsplit.model.book import Book
from halfsplit.model.job import NO, YES, Entry, Inspect, Job, Measure, Run, Seen, StopSeen
from halfsplit.model.machine import Setup
from halfsplit.web.entered import Entered, entered
from halfsplit.web.entry_text import entry_text, fields_text
from halfsplit.web.number_field import NumberField, number_field
from halfsplit.web.screen import show
from halfsplit.web.texts import say
from halfsplit.web.visit import Visit

_DARK = MappingProxyType({"used": MappingProxyType({"self_test": False, "system": False})})
_LIT = MappingProxyType({"used": MappingProxyType({"self_test": True})})

ENDINGS: Mapping[str, Seen] = MappingProxyType(
    {
        "not_started": Seen(not_reached="starts"),
        "no_picture": Seen(reached="starts", picture=_DARK),
        "not_up": Seen(not_reached="log_in", picture=_LIT),
        "cuts_out": Seen(reached="log_in", stop=StopSeen("cuts_out")),
        "resets": Seen(reached="log_in", stop=StopSeen("resets")),
        "freezes": Seen(reached="log_in", stop=StopSeen("freezes")),
        "stays": Seen(reached="log_in", stayed=True),
    }
)
"""How a run went -> what that says of it."""

CHECK = "check"
"""In an address: the checks in whose run something was seen, parted by commas."""


@dataclass(frozen=True)
class Choice:
    """One button: what stands on it, and what it enters."""

    label: str
    entry: str


@dataclass(frozen=True)
class Thing:
    """One thing that may be seen or done, with its choices.

    Args:
        group: the heading that it stands under: a part, or how far the machine came.
        title: as the trade says it.
        choices: its buttons.
        place: the part or joint that it is at, by which it is found as well; "" = none.
    """

    group: str
    title: str
    choices: tuple[Choice, ...]
    place: str = ""


@dataclass(frozen=True)
class Group:
    """Things under one heading."""

    title: str
    things: tuple[Thing, ...]


@dataclass(frozen=True)
class SeenPage:
    """What may be seen by the way.

    Args:
        number: of the job.
        stay: how its address ends.
        entered: what was entered last, as long as it can be taken back.
        run: the check that the run was of, as the trade says it; "" = a run of the machine as it stands.
        asked: what the checks ask for, each with all that it may have shown: nobody has to look for it further down.
        endings: how the run went.
        signs, looks: things with their choices, by heading.
        numbers: fields for numbers from instruments.
        said: of each look that was entered what it was said to show last, as its button enters it.
    """

    number: int
    stay: str
    entered: Entered | None
    run: str
    endings: tuple[Choice, ...]
    asked: tuple[Thing, ...]
    signs: tuple[Group, ...]
    looks: tuple[Group, ...]
    numbers: tuple[NumberField, ...]
    said: tuple[str, ...]


@dataclass(frozen=True)
class MendPage:
    """What may be repaired.

    Args:
        number: of the job.
        repairs: each repair with the places that it can be done at, by heading.
    """

    number: int
    repairs: tuple[Group, ...]


def show_seen(visit: Visit) -> Response:
    """Answer with what may be seen by the way, in a check or by itself."""
    view = actions.job_view(visit.desk.bench, visit.number)
    book = view.on_file.book
    standing = _standing(view.course.standing if view.course is not None else {})
    words = view.spoken
    facts = facts_of(view.job or Job(), book, [])
    checks = [book.checks[name] for name in visit.query.get(CHECK, "").split(",") if name in book.checks]
    made = [(check, entry) for check in checks for entry in placed_entries(check, standing, book, facts)]
    key = (
        "seen",
        *view.on_file.book_key,
        visit.number,
        repr(standing),
        tuple(kind.many for kind in words.kinds.values()),
        repr([(check.id, entry) for check, entry in made]),
    )
    page = visit.desk.bench.memory.get(key, lambda: _seen_page(visit.number, made, standing, book, words))
    return show(visit, "seen", replace(page, entered=entered(visit, view), said=_said_last(view.job or Job())))


def _seen_page(number: int, made: Sequence[tuple[Check, Entry]], standing: Setup, book: Book, words: Book) -> SeenPage:
    """Return the page for what checks ask for, each entry with its check; what was entered is put in later."""
    title, run = next(((check.title, entry) for check, entry in made if isinstance(entry, Run)), ("", Run("")))
    looks, signs = tuple(_looks(standing, book, words)), tuple(_signs(run, book))
    asked = {_look_title(entry.what, words) for _, entry in made if isinstance(entry, Inspect)}
    asked |= {book.signs[word].title for check, _ in made for word in check.asks if word in book.signs}
    checks = ",".join(dict.fromkeys(check.id for check, _ in made))
    return SeenPage(
        number,
        f"seen?{CHECK}={checks}" if checks else "seen",
        None,
        title,
        tuple(_endings(run, book)),
        tuple(thing for thing in (*looks, *signs) if thing.title in asked),
        _grouped(signs),
        _grouped(sorted(looks, key=lambda thing: thing.group.casefold())),
        tuple(_numbers(standing, book, words)),
        (),
    )


def _said_last(job: Job) -> tuple[str, ...]:
    """Return what each look at the owner's machine was said to show last, as its button enters it."""
    looks = [entry for entry in apply_corrections(job, [])[1] if isinstance(entry, Inspect) and entry.on == OWNER]
    return tuple(_look_text(what, word) for what, word in {look.what: look.seen for look in looks}.items())


def show_mend(visit: Visit) -> Response:
    """Answer with what may be repaired."""
    view = actions.job_view(visit.desk.bench, visit.number)
    book, standing = view.on_file.book, _standing(view.course.standing if view.course is not None else {})
    repairs = _repairs(standing, book, view.spoken)
    return show(
        visit, "mend", MendPage(visit.number, _grouped(sorted(repairs, key=lambda thing: thing.group.casefold())))
    )


def _grouped(things: Iterable[Thing]) -> tuple[Group, ...]:
    """Return things by their headings, each in the order in which it comes first."""
    groups: dict[str, list[Thing]] = {}
    for thing in things:
        groups.setdefault(thing.group, []).append(thing)
    return tuple(Group(title, tuple(each)) for title, each in groups.items())


def _standing(setups: Mapping[str, Setup]) -> Setup:
    return setups.get(OWNER, Setup(OWNER, {}))


def _endings(run: Run, book: Book) -> Iterable[Choice]:
    rungs = {rung.id for rung in book.ladder.rungs}
    for name, seen in ENDINGS.items():
        if {seen.reached, seen.not_reached} - {""} <= rungs:
            yield Choice(say(f"ending.{name}"), entry_text([replace(run, seen=seen)], book))


def _signs(run: Run, book: Book) -> Iterable[Thing]:
    rungs = {rung.id: rung.title for rung in book.ladder.rungs}
    for rung in book.ladder.rungs:
        for sign in book.signs.values():
            if sign.needs == rung.id:
                seen = {word: Seen(signs=MappingProxyType({sign.id: word})) for word in (YES, NO)}
                choices = (Choice(word, entry_text([replace(run, seen=each)], book)) for word, each in seen.items())
                yield Thing(rungs[sign.needs], sign.title, tuple(choices))


def _looks(standing: Setup, book: Book, words: Book) -> Iterable[Thing]:
    for look in book.inspections.values():
        part, place = _part_and_place(look.at, book)
        for number in numbers_at(look.at, standing, book):
            at = look.id + number
            choices = tuple(Choice(word.replace("_", " "), _look_text(at, word)) for word in look.seen)
            yield Thing(part, _look_title(at, words), choices, place)


def _look_text(what: str, word: str) -> str:
    return fields_text("inspect", {"at": what, "seen": word})


def _look_title(what: str, book: Book) -> str:
    look = book.inspections[kind_of(what)]
    return numbered(look.title, said_place(look.at + what[len(look.id) :], book))


def _numbers(standing: Setup, book: Book, words: Book) -> Iterable[NumberField]:
    for point in book.measurements.values():
        for number in numbers_at(point.at, standing, book):
            yield number_field(Measure("", what=point.id + number), words)


def _repairs(standing: Setup, book: Book, words: Book) -> Iterable[Thing]:
    for repair in book.repairs.values():
        part, place = _part_and_place(repair.at, book)
        choices = []
        for number in numbers_at(repair.at, standing, book):
            fields = {"do": repair.id, "at": repair.at + number}
            said = numbered(say("mend.done"), said_place(repair.at + number, words))
            choices.append(Choice(said, fields_text("repair", fields)))
        if choices:
            yield Thing(part, repair.title, tuple(choices), place)


def _part_and_place(at: str, book: Book) -> tuple[str, str]:
    """Return what the part is called that something is looked for under, and what the place itself is called.

    A joint stands under that of its parts that has the fewest: the seat of a card under the card, not under the board.
    """
    if at not in book.joints:
        return book.kinds[at].title, book.kinds[at].title
    joints = {kind: sum(kind in joint.between for joint in book.joints.values()) for kind in book.joints[at].between}
    return book.kinds[min(joints, key=joints.__getitem__)].title, book.joints[at].title
