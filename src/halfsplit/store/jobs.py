"""The jobs: one row each, with what lists need; what happened to a job is in its log."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Any

from sqlalchemy import ColumnElement, Connection, Row, insert, select, update

from halfsplit.errors import Mistake, StoreError
from halfsplit.store.states import COLLECTED, ON_BENCH, STATES
from halfsplit.store.tables import JOB, STATE_CHANGE


@dataclass(frozen=True)
class JobRow:
    """One job as a list shows it.  Times are ISO 8601 in UTC; "" is "not said".

    Args:
        number: what the job is called by; never given twice.
        name, complaint, kind, age_years: as the machine was last described.
        state: one of ``STATES``.
        waiting_for: what it waits for, in words.
        is_open: whether it is neither collected nor put away.
        opened_at: when.
        promised_on: the day that it is promised for.
        contacted_at: when the owner was last spoken to.
        put_away_at: when it was put away as opened by mistake.
        book_hash: of the fault book that it was opened with.
        comeback_of: the earlier job that it comes back from.
        last_rung, suspicion, suspicion_p: a summary, as of entry ``summed_up_to``; made anew at will.
    """

    number: int
    name: str
    complaint: str
    kind: str
    age_years: float | None
    state: str
    waiting_for: str
    is_open: bool
    opened_at: str
    promised_on: str
    contacted_at: str
    put_away_at: str
    book_hash: str
    comeback_of: int | None
    last_rung: str
    suspicion: str
    suspicion_p: float | None
    summed_up_to: int


@dataclass(frozen=True)
class StateChange:
    """A job came into a state."""

    state: str
    waiting_for: str
    initials: str
    at: str


_COLUMNS = [JOB.c[each.name] for each in fields(JobRow)]


def add_job(connection: Connection, *, book_hash: str, initials: str, at: str, comeback_of: int | None = None) -> int:
    """Add a job and return its number.

    Raises:
        StoreError: HS711 it is to come back from a job that there is not.
    """
    if comeback_of is not None:
        get_job(connection, comeback_of)
    state = ON_BENCH if comeback_of is None else "comeback"
    row = {"book_hash": book_hash, "opened_at": at, "state": state, "comeback_of": comeback_of}
    number = int(connection.execute(insert(JOB).values(row).returning(JOB.c.number)).scalar_one())
    _note_state(connection, number, StateChange(state, "", initials, at))
    return number


def get_job(connection: Connection, number: int) -> JobRow:
    """Return a job.

    Raises:
        StoreError: HS711 there is no job with that number.
    """
    row = connection.execute(select(*_COLUMNS).where(JOB.c.number == number)).one_or_none()
    if row is None:
        should, do = "a job has the number that it was given when it was opened", "Look it up in the list of jobs"
        raise StoreError([Mistake(f"job {number}", "HS711", "there is no such job", should, do)])
    return _job_row(row)


def change_job(connection: Connection, number: int, **values: object) -> None:
    """Change what a list shows of a job.

    Args:
        connection: to write by.
        number: of a job that there is.
        values: fields of ``JobRow`` but ``number``, ``state`` and ``is_open``.
    """
    connection.execute(update(JOB).where(JOB.c.number == number).values(**values))


def set_state(connection: Connection, number: int, change: StateChange) -> None:
    """Bring a job into a state, and note when and by whom.

    Raises:
        StoreError: HS711 there is no such job; HS712 no such state.
    """
    if change.state not in STATES:
        should = f"the states of a job are {', '.join(STATES)}"
        so = f"'{change.state}' is no state"
        raise StoreError([Mistake(f"job {number}", "HS712", so, should, "Write one of them")])
    job = get_job(connection, number)
    is_open = change.state != COLLECTED and not job.put_away_at
    change_job(connection, number, state=change.state, waiting_for=change.waiting_for, is_open=int(is_open))
    _note_state(connection, number, change)


def put_away(connection: Connection, number: int, at: str) -> None:
    """Put away a job that was opened by mistake; with "" bring it back.

    Raises:
        StoreError: HS711 there is no such job.
    """
    job = get_job(connection, number)
    change_job(connection, number, put_away_at=at, is_open=int(job.state != COLLECTED and not at))


def list_open(connection: Connection) -> tuple[JobRow, ...]:
    """Return all open jobs: promised ones first, the earliest day first, then by number."""
    order = [(JOB.c.promised_on == "").asc(), JOB.c.promised_on, JOB.c.number]
    return _rows(connection, JOB.c.is_open == 1, order, None)


def list_closed(connection: Connection, *, before: int | None = None, limit: int = 50) -> tuple[JobRow, ...]:
    """Return jobs that are collected or put away, the newest first; ``before`` is a number, for the next page."""
    closed = JOB.c.is_open == 0
    return _rows(
        connection, closed if before is None else closed & (JOB.c.number < before), (JOB.c.number.desc(),), limit
    )


def list_numbers(connection: Connection, numbers: tuple[int, ...]) -> tuple[JobRow, ...]:
    """Return the jobs with these numbers, in this order."""
    rows = {row.number: row for row in _rows(connection, JOB.c.number.in_(numbers), (), None)}
    return tuple(rows[number] for number in numbers if number in rows)


def list_states(connection: Connection, number: int) -> tuple[StateChange, ...]:
    """Return the states that a job was in, in order."""
    columns = [STATE_CHANGE.c[each.name] for each in fields(StateChange)]
    query = select(*columns).where(STATE_CHANGE.c.job == number).order_by(STATE_CHANGE.c.id)
    return tuple(StateChange(**row) for row in connection.execute(query).mappings())


def _note_state(connection: Connection, number: int, change: StateChange) -> None:
    values: Mapping[str, object] = {each.name: getattr(change, each.name) for each in fields(change)}
    connection.execute(insert(STATE_CHANGE).values(job=number, **values))


def _rows(
    connection: Connection,
    where: ColumnElement[bool],
    order: Sequence[ColumnElement[Any]],
    limit: int | None,
) -> tuple[JobRow, ...]:
    query = select(*_COLUMNS).where(where).order_by(*order).limit(limit)
    return tuple(_job_row(row) for row in connection.execute(query))


def _job_row(row: Row[tuple[object, ...]]) -> JobRow:
    values = dict(row._mapping)
    return JobRow(**{**values, "is_open": bool(values["is_open"])})
