"""Entries about one place: a look at it, a number measured there, a repair done to it."""

from collections.abc import Mapping
from types import MappingProxyType

from halfsplit.job.machine import share_of
from halfsplit.jobfile.reading import Form
from halfsplit.jobfile.slots import read_at, read_unit
from halfsplit.jobfile.vocabulary import split_number, titles, verbs
from halfsplit.model.job import UNSURE, Entry, Inspect, Measure, RepairDone

UNITS: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "volts": (-1000.0, 1000.0),
        "ohms": (0.0, 1e9),
        "watts": (0.0, 10_000.0),
        "celsius": (-50.0, 500.0),
        "rpm": (0.0, 100_000.0),
    }
)
"""Unit of a measurement -> the numbers that an instrument on a bench can show."""

USUAL = 0.5
"""What can be done on more than this share of machines is usual."""


def read_inspect(entry: Entry, form: Form) -> Inspect:
    """Return a look at one place."""
    reader = form.reader
    book = reader.book
    what, seen = "", ""
    if form.need("at", "Write where you looked, as in {at: memory_seat.1, seen: dirty}"):
        node = form.fields["at"]
        names, number = read_at(reader, node, book.inspections, "look at")
        words = {word: "" for name in names for word in (*book.inspections[name].seen, UNSURE)}
        if names and form.need("seen", f"Write what you saw: {', '.join(words)}"):
            seen = form.word("seen", words)
        names = [name for name in names if seen in (*book.inspections[name].seen, UNSURE)]
        if seen and len(names) > 1 and names[0] != split_number(node.text)[0]:
            so = f"'{node.text}' can be looked at in {len(names)} ways that may show '{seen}'"
            reader.say(node.place, "HS152", so, f"one is meant: {', '.join(names)}", "Write which one")
        what = f"{names[0]}{number}" if names else ""
    return Inspect(
        entry.id,
        entry.place,
        entry.by,
        entry.at,
        what=what,
        tool=form.word("tool", titles(book.tools), "torch"),
        seen=seen,
        on=form.word("on", titles(book.hosts), "owner"),
    )


def read_measure(entry: Entry, form: Form) -> Measure:
    """Return a number from an instrument."""
    reader = form.reader
    book = reader.book
    units = [unit for unit in UNITS if form.has(unit)]
    value = reader.number(form.fields[units[0]], UNITS[units[0]], units[0]) if units else 0.0
    if len(units) != 1:
        so = f"this has the numbers {' and '.join(units)}" if units else "this has no number"
        do = f"Write one of {', '.join(UNITS)} with the number that the instrument showed"
        reader.say(form.place, "HS153", so, "a measurement is one number with its unit", do)
    what = ""
    if form.need("at", "Write the point, as in {at: rail_12v, volts: 11.9}"):
        node = form.fields["at"]
        names, number = read_at(reader, node, book.measurements, "measure")
        fitting = [name for name in names if book.measurements[name].unit in units]
        if names and units and not fitting:
            unit = book.measurements[names[0]].unit
            so = f"'{node.text}' is told in {units[0]}"
            reader.say(
                node.place,
                "HS153",
                so,
                f"it is measured in {unit}",
                f"Write it in {unit}, or the right point",
            )
        if len(fitting) > 1 and fitting[0] != split_number(node.text)[0]:
            so = f"{len(fitting)} things are measured in {units[0]} at '{node.text}'"
            reader.say(node.place, "HS152", so, f"one is meant: {', '.join(fitting)}", "Write which one")
        what = f"{fitting[0]}{number}" if fitting else ""
    return Measure(
        entry.id,
        entry.place,
        entry.by,
        entry.at,
        what=what,
        value=value,
        load=form.word("load", titles(book.loads), "idle"),
        meter=form.text("meter"),
        on=form.word("on", titles(book.hosts), "owner"),
    )


def read_repair(entry: Entry, form: Form) -> RepairDone:
    """Return a repair; where only what was done was written, its id is found by where it was done."""
    reader = form.reader
    do, to, fitted = "", "", "new"
    if form.need("do", "Write what was done, as in {do: reseat, at: memory_seat.1}"):
        do, to = _repair_and_place(form)
    if form.has("with") and to:
        node = form.fields["with"]
        kind = split_number(to)[0]
        if kind in reader.book.kinds:
            fitted = read_unit(reader, kind, node)
        else:
            so = f"'{node.text}' is fitted at the joint '{to}'"
            reader.say(node.place, "HS133", so, "only a part can be fitted", "Delete 'with', or name the part")
    return RepairDone(entry.id, entry.place, entry.by, entry.at, do=do, to=to, fitted=fitted)


def _repair_and_place(form: Form) -> tuple[str, str]:
    """Return the id of a repair and the part or joint that it was done to; both "" with a mistake."""
    reader = form.reader
    book = reader.book
    by_verb = verbs(book)
    do = reader.word(form.fields["do"], {**dict.fromkeys(by_verb, ""), **titles(book.repairs)}, "do")
    if not do:
        return "", ""
    possible = {name: book.repairs[name] for name in by_verb.get(do, [do])}
    names, number = list(possible), ""
    if form.has("at"):
        names, number = read_at(reader, form.fields["at"], possible, do if do in by_verb else "do this")
        usual = [name for name in names if share_of(book.repairs[name].only, {}, book) > USUAL]
        names = usual if len(usual) == 1 else names  # what is for few machines only is named by its id
        if len(names) > 1:
            so = f"'{do}' can be done at '{form.fields['at'].text}' in {len(names)} ways"
            should = f"one is meant: {', '.join(names)}"
            reader.say(form.fields["do"].place, "HS152", so, should, "Write which one as 'do'")
    elif len(names) > 1:
        where = ", ".join(dict.fromkeys(repair.at for repair in possible.values()))
        reader.say(form.place, "HS117", f"'{do}' has no 'at'", f"it can be done at {where}", "Write where")
    return (names[0], f"{book.repairs[names[0]].at}{number}") if len(names) == 1 else ("", "")
