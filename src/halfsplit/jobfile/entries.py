"""The entries of a log, kind by kind."""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from types import MappingProxyType

from halfsplit.jobfile.findings import UNITS, read_inspect, read_measure, read_repair
from halfsplit.jobfile.reading import Form, Reader, is_nothing
from halfsplit.jobfile.runs import read_run, read_setup, read_told
from halfsplit.jobfile.seen import CONDITION_FIELDS, SEEN_FIELDS
from halfsplit.jobfile.slots import slot_keys
from halfsplit.jobfile.vocabulary import Words, titles
from halfsplit.model.job import ChangeSetup, Correct, Entry, Inspect, Measure, Remark, RepairDone, Run, Told
from halfsplit.yamltext import Node

REMARKS = ("advise", "decide", "agree", "spend", "note")
ITEM = "  - "
"""How the line of an entry begins in a canonical job file."""

CORRECT = "correct"
KINDS_OF_ENTRY = ("told", "run", "inspect", "measure", "setup", "repair", *REMARKS, CORRECT)
COMMON_FIELDS = ("id", "by", "when")

_SHORT = MappingProxyType(
    {
        "told": "event",
        "repair": "do",
        "spend": "cost",
        **dict.fromkeys(("advise", "decide", "agree", "note"), "text"),
    }
)
"""Kind of entry -> the field that a bare word or text stands for."""

_KINDS = {
    Told: "told",
    Run: "run",
    Inspect: "inspect",
    Measure: "measure",
    ChangeSetup: "setup",
    RepairDone: "repair",
    Correct: CORRECT,
}

_ID = re.compile(r"[A-Za-z0-9_][A-Za-z0-9_.-]*")
_MONEY = re.compile(r"[0-9]{1,9}(?:\.[0-9]{1,2})?")


@dataclass(frozen=True)
class Written:
    """One entry as it was written: its kind, its id, and its fields as a map."""

    kind: str
    id: str
    node: Node


def kind_of(entry: Entry) -> str:
    """Return the kind of an entry, as it is written in a log."""
    return entry.kind if isinstance(entry, Remark) else _KINDS[type(entry)]


def as_map(kind: str, node: Node) -> Node:
    """Return the fields of an entry as a map, where a bare word or text may stand for one of them."""
    if node.is_scalar and kind in _SHORT and not is_nothing(node):
        key = Node(node.place, _SHORT[kind], _SHORT[kind])
        return Node(node.place, MappingProxyType({_SHORT[kind]: (key, node)}))
    return node


def fields_of(kind: str) -> tuple[str, ...]:
    """Return the fields that an entry may have; those of a setup are the slots as well."""
    return (*COMMON_FIELDS, *_FIELDS[kind])


def read_entry(reader: Reader, written: Written) -> Entry:
    """Return one entry of any kind but ``correct``."""
    node = written.node
    allowed: Words = dict.fromkeys(fields_of(written.kind), "")
    slots: list[str] = []
    if written.kind == "setup":
        allowed, slots = {**allowed, **titles(reader.book.kinds)}, slot_keys(reader.book, node)
    form = reader.form(node, allowed, f"an entry '{written.kind}'", slots)
    entry = read_head(form, written.id)
    if written.kind in REMARKS:
        return _read_remark(entry, form, written.kind)
    if written.kind == "setup":
        return read_setup(entry, form, node)
    return _READ[written.kind](entry, form)


def read_id(reader: Reader, node: Node) -> str:
    """Return the id that an entry was given, or "" with a mistake."""
    if node.is_scalar and _ID.fullmatch(node.text):
        return node.text
    should = "an id is one word of letters, digits, '_', '-' and '.'"
    reader.say(node.place, "HS122", "this is no id", should, "Write a short word, such as 'sag'")
    return ""


def read_head(form: Form, entry_id: str) -> Entry:
    """Return what all entries have: id, place, initials and time."""
    return Entry(entry_id, form.place, form.text("by"), _when(form) if form.has("when") else "")


def _when(form: Form) -> str:
    node = form.fields["when"]
    try:
        datetime.fromisoformat(node.text)
    except ValueError:
        should = "it is a date or a date and a time as in ISO 8601"
        form.reader.say(node.place, "HS118", f"when is '{node.text}'", should, "Write it as 2030-01-31T09:15")
    return node.text


def _read_remark(entry: Entry, form: Form, kind: str) -> Remark:
    cents = None
    if form.has("cost"):
        node = form.fields["cost"]
        if _MONEY.fullmatch(node.text):
            cents = int(Decimal(node.text) * 100)
        else:
            should = "it is an amount of money with at most two decimals"
            form.reader.say(node.place, "HS119", f"cost is '{node.text}'", should, "Write it as 42.00")
    if kind == "spend":
        form.need("cost", "Write the amount, as in {cost: 42.00}")
    else:
        form.need("text", "Write what is to be said")
    return Remark(entry.id, entry.place, entry.by, entry.at, kind=kind, text=form.text("text"), cents=cents)


_FIELDS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "told": ("event", "happened", "ago", "always", "sure", "words", *SEEN_FIELDS, *CONDITION_FIELDS),
        "run": ("on", "with", "output", "case", "failed", "of", *SEEN_FIELDS, *CONDITION_FIELDS),
        "inspect": ("at", "tool", "seen", "on"),
        "measure": ("at", *UNITS, "load", "meter", "on"),
        "setup": ("on", "output", "case"),
        "repair": ("do", "at", "with"),
        **dict.fromkeys(REMARKS, ("text", "cost")),
    }
)

_READ: Mapping[str, Callable[[Entry, Form], Entry]] = MappingProxyType(
    {
        "told": read_told,
        "run": read_run,
        "inspect": read_inspect,
        "measure": read_measure,
        "repair": read_repair,
    }
)
