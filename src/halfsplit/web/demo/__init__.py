"""A small bench to look around on: invented machines of invented people, brought in over the last days.

Each machine is a job file in ``jobs/``; what lies beside its log (who, how long ago, its state) is in ``STORIES``.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path

from halfsplit import actions
from halfsplit.actions import Bench
from halfsplit.jobfile import parse_job, write_job
from halfsplit.model.book import Book
from halfsplit.model.job import Entry, Job, RepairDone, Run
from halfsplit.settings import Settings, save_settings
from halfsplit.store.persons import Person
from halfsplit.store.shelf import Consumable
from halfsplit.store.states import COLLECTED, ON_BENCH
from halfsplit.web.entry_text import entry_text

JOBS = Path(__file__).parent / "jobs"
SHOP = "Repair bench at the old mill"
PEOPLE = ("MK", "TO")
RUN_MINUTES, MOST_MINUTES, OTHER_MINUTES = 3.0, 45.0, 2.0
"""What a run takes where nobody said, what somebody stays at the sheet for at most, and what all else takes."""

CONSUMABLES = (
    (Consumable("paste", "thermal paste, coolers", 12), 20),
    (Consumable("cmos_batteries", "CMOS batteries", 9), 20),
    (Consumable("cmos_batteries", "CMOS batteries", 8), 6),
)
"""What was counted on the shelf, and how many days ago."""

PROVEN = (("supply_a", 3), ("memory_ddr4", 11), ("card_small", 26))
"""Parts of the shelf that showed that they are good, and how many days ago."""


@dataclass(frozen=True)
class Story:
    """What lies beside the log of a machine.

    Args:
        file: its job file in ``jobs/``, without the ending.
        hours_ago: how long ago it was brought in.
        by: whose job it is.
        state: where it is now; ``collected`` a day after it came.
        waiting_for: what it waits for.
        told_hours_ago: how long ago its owner was last spoken to, None = not since it was brought in.
        due_days: days until it is promised for, None = not promised.
        person: who brought it, or None.
    """

    file: str
    hours_ago: float
    by: str = PEOPLE[0]
    state: str = ON_BENCH
    waiting_for: str = ""
    told_hours_ago: float | None = None
    due_days: int | None = None
    person: Person | None = None


STORIES = (
    Story("module_not_home", 9 * 24, state=COLLECTED, person=Person("Ottilie Musterfeld")),
    Story("restarts_under_load", 27, due_days=1, person=Person("Ilse Brandauer-Muster", notes="rings back after five")),
    Story(
        "black_some_mornings",
        4 * 24,
        by=PEOPLE[1],
        state="test_running",
        waiting_for="the next cold starts, one each morning",
    ),
    Story("fans_stand_still", 21, state="ready", told_hours_ago=2),
    Story(
        "dead_old_tower",
        3,
        by=PEOPLE[1],
        state="waiting_for_owner",
        waiting_for="mend it, or another machine in its place?",
        told_hours_ago=1,
    ),
    Story("reseat_comes_back", 2 * 24 + 5, due_days=0, told_hours_ago=30),
    Story(
        "encrypted_and_forgetful",
        5,
        state="waiting_for_owner",
        waiting_for="is the recovery key at hand?",
        person=Person("Tadeus Exemplar"),
    ),
    Story("monitor_in_wrong_output", 0.5),
)
"""The machines, in the order of their numbers."""


def stock_demo(bench: Bench, now: datetime) -> None:
    """Put jobs, people, a shelf and settings on a bench; one that has a job already is left as it is.

    Args:
        bench: the bench.
        now: the moment; all was entered in the days before it.
    """
    if actions.list_open_jobs(bench) or actions.list_closed_jobs(bench, limit=1):
        return
    save_settings(bench.store, Settings(shop=SHOP, people=PEOPLE))
    actions.stock_shelf(bench, by=PEOPLE[0], now=now - timedelta(days=30))
    for part, days in PROVEN:
        actions.prove_part(bench, part, by=PEOPLE[0], now=now - timedelta(days=days))
    for item, days in CONSUMABLES:
        actions.count_consumable(bench, item, by=PEOPLE[0], now=now - timedelta(days=days))
    for story in STORIES:
        _bring_in(bench, story, now)


def load_story(book: Book, file: str) -> Job:
    """Return the job of a story, read by a fault book.

    Raises:
        ValueError: its file has mistakes.
    """
    job, mistakes = parse_job((JOBS / f"{file}.yaml").read_text(encoding="utf-8"), book)
    if job is None:
        raise ValueError("\n".join(map(str, mistakes)))
    return job


def _bring_in(bench: Bench, story: Story, now: datetime) -> None:
    opened, by, days = now - timedelta(hours=story.hours_ago), story.by, Settings().person_days
    job = load_story(bench.book, story.file)
    number = actions.open_job(bench, write_job(replace(job, told=(), log=()), bench.book), by=by, now=opened)
    ended = _work(bench, number, (*job.told, *job.log), by, opened)
    if story.person is not None:
        actions.set_person(bench, number, story.person, now=opened, person_days=days)
    if story.due_days is not None:
        actions.promise(bench, number, (now + timedelta(days=story.due_days)).date())
    if story.told_hours_ago is not None:
        actions.note_contact(bench, number, now=now - timedelta(hours=story.told_hours_ago))
    if story.state == COLLECTED:
        actions.collect(bench, number, by=by, now=opened + timedelta(days=1), person_days=days)
    elif story.state != ON_BENCH:
        actions.set_state(bench, number, story.state, by=by, now=ended, waiting_for=story.waiting_for)


def _work(bench: Bench, number: int, entries: Sequence[Entry], by: str, opened: datetime) -> datetime:
    """Enter what was told and done, one entry after the other, and return when that was over."""
    actions.start_time(bench, number, by=by, now=opened)
    at = opened
    for entry in entries:
        at += timedelta(minutes=_minutes(entry, bench.book))
        actions.record(bench, number, entry_text([entry], bench.book), by=by, now=at)
    actions.call_away(bench, by=by, now=at)
    return at


def _minutes(entry: Entry, book: Book) -> float:
    """Return how long an entry took, as the demo has it."""
    if isinstance(entry, Run):
        return min((entry.conditions.minutes or RUN_MINUTES) * entry.of, MOST_MINUTES)
    return book.repairs[entry.do].minutes.hands_on if isinstance(entry, RepairDone) else OTHER_MINUTES
