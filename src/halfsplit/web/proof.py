"""Runs that prove that a repair holds: each on one +1 button, and on one beside it what a run that does not hold does.

Equal ones that held are one entry with its count.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from halfsplit.job.corrections import apply_corrections
from halfsplit.model.book import Book
from halfsplit.model.job import YES, Job, Remark, RepairDone, Run, Seen, StopSeen
from halfsplit.model.machine import Conditions
from halfsplit.web.entry_text import entry_text, fields_text
from halfsplit.web.seen_page import ENDINGS
from halfsplit.web.texts import say

HEAT_SOAK_MINUTES = 30.0

_HELD = Seen(reached="log_in", stayed=True)

_STOPPED = Seen(reached="log_in", stop=StopSeen())
_FAILED: Mapping[str, Seen] = MappingProxyType(
    {
        "cold": ENDINGS["not_up"],
        "restart": ENDINGS["not_up"],
        "wake": Seen(signs=MappingProxyType({"sleep_no_wake": YES})),
        "memory": Seen(reached="memory_passes", signs=MappingProxyType({"memory_test_errors": YES})),
    }
)
"""What a run of a kind shows most when it does not hold (common practice); any other stops after log-in."""


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
        failed: how many did not.
        failing: what such a run does when it does not hold.
    """

    id: str
    title: str
    held: int
    failed: int
    failing: str


def proofs_of(job: Job, book: Book) -> tuple[Proof, ...]:
    """Return the kinds of proof run with how many held and did not since the last repair."""
    log = apply_corrections(job, [])[1]
    runs = _runs(book)
    held, failed = dict.fromkeys(runs, 0), dict.fromkeys(runs, 0)
    for entry in log:
        if isinstance(entry, RepairDone):
            held, failed = dict.fromkeys(runs, 0), dict.fromkeys(runs, 0)
        for name, run in runs.items():
            if isinstance(entry, Run) and entry.failed == entry.of:
                held[name] += entry.of * _is_same(entry, run)
                failed[name] += entry.of * _is_same(entry, _failing(name, run))
    return tuple(
        Proof(name, say(f"proof.{name}"), held[name], failed[name], say(f"proof.failing_{_failing_word(name)}"))
        for name in runs
    )


def proof_text(name: str, job: Job, book: Book, *, held: bool = True) -> str:
    """Return what one more proof run puts on the log: a higher count where the last run was one of the same kind."""
    run = _runs(book)[name]
    if not held:
        return entry_text([_failing(name, run)], book)
    last = next((entry for entry in reversed(apply_corrections(job, [])[1]) if not isinstance(entry, Remark)), None)
    if isinstance(last, Run) and last.failed == last.of and _is_same(last, run):
        return fields_text("correct", {"entry": last.id, "of": str(last.of + 1)})
    return entry_text([run], book)


def is_proof(name: str, book: Book) -> bool:
    """Return whether there is a kind of proof run with this name."""
    return name in _runs(book)


def _failing(name: str, run: Run) -> Run:
    """Return a proof run that did not hold."""
    return replace(run, seen=_FAILED.get(name, _STOPPED))


def _failing_word(name: str) -> str:
    return name if name in _FAILED else "stops"


def _is_same(entry: Run, run: Run) -> bool:
    return replace(entry, id="", place="", by="", at="", failed=1, of=1) == run
