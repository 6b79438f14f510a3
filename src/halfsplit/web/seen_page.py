"""Anything seen by the way, in two taps: signs, looks and numbers of the book; and repairs that were done."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from starlette.responses import Response

from halfsplit import actions
from halfsplit.job.asked import numbers_at
from halfsplit.job.units import OWNER
from halfsplit.model.book import Book
from halfsplit.model.job import Measure
from halfsplit.model.machine import Setup
from halfsplit.web.entry_text import fields_text
from halfsplit.web.number_field import NumberField, number_field
from halfsplit.web.screen import show
from halfsplit.web.visit import Visit


@dataclass(frozen=True)
class Choice:
    """One button: what stands on it, and what it enters."""

    label: str
    entry: str


@dataclass(frozen=True)
class Thing:
    """One thing that may be seen or done, with its choices; ``group`` is the heading that it stands under."""

    group: str
    title: str
    choices: tuple[Choice, ...]


@dataclass(frozen=True)
class SeenPage:
    """What may be seen by the way.

    Args:
        number: of the job.
        signs, looks: things with their choices.
        numbers: fields for numbers from instruments.
    """

    number: int
    signs: tuple[Thing, ...]
    looks: tuple[Thing, ...]
    numbers: tuple[NumberField, ...]


@dataclass(frozen=True)
class MendPage:
    """What may be repaired.

    Args:
        number: of the job.
        repairs: each repair with the places that it can be done at.
    """

    number: int
    repairs: tuple[Thing, ...]


def show_seen(visit: Visit) -> Response:
    """Answer with what may be seen by the way."""
    view = actions.job_view(visit.desk.bench, visit.number)
    book = view.on_file.book
    standing = _standing(view.course.standing if view.course is not None else {})
    page = SeenPage(
        visit.number,
        tuple(_signs(book)),
        tuple(_looks(standing, book)),
        tuple(_numbers(standing, book)),
    )
    return show(visit, "seen", page)


def show_mend(visit: Visit) -> Response:
    """Answer with what may be repaired."""
    view = actions.job_view(visit.desk.bench, visit.number)
    standing = _standing(view.course.standing if view.course is not None else {})
    return show(visit, "mend", MendPage(visit.number, tuple(_repairs(standing, view.on_file.book))))


def _standing(setups: Mapping[str, Setup]) -> Setup:
    return setups.get(OWNER, Setup(OWNER, {}))


def _signs(book: Book) -> Iterable[Thing]:
    rungs = {rung.id: rung.title for rung in book.ladder.rungs}
    for rung in book.ladder.rungs:
        for sign in book.signs.values():
            if sign.needs == rung.id:
                choices = tuple(
                    Choice(word, fields_text("run", {"signs": f"{{{sign.id}: {word}}}"})) for word in ("yes", "no")
                )
                yield Thing(rungs[sign.needs], sign.title, choices)


def _looks(standing: Setup, book: Book) -> Iterable[Thing]:
    for look in book.inspections.values():
        place = book.joints[look.at].title if look.at in book.joints else book.kinds[look.at].title
        for number in numbers_at(look.at, standing, book):
            at = look.id + number
            choices = tuple(
                Choice(word.replace("_", " "), fields_text("inspect", {"at": at, "seen": word})) for word in look.seen
            )
            yield Thing(place, look.title + number.replace(".", " "), choices)


def _numbers(standing: Setup, book: Book) -> Iterable[NumberField]:
    for point in book.measurements.values():
        for number in numbers_at(point.at, standing, book):
            yield number_field(Measure("", what=point.id + number), book)


def _repairs(standing: Setup, book: Book) -> Iterable[Thing]:
    for repair in book.repairs.values():
        place = book.joints[repair.at].title if repair.at in book.joints else book.kinds[repair.at].title
        choices = []
        for number in numbers_at(repair.at, standing, book):
            fields = {"do": repair.id, "at": repair.at + number}
            choices.append(Choice(f"done{number.replace('.', ' ')}", fields_text("repair", fields)))
        if choices:
            yield Thing(place, repair.title, tuple(choices))
