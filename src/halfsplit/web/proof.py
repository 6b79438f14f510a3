"""Runs that prove that a repair holds: each on one +1 button, and on one beside it what a run that does not hold does.

Equal ones that held are one entry with its count.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from halfsplit.job.advised import FIRST, PROVING
from halfsplit.job.asked import placed_entries
from halfsplit.job.changes import Course
from halfsplit.job.corrections import apply_corrections
from halfsplit.job.machine import facts_of, is_offered
from halfsplit.job.units import OWNER, kind_of
from halfsplit.model.book import Book
from halfsplit.model.job import YES, Job, Remark, RepairDone, Run, Seen, StopSeen
from halfsplit.model.machine import Conditions
from halfsplit.web.entry_text import entry_text, fields_text
from halfsplit.web.seen_page import ENDINGS
from halfsplit.web.texts import say

HEAT_SOAK_MINUTES = 30.0

CARD = "card"
"""The kind of part that not every machine has, and its load."""

_HELD = Seen(reached="log_in", stayed=True)

_STOPPED = Seen(reached="log_in", stop=StopSeen())
_FAILED: Mapping[str, Seen] = MappingProxyType(
    {
        FIRST: ENDINGS["not_up"],
        "cold": ENDINGS["not_up"],
        "restart": ENDINGS["not_up"],
        "wake": Seen(signs=MappingProxyType({"sleep_no_wake": YES})),
        "memory": Seen(reached="memory_passes", signs=MappingProxyType({"memory_test_errors": YES})),
    }
)
"""What a run of a kind shows most when it does not hold (common practice); any other stops after log-in."""


def _runs(job: Job, course: Course | None, book: Book) -> Mapping[str, Run]:
    """Return the kinds of proof run: first those that the card of the proof asks for, as they are made here."""
    kinds = {kind_of(slot) for slot in course.standing[OWNER].slots} if course is not None else {CARD}
    facts = facts_of(job, book, [])
    runs = {name: run for name in PROVING if (run := _run_of(name, course, facts, book)) is not None}
    runs |= {
        "cold": Run("", conditions=Conditions(cold=True), seen=_HELD),
        "restart": Run("", conditions=Conditions(cold=False, started_by="restart"), seen=_HELD),
        "wake": Run("", conditions=Conditions(started_by="wake"), seen=_HELD),
        "closed": Run("", conditions=Conditions(position="closed"), seen=_HELD),
    }
    for load in ("processor", "card", "memory", "drive", "all"):
        if load in book.loads and (load != CARD or CARD in kinds):
            runs[load] = Run("", conditions=Conditions(load=load, minutes=HEAT_SOAK_MINUTES), seen=_HELD)
    return MappingProxyType(runs)


def _run_of(name: str, course: Course | None, facts: Mapping[str, object], book: Book) -> Run | None:
    """Return the run of a check as one that held; None where it is not made on this machine."""
    if name not in book.checks or course is None:
        return None
    asked = placed_entries(book.checks[name], course.standing[OWNER], book, facts)
    runs = [replace(entry, id="", seen=_HELD) for entry in asked if isinstance(entry, Run)]
    return runs[0] if len(runs) == 1 and is_offered(book.checks[name], facts, book) else None


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


def proofs_of(job: Job, course: Course | None, book: Book) -> tuple[Proof, ...]:
    """Return the kinds of proof run with how many held and did not since the last repair.

    Args:
        job: the job.
        course: what its log did to the machine, None where that cannot be said.
        book: the fault book.
    """
    log = apply_corrections(job, [])[1]
    runs = _runs(job, course, book)
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


def proof_text(name: str, job: Job, course: Course | None, book: Book, *, held: bool = True) -> str | None:
    """Return what one more proof run puts on the log: a higher count where the last run was one of the same kind.

    None = there is no such kind of run on this machine.
    """
    run = _runs(job, course, book).get(name)
    if run is None:
        return None
    if not held:
        return entry_text([_failing(name, run)], book)
    last = next((entry for entry in reversed(apply_corrections(job, [])[1]) if not isinstance(entry, Remark)), None)
    if isinstance(last, Run) and last.failed == last.of and _is_same(last, run):
        return fields_text("correct", {"entry": last.id, "of": str(last.of + 1)})
    return entry_text([run], book)


def _failing(name: str, run: Run) -> Run:
    """Return a proof run that did not hold."""
    return replace(run, seen=_FAILED.get(name, _STOPPED))


def _failing_word(name: str) -> str:
    return name if name in _FAILED else "stops"


def _is_same(entry: Run, run: Run) -> bool:
    return replace(entry, id="", place="", by="", at="", failed=1, of=1) == run
