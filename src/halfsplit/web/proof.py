"""Runs that prove that a repair holds: each on one +1 button, equal ones in a row one entry with its count."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from halfsplit.job.corrections import apply_corrections
from halfsplit.model.book import Book
from halfsplit.model.job import Job, Remark, RepairDone, Run, Seen
from halfsplit.model.machine import Conditions
from halfsplit.web.entry_text import entry_text, fields_text
from halfsplit.web.texts import say

HEAT_SOAK_MINUTES = 30.0

_HELD = Seen(reached="log_in", stayed=True)


def _runs(book: Book) -> Mapping[str, Run]:
    """Return the kinds of proof run."""
    runs = {
        "cold": Run("", conditions=Conditions(cold=True), seen=_HELD),
        "restart": Run("", conditions=Conditions(cold=False, started_by="restart"), seen=_HELD),
        "wake": Run("", conditions=Conditions(started_by="wake"), seen=_HELD),
        "closed": Run("", conditions=Conditions(position="closed"), seen=_HELD),
    }
    for load in ("processor", "card", "memory", "drive", "all"):
        if load in book.loads:
            runs[load] = Run("", conditions=Conditions(load=load, minutes=HEAT_SOAK_MINUTES), seen=_HELD)
    return MappingProxyType(runs)


@dataclass(frozen=True)
class Proof:
    """One kind of proof run.

    Args:
        id: its name.
        title: what is run.
        held: how many held since the last repair.
    """

    id: str
    title: str
    held: int


def proofs_of(job: Job, book: Book) -> tuple[Proof, ...]:
    """Return the kinds of proof run with how many held since the last repair."""
    log = apply_corrections(job, [])[1]
    held: dict[str, int] = {}
    runs = _runs(book)
    for entry in log:
        if isinstance(entry, RepairDone):
            held.clear()
        for name, run in runs.items():
            if isinstance(entry, Run) and _is_same(entry, run):
                held[name] = held.get(name, 0) + entry.of
    return tuple(Proof(name, say(f"proof.{name}"), held.get(name, 0)) for name in runs)


def proof_text(name: str, job: Job, book: Book) -> str:
    """Return what one more proof run puts on the log: a higher count where the last run was one of the same kind."""
    run = _runs(book)[name]
    last = next((entry for entry in reversed(apply_corrections(job, [])[1]) if not isinstance(entry, Remark)), None)
    if isinstance(last, Run) and _is_same(last, run):
        return fields_text("correct", {"entry": last.id, "of": str(last.of + 1)})
    return entry_text([run], book)


def is_proof(name: str, book: Book) -> bool:
    """Return whether there is a kind of proof run with this name."""
    return name in _runs(book)


def _is_same(entry: Run, run: Run) -> bool:
    plain = replace(entry, id="", place="", by="", at="", failed=1, of=1)
    return plain == run and entry.failed == entry.of
