"""What is in the machine now, as chips: one tap takes a part out or puts it back."""

from collections.abc import Iterable
from dataclasses import dataclass

from halfsplit.job.changes import Course
from halfsplit.job.lines import book_of, title_of, title_of_slot
from halfsplit.job.setups import RIDES_ON
from halfsplit.job.units import OWNER, kind_of
from halfsplit.model.book import Book
from halfsplit.web.entry_text import fields_text
from halfsplit.web.texts import say


@dataclass(frozen=True)
class Chip:
    """One part, or how the machine stands.

    Args:
        title: what it is.
        state: "in", "out", or what is there instead.
        is_changed: whether it is otherwise than at intake.
        entry: what a tap puts on the log.
        tap: what a tap does, in words.
    """

    title: str
    state: str
    is_changed: bool
    entry: str
    tap: str


def chips_of(course: Course, book: Book) -> tuple[Chip, ...]:
    """Return the chips of the owner's machine, what is changed first."""
    return tuple(sorted(_chips(course, book), key=lambda chip: not chip.is_changed))


def _chips(course: Course, book: Book) -> Iterable[Chip]:
    before, now, book = course.intake[OWNER], course.standing[OWNER], book_of(course, book)
    is_in = now.in_case
    yield Chip(
        say("chip.board"),
        say("chip.in_case" if is_in else "chip.out_of_case"),
        is_in != before.in_case,
        fields_text("setup", {"case": "out" if is_in else "in"}),
        say("chip.take_out" if is_in else "chip.put_in"),
    )
    for slot in dict.fromkeys((*before.slots, *now.slots)):
        kind = kind_of(slot)
        if kind in RIDES_ON or kind not in book.kinds:
            continue
        was, unit = before.slots.get(slot, ""), now.slots.get(slot, "")
        title = title_of_slot(slot, book)
        state = say("chip.out") if not unit else say("chip.in") if unit == was else title_of(unit, book)
        back = "in" if was else "out"
        held = "out" if unit == was and was else back
        tap = say("chip.take_out" if held == "out" else "chip.put_back")
        yield Chip(title, state, unit != was, fields_text("setup", {slot: held}), tap)
