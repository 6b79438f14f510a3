"""Fields of where something was: on which host, and at which place of the machine."""

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from halfsplit.job.asked import numbers_at
from halfsplit.job.lines import numbered, title_of_point
from halfsplit.job.units import kind_of
from halfsplit.model.book import Book
from halfsplit.model.machine import Setup
from halfsplit.web.entry_fields import Field, Option, choice, options_of


def host_field(on: str, book: Book) -> Field[Any]:
    """Return the field of the host that it was on."""
    return choice("on", on, options_of(book.hosts), lambda now, said: replace(now, on=said))


def place_fields(what: str, nouns: Iterable[str], put: Any, standing: Setup, book: Book) -> Iterable[Field[Any]]:
    """Yield the places at which something may have been done, where there are several.

    Args:
        what: the place as it stands.
        nouns: looks, measurements, parts and joints that it may have been at as well.
        put: an entry and another place -> the entry with that place.
        standing: how the machine stands, for the numbers.
        book: the fault book.
    """
    found = {what: title_at(what, book)}
    for name in nouns:
        at = getattr(book.inspections.get(name) or book.measurements.get(name), "at", name)
        found |= {name + number: title_at(name + number, book) for number in numbers_at(at, standing, book)}
    if len(found) > 1:
        yield choice("place", what, tuple(Option(each, title) for each, title in sorted(found.items())), put)


def title_at(place: str, book: Book) -> str:
    """Return what a place is called: that of a look or a measurement, a part or a joint, with its number."""
    for nouns in (book.inspections, book.measurements, book.joints, book.kinds):
        noun: Any = nouns.get(kind_of(place))
        if noun is not None:
            return title_of_point(place, book) if nouns is book.measurements else numbered(noun.title, place)
    return place.replace("_", " ")
