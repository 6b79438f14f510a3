"""A number from an instrument as a field to be filled in: its point, its unit and its limits."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from halfsplit.job.amounts import NO_BREAK, SYMBOLS
from halfsplit.job.findings import INSIDE
from halfsplit.job.lines import title_of_point
from halfsplit.job.numbers import limits_of, side_of
from halfsplit.job.units import kind_of
from halfsplit.model.bench import Measurement
from halfsplit.model.book import Book
from halfsplit.model.job import Measure
from halfsplit.web.entry_fields import read_number
from halfsplit.web.entry_text import fields_text
from halfsplit.web.texts import say

PREFIX = "number:"
"""How the names of fields begin that hold a number; then point, load and host, parted by a colon each."""


@dataclass(frozen=True)
class NumberField:
    """A field for a number.

    Args:
        name: of the field.
        title: the point that is measured.
        unit: as it is written behind a number.
        limits: in words, or "".
    """

    name: str
    title: str
    unit: str
    limits: str


def number_field(measure: Measure, book: Book) -> NumberField:
    """Return the field that a measurement without its number asks for."""
    noun = book.measurements[measure.what.partition(".")[0]]
    name = f"{PREFIX}{measure.what}:{measure.load}:{measure.on}"
    return NumberField(name, title_of_point(measure.what, book), SYMBOLS[noun.unit], limits_in_words(noun))


def limits_in_words(noun: Measurement) -> str:
    """Return the limits of a measurement in words, "" where it has none."""
    low, high = limits_of(noun)
    unit = f"{NO_BREAK}{SYMBOLS[noun.unit]}"
    if low is not None and high is not None:
        return say("limits.between", low=f"{low:g}", high=f"{high:g}", unit=unit)
    if low is not None:
        return say("limits.above", low=f"{low:g}", unit=unit)
    return "" if high is None else say("limits.below", high=f"{high:g}", unit=unit)


def outside_in_words(measure: Measure, book: Book) -> str:
    """Return that a number lies outside the limits, with these; "" where it does not, or there are none."""
    noun = book.measurements[kind_of(measure.what)]
    if side_of(measure.value, noun) == INSIDE:
        return ""
    return say("limits.outside", limits=limits_in_words(noun))


def numbers_text(fields: Mapping[str, tuple[str, ...]], book: Book) -> list[str]:
    """Return the entries of all numbers that a form was filled in with.

    Raises:
        WebError: HS805, one of them is no number.
    """
    found = []
    for name, values in fields.items():
        value = values[-1].strip().replace(",", ".")
        asked = asked_for(name)
        if asked is None or not value:
            continue
        what, load, on = asked.what, asked.load, asked.on
        unit = "volts"
        if kind_of(what) in book.measurements:
            unit = book.measurements[kind_of(what)].unit
            value = f"{read_number(title_of_point(what, book), value):.12g}"
        places = {"load": "" if load == "idle" else load, "on": "" if on == "owner" else on}
        found.append(fields_text("measure", {"at": what, unit: value, **places}))
    return found


def asked_for(name: str) -> Measure | None:
    """Return the measurement that a field asks for, by the field's name; None = it asks for something else."""
    if not name.startswith(PREFIX):
        return None
    what, load, on = (*name.removeprefix(PREFIX).split(":"), "", "")[:3]
    return Measure("", what=what, load=load, on=on)


def numbers_of(entries: Iterable[object]) -> list[Measure]:
    """Return the measurements among entries."""
    return [entry for entry in entries if isinstance(entry, Measure)]
