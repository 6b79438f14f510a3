"""Fields of what was otherwise in the machine: by slot, and what else may have been."""

from collections.abc import Iterable
from dataclasses import replace
from types import MappingProxyType
from typing import Any

from halfsplit.job.lines import held_in_words, title_of_slot
from halfsplit.job.units import OWNER, SHELF, kind_of
from halfsplit.model.book import Book
from halfsplit.model.job import ChangeSetup, Run
from halfsplit.model.machine import Setup
from halfsplit.web.entry_fields import Field, Option, choice, options_of
from halfsplit.web.place_fields import host_field
from halfsplit.web.texts import say

OUT = "out"


def setup_fields(entry: Run | ChangeSetup, standing: Setup, book: Book) -> Iterable[Field[Any]]:
    """Yield what was otherwise in the machine: each slot that was changed, and lists of what else may have been.

    Args:
        entry: the run, or the change of the setup.
        standing: how the machine stands, for what else may have been out.
        book: the fault book, with the parts of the bench's own shelf.
    """
    yield host_field(entry.on, book)
    for slot, held in entry.swaps.items():
        if slot != "case" or not entry.case:  # a word of the setup and a part: asked for below
            yield Field(
                f"slot:{slot}",
                title_of_slot(slot, book),
                held,
                _put_slot(slot),
                options=_held(slot, held, entry, book),
            )
    others = [slot for slot in standing.slots if slot not in entry.swaps]
    first = Option("", say("field.no_other"))
    out = tuple(Option(slot, title_of_slot(slot, book)) for slot in others)
    yield Field("also_out", say("field.also_out"), "", _put_out, options=(first, *out))
    ours = tuple(Option(part.id, part.title or part.id.replace("_", " ")) for part in book.shelf.values())
    yield Field("also_ours", say("field.also_ours"), "", _put_ours(standing, book), options=(first, *ours))
    unsaid = say("field.as_before")
    yield choice(
        "output",
        entry.output,
        options_of(book.outputs, unsaid=unsaid),
        lambda now, said: replace(now, output=said),
    )
    cases = (Option("", unsaid), Option("in", say("log.case_in")), Option(OUT, say("log.case_out")))
    yield choice("case", entry.case, cases, _put_case)


def _held(slot: str, held: str, entry: Run | ChangeSetup, book: Book) -> tuple[Option, ...]:
    """Return what a slot may hold."""
    words = {"": say("field.as_before"), "in": say("chip.in"), OUT: say("chip.out")}
    ours = [f"{SHELF}.{part.id}" for part in book.shelf.values() if part.kind == kind_of(slot)]
    known = [*words, *([OWNER] if entry.on != OWNER else []), *ours]
    return tuple(Option(each, words.get(each) or held_in_words(each, book)) for each in dict.fromkeys((*known, held)))


def _put_ours(standing: Setup, book: Book) -> Any:
    def put(entry: Any, said: str) -> Any:
        """Return an entry with one more part of the shelf, in the first slot of its kind."""
        if said not in book.shelf:
            return entry
        kind = book.shelf[said].kind
        slot = next((each for each in standing.slots if kind_of(each) == kind), "")
        slot = slot or (f"{kind}.1" if book.kinds[kind].many else kind)
        return replace(entry, swaps=MappingProxyType({**entry.swaps, slot: f"{SHELF}.{said}"}))

    return put


def _put_slot(slot: str) -> Any:
    def put(entry: Run | ChangeSetup, said: str) -> Run | ChangeSetup:
        kept = {name: held for name, held in entry.swaps.items() if name != slot or said}
        return replace(entry, swaps=MappingProxyType({**kept, slot: said} if said else kept))

    return put


def _put_case(entry: Run | ChangeSetup, said: str) -> Run | ChangeSetup:
    """Return an entry with the board in or out of the case: in a change of the setup it is a slot as well."""
    if isinstance(entry, Run):
        return replace(entry, case=said)
    kept = {slot: held for slot, held in entry.swaps.items() if slot != "case"}
    return replace(entry, case=said, swaps=MappingProxyType({**kept, "case": said} if said else kept))


def _put_out(entry: Run | ChangeSetup, said: str) -> Run | ChangeSetup:
    return replace(entry, swaps=MappingProxyType({**entry.swaps, said: OUT})) if said else entry
