"""A number from an instrument as a field to be filled in: its point, its unit and its limits."""

import re
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


OHMS = "ohms"

OPEN_OHMS = 20e6
"""What a resistance is taken for that a meter shows as more than it can (OL): the end of the usual highest range of a
hand-held one (common practice, no source); it may be more."""

_OPEN = re.compile(r"[o0]\.?l\.?", re.IGNORECASE)
_LARGE = re.compile(r"(?P<number>.*[0-9.,])\s*(?P<of>[kM])")
_TIMES = {"k": 1e3, "M": 1e6}


@dataclass(frozen=True)
class NumberField:
    """A field for a number.

    Args:
        name: of the field.
        title: the point that is measured.
        unit: as it is written behind a number.
        limits: in words, or "".
        has_letters: whether letters may be wanted as well, on a keyboard that is drawn.
    """

    name: str
    title: str
    unit: str
    limits: str
    has_letters: bool


def number_field(measure: Measure, book: Book) -> NumberField:
    """Return the field that a measurement without its number asks for."""
    noun = book.measurements[measure.what.partition(".")[0]]
    name = f"{PREFIX}{measure.what}:{measure.load}:{measure.on}"
    is_ohms, limits = noun.unit == OHMS, limits_in_words(noun)
    if is_ohms:
        limits = say("limits.or_open", limits=limits)
    return NumberField(name, title_of_point(measure.what, book), SYMBOLS[noun.unit], limits, is_ohms)


def read_reading(title: str, said: str, unit: str) -> float:
    """Return a number as an instrument shows it: a resistance in k and M too, and as more than it can show (OL).

    Raises:
        WebError: HS805 it cannot be read, or is not finite.
    """
    if unit != OHMS:
        return read_number(title, said)
    if _OPEN.fullmatch(said):
        return OPEN_OHMS
    large = _LARGE.fullmatch(said)
    return read_number(title, large["number"]) * _TIMES[large["of"]] if large else read_number(title, said)


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
            value = f"{read_reading(title_of_point(what, book), value, unit):.12g}"
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
