"""The look back on a job: what it took, by the clock of the bench, and which of its steps took longest."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from halfsplit.actions import JobView
from halfsplit.actions.onfile import INTAKE
from halfsplit.job.corrections import apply_corrections
from halfsplit.model.book import Book
from halfsplit.model.job import Inspect, Job, Measure, Remark, RepairDone, Run
from halfsplit.store.log import LogLine
from halfsplit.store.spells import Spell
from halfsplit.text import length_in_words
from halfsplit.web.log_rows import entry_in_words

LONGEST = 3
"""The longest steps are named, so many."""

LEAST_SECONDS = 60.0
"""A step that took less is not named."""


@dataclass(frozen=True)
class Step:
    """One step: what was entered at its end, and how long it took, in words."""

    line: str
    took: str


@dataclass(frozen=True)
class LookBack:
    """What a job took.

    Args:
        at_bench: how long somebody had it open, in words, or "".
        in_shop: from intake until it was collected, or until now, in words.
        runs, looks, repairs: how many there were, as the log stands corrected; five runs of one entry are five.
        after_repair: the share of the time that came after the first repair, in words, or "".
        longest: the steps that took longest, the longest first.
        spent_cents: what was spent on it, in cents, as entered.
    """

    at_bench: str
    in_shop: str
    runs: int
    looks: int
    repairs: int
    after_repair: str
    longest: tuple[Step, ...]
    spent_cents: int


def look_back(view: JobView, book: Book, now: datetime) -> LookBack:
    """Return the look back on a job.

    Args:
        view: the job.
        book: the fault book, for the titles.
        now: the moment, for what has not ended.

    Returns:
        A step lasts from the entry before it, by whoever made it and in the same stretch of time at the job; what
        was entered while nobody had the job open is no step.
    """
    job = view.job or Job()
    entries = {entry.id: entry for entry in (*job.told, *job.log)}
    log = apply_corrections(job, [])[1]
    took = dict(_took(view.lines, view.spells, now))
    ended = next((_at(change.at) for change in reversed(view.states) if change.state == "collected"), now)
    repaired = [entry.id for entry in log if isinstance(entry, RepairDone)]
    order = [line.entry for line in view.lines]
    later = sum(took.get(name, 0.0) for name in order[order.index(repaired[0]) + 1 :]) if repaired else 0.0
    named = sorted(((seconds, name) for name, seconds in took.items() if name in entries), key=lambda each: -each[0])
    total = sum(
        ((_at(spell.ended_at) if spell.ended_at else now) - _at(spell.started_at)).total_seconds()
        for spell in view.spells
    )
    return LookBack(
        length_in_words(total) if total >= LEAST_SECONDS else "",
        length_in_words((ended - _at(view.row.opened_at)).total_seconds()),
        sum(entry.of for entry in log if isinstance(entry, Run)),
        sum(isinstance(entry, Inspect | Measure) for entry in log),
        len(repaired),
        length_in_words(later) if later >= LEAST_SECONDS else "",
        tuple(
            Step(entry_in_words(entries[name], book), length_in_words(seconds))
            for seconds, name in named[:LONGEST]
            if seconds >= LEAST_SECONDS
        ),
        sum(entry.cents or 0 for entry in log if isinstance(entry, Remark) and entry.kind == "spend"),
    )


def _took(lines: Sequence[LogLine], spells: Sequence[Spell], now: datetime) -> Iterable[tuple[str, float]]:
    """Yield each entry with the seconds since the one before it, in the same stretch of time."""
    for spell in spells:
        begun, ended = _at(spell.started_at), _at(spell.ended_at) if spell.ended_at else now
        last = begun
        for line in lines:
            at = _at(line.at)
            if line.initials == spell.initials and begun <= at <= ended and line.kind != INTAKE:
                yield line.entry, (at - last).total_seconds()
                last = at


def _at(moment: str) -> datetime:
    return datetime.fromisoformat(moment)
