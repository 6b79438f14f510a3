"""A check as entries of a log: the run, the looks and the numbers that it asks for, with no result yet."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from types import MappingProxyType

from halfsplit.job.machine import NO_FACTS, shelf_part
from halfsplit.job.units import OWNER, kind_of, number_of
from halfsplit.model.bench import Check
from halfsplit.model.book import Book
from halfsplit.model.job import ChangeSetup, Entry, Inspect, Measure, Run, Seen
from halfsplit.model.machine import Conditions, Setup

RUN = "run"
"""The id of a check's run; its looks and numbers have the names of what is looked at and measured."""

PICTURE = "picture"
STOP = "stop"

_QUESTION = "ask"  # the kind of a check that only asks the owner
_NO_SLOTS = ("output", "case")
_OUT_MINUTES = 1.0  # how long the lead was out is never asked, only whether


def entries_of(check: Check, book: Book, facts: Mapping[str, object] = NO_FACTS) -> tuple[Entry, ...]:
    """Return the entries that a check asks for, in the order in which they are done.

    Args:
        check: the check.
        book: the fault book.
        facts: what is known of the machine, for the shelf part that goes into it.

    Returns:
        One run at most, then each look, with the best of the check's tools, and each number.  What is asked of
        the owner is no entry.
    """
    swaps = MappingProxyType({slot: _held(slot, put, book, facts) for slot, put in _slots(check)})
    output, case = check.setup.get("output", ""), check.setup.get("case", "")
    log: list[Entry] = []
    if check.kind != _QUESTION and any(_is_of_run(word, book) for word in check.asks):
        outputs = [word.partition(".")[2] or "used" for word in check.asks if word.partition(".")[0] == PICTURE]
        seen = Seen(picture=MappingProxyType({output: MappingProxyType({}) for output in outputs}))
        log.append(Run(RUN, on=check.host, swaps=swaps, output=output, case=case, conditions=_said(check), seen=seen))
    looks: list[Entry] = []
    for word in check.asks:
        if word in book.inspections and book.tools:
            looks.append(Inspect(word, what=word, tool=_best_tool(check.tools, book)))
        elif word in book.measurements:
            looks.append(Measure(word, what=word, load=check.conditions.get("load", "idle"), on=check.host))
    if looks and check.host != OWNER:
        log.append(ChangeSetup("setup", on=check.host, swaps=swaps, output=output, case=case))
    return (*log, *looks)


def placed_entries(
    check: Check, standing: Setup, book: Book, facts: Mapping[str, object] = NO_FACTS
) -> tuple[Entry, ...]:
    """Return the entries that a check asks for on one machine: one look or number for each of several parts.

    Args:
        check: the check.
        standing: the setup of the owner's machine as it was left.
        book: the fault book.
        facts: what is known of the machine, for the shelf part that goes into it.

    Returns:
        As ``entries_of``, without looks and numbers of what is not there, and without taking out what is not in.
    """
    return place_entries(entries_of(check, book, facts), standing, book)


def place_entries(entries: Iterable[Entry], standing: Setup, book: Book) -> tuple[Entry, ...]:
    """Return the entries of a check as they are made on one machine, as ``placed_entries`` does."""
    log: list[Entry] = []
    for entry in entries:
        match entry:
            case Run():
                log.append(replace(entry, swaps=MappingProxyType(_changing(entry, standing))))
            case Inspect() | Measure():
                at = (book.inspections if isinstance(entry, Inspect) else book.measurements)[entry.what].at
                for number in numbers_at(at, standing, book):
                    log.append(replace(entry, id=entry.what + number, what=entry.what + number))
            case _:
                log.append(entry)
    return tuple(log)


def numbers_at(at: str, standing: Setup, book: Book) -> tuple[str, ...]:
    """Return the numbers (".1") of a kind of part or joint in a machine; ("",) where there is one, () where none."""
    kinds = book.joints[at].between if at in book.joints else (at,)
    if not all(standing.has(kind) for kind in kinds):
        return ()
    many = next((kind for kind in kinds if book.kinds[kind].many), "")
    if not many:
        return ("",)
    return tuple(sorted(number_of(slot) for slot in standing.slots if kind_of(slot) == many))


def _changing(run: Run, standing: Setup) -> dict[str, str]:
    return {slot: held for slot, held in run.swaps.items() if held != "out" or standing.has(slot)}


def _is_of_run(word: str, book: Book) -> bool:
    return word == STOP or word.partition(".")[0] == PICTURE or word in book.signs


def _slots(check: Check) -> Iterable[tuple[str, str]]:
    return [(slot, put) for slot, put in check.setup.items() if slot not in _NO_SLOTS]


def _held(slot: str, put: str, book: Book, facts: Mapping[str, object]) -> str:
    """Return what is put in a slot; of the shelf parts the one that most likely goes into such a machine."""
    if put != "shelf":
        return put
    part = shelf_part(kind_of(slot), facts, book)
    return f"shelf.{part.id}" if part is not None else "new"


def _best_tool(tools: Iterable[str], book: Book) -> str:
    known = [tool for tool in tools if tool in book.tools] or list(book.tools)
    return max(known, key=lambda tool: book.tools[tool].reach)


def _said(check: Check) -> Conditions:
    said = check.conditions
    cold, lead_out = said.get("cold"), said.get("lead_out")
    return Conditions(
        cold=None if cold is None else cold == "yes",
        load=said.get("load", "idle"),
        minutes=float(said["minutes"]) if "minutes" in said else None,
        lead_out_minutes=None if lead_out is None else 0.0 if lead_out == "no" else _OUT_MINUTES,
        position=said.get("position", ""),
        touched=said.get("touched", ""),
        started_by=said.get("started_by", ""),
        first_after=said.get("first_after", ""),
    )
