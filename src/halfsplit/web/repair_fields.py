"""Fields of a repair that was done."""

from collections.abc import Callable, Iterable
from dataclasses import replace

from halfsplit.job.asked import numbers_at
from halfsplit.job.lines import title_of
from halfsplit.job.units import SHELF, kind_of, number_of
from halfsplit.model.bench import REPLACES
from halfsplit.model.book import Book
from halfsplit.model.job import RepairDone
from halfsplit.model.machine import Setup
from halfsplit.web.entry_fields import Field, Option, choice
from halfsplit.web.place_fields import place_fields, title_at
from halfsplit.web.texts import say


def repair_fields(done: RepairDone, standing: Setup, book: Book) -> Iterable[Field[RepairDone]]:
    """Yield what was done, where, and with which part.

    Args:
        done: the repair.
        standing: how the machine stands, for the places.
        book: the fault book, with the parts of the bench's own shelf.
    """
    repairs = tuple(
        Option(each.id, each.title, title)
        for title, each in sorted(
            ((title_at(each.at, book), each) for each in book.repairs.values()), key=lambda pair: pair[0]
        )
    )
    yield choice("do", done.do, repairs, _put_repair(standing, book))
    yield from place_fields(done.to, [kind_of(done.to)], lambda now, said: replace(now, to=said), standing, book)
    if book.repairs[done.do].does == REPLACES:
        ours = [f"{SHELF}.{part.id}" for part in book.shelf.values() if part.kind == kind_of(done.to)]
        fitted = tuple(
            Option(each, say("field.new") if each == "new" else title_of(each, book))
            for each in dict.fromkeys(("new", *ours, done.fitted))
        )
        yield choice("fitted", done.fitted, fitted, lambda now, said: replace(now, fitted=said))


def _put_repair(standing: Setup, book: Book) -> Callable[[RepairDone, str], RepairDone]:
    def put(done: RepairDone, said: str) -> RepairDone:
        """Return another repair, at the same number of its place where there is one."""
        if said not in book.repairs:
            return done
        at = book.repairs[said].at
        numbers = numbers_at(at, standing, book) or ("",)
        number = number_of(done.to) if number_of(done.to) in numbers else numbers[0]
        return replace(done, do=said, to=f"{at}{number}", fitted="new")

    return put
