"""The canonical job file of a job: one line for each entry, and only what was said."""

import re
from decimal import Decimal

from halfsplit.jobfile.entries import ITEM, kind_of
from halfsplit.jobfile.parse import WITHDRAWN
from halfsplit.jobfile.shelf import standing_fields
from halfsplit.jobfile.vocabulary import split_number
from halfsplit.model.book import Book
from halfsplit.model.job import (
    ChangeSetup,
    Correct,
    Entry,
    Inspect,
    Job,
    Measure,
    OwnedPart,
    Remark,
    RepairDone,
    Run,
    Seen,
    Told,
)
from halfsplit.model.machine import Conditions
from halfsplit.yamltext import resolve

Value = str | bool | int | float | list["Value"] | dict[str, "Value"] | None
Fields = dict[str, Value]

_PLAIN = re.compile(r"[A-Za-z0-9_](?:[A-Za-z0-9_ ./%+-]*[A-Za-z0-9_./%+-])?")
_ESCAPED = re.compile('["\\\\\x00-\x1f\x7f-\xa0\u2028\u2029\ufeff\ud800-\udfff\ufffe\uffff]')


class _Token(str):
    """Written as it is, never quoted."""


def write_job(job: Job, book: Book) -> str:
    """Return the job file of a job.

    Args:
        job: a job as ``parse_job`` makes it.
        book: the fault book that it was read with; it has the units of the measurements.

    Returns:
        YAML that parses to an equal job, but for places.
    """
    lines = [f"name: {_emit(job.name)}"] if job.name else []
    lines += _machine_lines(_machine(job))
    if job.complaint:
        lines.append(f"complaint: {_emit(job.complaint)}")
    if job.shelf:
        stand = {name: _emit(_filled(dict(standing_fields(each)))) for name, each in job.shelf.items()}
        lines += ["shelf:", *(f"  {_emit(name)}: {said}" for name, said in stand.items())]
    writer = _EntryWriter(book)
    if job.told:
        lines += ["told:", *(f"{ITEM}{_emit(writer.fields(entry))}" for entry in job.told)]
    if job.log:
        lines += ["log:", *(_logged(entry, writer.fields(entry)) for entry in job.log)]
    return "\n".join(lines) + "\n" if lines else "{}\n"


def write_known(job: Job, before: Job) -> str:
    """Return the text that makes of what was known of a machine, and of the complaint, what is known now.

    Args:
        job: as it is known now; its shelf and its log are left alone.
        before: as it was known; each field of it that is known no more is written empty (``~``).
    """
    lines = [f"name: {_emit(job.name or None)}", f"complaint: {_emit(job.complaint or None)}"]
    lines += _machine_lines({**dict.fromkeys(_machine(before)), **_machine(job)})
    return "\n".join(lines) + "\n"


def write_entries(job: Job, book: Book, *, first: int) -> list[str]:
    """Return the lines of a job file that are its log from an entry on.

    Args:
        job, book: see ``write_job``.
        first: the number of the first entry that is written, from 0.
    """
    writer = _EntryWriter(book)
    fields = [writer.fields(entry) for entry in (*job.told, *job.log)][len(job.told) + first :]
    return [_logged(entry, own) for entry, own in zip(job.log[first:], fields, strict=True)]


def _logged(entry: Entry, fields: Fields) -> str:
    return f"{ITEM}{kind_of(entry)}: {_emit(fields)}"


def _machine_lines(machine: Fields) -> list[str]:
    return ["machine:", *(f"  {key}: {_emit(value)}" for key, value in machine.items())] if machine else []


def _machine(job: Job) -> Fields:
    fields: Fields = {name: _value(value) for name, value in job.machine.items()}
    groups: dict[str, list[OwnedPart]] = {}
    for part in job.parts:
        groups.setdefault(split_number(part.slot)[0], []).append(part)
    for kind, parts in groups.items():
        numbers = [split_number(part.slot)[1] for part in parts]
        told: list[Value] = [{name: _value(value) for name, value in part.fields.items()} for part in parts]
        if numbers == [None]:
            fields[kind] = told[0]
        elif numbers == list(range(1, len(parts) + 1)):
            fields[kind] = told
        else:
            fields |= {part.slot: value for part, value in zip(parts, told, strict=True)}
    return {**fields, **dict.fromkeys(job.missing, "none")}


def _value(value: object) -> Value:
    return value if isinstance(value, int | float) else str(value)


class _EntryWriter:
    """Writes entries in their order; it knows the ids that need not be written, and what is corrected."""

    def __init__(self, book: Book) -> None:
        self.book = book
        self.counts: dict[str, int] = {}
        self.said: dict[str, Fields] = {}
        self.withdrawn: set[str] = set()

    def fields(self, entry: Entry) -> Fields:
        """Return the fields of an entry."""
        kind = kind_of(entry)
        self.counts[kind] = self.counts.get(kind, 0) + 1
        own_id = {} if entry.id == f"{kind}_{self.counts[kind]}" else {"id": entry.id}
        head: Fields = _filled({**own_id, "by": entry.by, "when": entry.at})
        if isinstance(entry, Correct):
            return {**head, **self.changes(entry)}
        said = _said(entry, self.book)
        self.said[entry.id] = said
        return {**said, **head}

    def changes(self, entry: Correct) -> Fields:
        """Return the fields that a correction changes, those that it takes away empty; or that it withdraws.

        They stand in the order in which they were first said: reading the file again puts them so.
        """
        if entry.now is None:
            self.withdrawn.add(entry.entry)
            return {"entry": entry.entry, WITHDRAWN: True}
        before, now = self.said[entry.entry], _said(entry.now, self.book)
        after = {name: now.get(name) for name in (*before, *(name for name in now if name not in before))}
        self.said[entry.entry] = after
        changed = {name: value for name, value in after.items() if name not in before or before[name] != value}
        changed = dict(sorted(changed.items(), key=lambda field: field[1] is None))
        stands: Fields = {WITHDRAWN: False} if entry.entry in self.withdrawn or not changed else {}
        self.withdrawn.discard(entry.entry)
        return {"entry": entry.entry, **stands, **changed}


def _said(entry: Entry, book: Book) -> Fields:
    """Return the fields of an entry that are its own, without id, initials and time."""
    match entry:
        case Told():
            fields = _told(entry)
        case Run():
            fields = _run(entry)
        case Inspect():
            fields = _inspect(entry)
        case Measure():
            fields = _measure(entry, book)
        case ChangeSetup():
            fields = {**entry.swaps, "output": entry.output, "case": entry.case, "on": _host(entry.on)}
        case RepairDone():
            fields = {"do": entry.do, "at": entry.to, "with": "" if entry.fitted == "new" else entry.fitted}
        case Remark():
            cost = None if entry.cents is None else _Token(f"{Decimal(entry.cents) / 100:.2f}")
            fields = {"text": entry.text, "cost": cost}
        case _:
            raise TypeError(entry)
    return _filled(fields)


def _host(on: str) -> str:
    return "" if on == "owner" else on


def _filled(fields: Fields) -> Fields:
    return {name: value for name, value in fields.items() if value not in ("", None, {})}


def _told(told: Told) -> Fields:
    return {
        "event": told.event,
        "happened": None if told.is_true else False,
        "ago": told.ago,
        **(_seen(told.seen) if told.seen is not None else {}),
        **_conditions(told.conditions),
        "always": told.always,
        "sure": "" if told.sure == "fairly" else told.sure,
        "words": told.words,
    }


def _run(run: Run) -> Fields:
    fields: Fields = {
        "on": _host(run.on),
        "with": dict(run.swaps),
        "output": run.output,
        "case": run.case,
        **_conditions(run.conditions),
        **_seen(run.seen),
    }
    if run.of != 1:
        fields |= {"of": run.of} if run.failed == run.of else {"failed": run.failed, "of": run.of}
    return fields


def _conditions(conditions: Conditions) -> Fields:
    return {
        "cold": conditions.cold,
        "load": "" if conditions.load == "idle" else conditions.load,
        "minutes": conditions.minutes,
        "lead_out": None if conditions.lead_out_minutes is None else f"{_plain(conditions.lead_out_minutes)} min",
        "position": conditions.position,
        "touched": conditions.touched,
        "started_by": conditions.started_by,
        "first_after": conditions.first_after,
    }


def _seen(seen: Seen) -> Fields:
    stop: Value = "none" if seen.stayed else None
    if seen.stop is not None:
        kind, when = seen.stop.kind, seen.stop.seconds
        time = "" if when is None else f"{_plain(when / 60)} min" if when and when % 60 == 0 else f"{_plain(when)} s"
        stop = {kind: time} if kind and time else kind or time or True
    return {
        "reached": seen.reached,
        "not": seen.not_reached,
        "stop": stop,
        "picture": {output: dict(stages) for output, stages in seen.picture.items()},
        "signs": {sign: {"yes": True, "no": False}.get(said, said) for sign, said in seen.signs.items()},
    }


def _inspect(look: Inspect) -> Fields:
    tool = "" if look.tool == "torch" else look.tool
    return {"at": look.what, "tool": tool, "seen": look.seen, "on": _host(look.on)}


def _measure(measure: Measure, book: Book) -> Fields:
    unit = book.measurements[split_number(measure.what)[0]].unit
    load = "" if measure.load == "idle" else measure.load
    return {
        "at": measure.what,
        unit: measure.value,
        "load": load,
        "meter": measure.meter,
        "on": _host(measure.on),
    }


def _emit(value: Value) -> str:
    match value:
        case list():
            return f"[{', '.join(_emit(item) for item in value)}]"
        case dict():
            return f"{{{', '.join(f'{_emit(name)}: {_emit(item)}' for name, item in value.items())}}}"
        case bool() | None:
            return {True: "yes", False: "no", None: "~"}[value]
        case int() | float():
            return _plain(value)
        case _:
            is_plain = isinstance(value, _Token) or (_PLAIN.fullmatch(value) and resolve(value) == value)
            return value if is_plain else f'"{_ESCAPED.sub(_escape, value)}"'


def _plain(number: float) -> str:
    """Return a number without exponent, exactly."""
    text = f"{Decimal(repr(number + 0.0)):f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _escape(found: re.Match[str]) -> str:
    character = found[0]
    return f"\\{character}" if character in '"\\' else f"\\u{ord(character):04x}"
