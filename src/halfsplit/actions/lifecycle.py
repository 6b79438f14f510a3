"""What becomes of a job beside its log: its state, what is promised, whose time goes to it, putting it away."""

from datetime import date, datetime

from sqlalchemy import Connection

from halfsplit.actions.bench import Bench, in_days, in_utc
from halfsplit.errors import Mistake, StoreError
from halfsplit.store import jobs, persons, spells
from halfsplit.store.jobs import StateChange
from halfsplit.store.persons import PersonKept
from halfsplit.store.spells import Spell
from halfsplit.store.states import COLLECTED


def set_state(bench: Bench, number: int, state: str, *, by: str, now: datetime, waiting_for: str = "") -> None:
    """Bring a job into any state but ``collected``; one that is open again keeps its person until it is closed.

    Args:
        bench: the bench.
        number: the job's.
        state: one of ``store.states.STATES``.
        by: initials.
        now: the moment.
        waiting_for: what the job waits for, in words.

    Raises:
        StoreError: HS711 there is no such job; HS712 no such state, or ``collected``, which ``collect`` is for.
    """
    if state == COLLECTED:
        so, should = f"'{state}' is set by itself", "collecting a machine wipes its owner's passcode as well"
        raise StoreError([Mistake(f"job {number}", "HS712", so, should, "Collect it")])
    with bench.store.writing() as connection:
        jobs.set_state(connection, number, StateChange(state, waiting_for, by, in_utc(now)))
        _keep_person_if_open(connection, number)


def collect(bench: Bench, number: int, *, by: str, now: datetime, person_days: int) -> None:
    """Note that the machine is collected: the job is closed, its owner's passcode is wiped, nobody's time goes to it.

    Args:
        bench: the bench.
        number: the job's.
        by: initials.
        now: the moment.
        person_days: days until the person's record dies, where it has no day yet.

    Raises:
        StoreError: HS711 there is no such job; HS704 the key is another than the person's record was sealed by;
            HS705 it is collected, but the passcode is still in the journal.
    """
    with bench.store.writing() as connection:
        jobs.set_state(connection, number, StateChange(COLLECTED, "", by, in_utc(now)))
        spells.end_spells_at(connection, number, in_utc(now))
        kept = persons.get_person(connection, bench.store.vault, number)
        if kept is not None:
            dies_on = kept.dies_on or in_days(now, person_days)
            without = PersonKept(kept.person.without_passcode(), dies_on)
            persons.set_person(connection, bench.store.vault, number, without)
    if kept is not None:
        bench.store.settle()


def put_away(bench: Bench, number: int, *, now: datetime, person_days: int) -> None:
    """Put away a job that was opened by mistake: no time goes to it; nothing is lost until its person's day comes.

    Args:
        bench: the bench.
        number: the job's.
        now: the moment.
        person_days: days until the person's record dies, where it has no day yet.

    Raises:
        StoreError: HS711 there is no such job.
    """
    with bench.store.writing() as connection:
        jobs.put_away(connection, number, in_utc(now))
        spells.end_spells_at(connection, number, in_utc(now))
        persons.let_die(connection, number, in_days(now, person_days))


def bring_back(bench: Bench, number: int) -> None:
    """Bring a job back that was put away; one that is open again keeps its person until it is closed.

    Raises:
        StoreError: HS711 there is no such job.
    """
    with bench.store.writing() as connection:
        jobs.put_away(connection, number, "")
        _keep_person_if_open(connection, number)


def promise(bench: Bench, number: int, day: date | None) -> None:
    """Promise a job for a day, or for none.

    Raises:
        StoreError: HS711 there is no such job.
    """
    with bench.store.writing() as connection:
        jobs.get_job(connection, number)
        jobs.change_job(connection, number, promised_on="" if day is None else day.isoformat())


def note_contact(bench: Bench, number: int, *, now: datetime) -> None:
    """Note that the owner was spoken to.

    Raises:
        StoreError: HS711 there is no such job.
    """
    with bench.store.writing() as connection:
        jobs.get_job(connection, number)
        jobs.change_job(connection, number, contacted_at=in_utc(now))


def start_time(bench: Bench, number: int, *, by: str, now: datetime) -> None:
    """Let somebody's time go to a job from now on, if that is open; it ends at the job that it went to before.

    Raises:
        StoreError: HS711 there is no such job.
    """
    with bench.store.reading() as connection:
        running = spells.running_spell(connection, by)
    if running is None or running.job != number:  # who only looks again keeps nobody waiting that writes
        with bench.store.writing() as connection:
            if jobs.get_job(connection, number).is_open:
                spells.start_spell(connection, number, by, in_utc(now))


def call_away(bench: Bench, *, by: str, now: datetime) -> None:
    """Let somebody's time go to no job from now on."""
    with bench.store.writing() as connection:
        spells.end_spell(connection, by, in_utc(now))


def job_of(bench: Bench, *, by: str) -> Spell | None:
    """Return where somebody's time goes now, or None."""
    with bench.store.reading() as connection:
        return spells.running_spell(connection, by)


def _keep_person_if_open(connection: Connection, number: int) -> None:
    if jobs.get_job(connection, number).is_open:
        persons.let_live(connection, number)
