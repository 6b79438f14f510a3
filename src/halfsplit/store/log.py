"""The logs: what was entered, in order, each line as it was; lines are added and nothing else."""

from collections.abc import Sequence
from dataclasses import dataclass, fields

from sqlalchemy import Connection, insert, select
from sqlalchemy.exc import IntegrityError

from halfsplit.store.tables import LOG


@dataclass(frozen=True)
class LogLine:
    """One line of a log.

    Args:
        seq: its place in the log, from 1.
        entry: the entry's id.
        kind: the kind of entry, or ``intake``: the machine and the complaint as known from then on.
        text: what was entered, in the job file's own form.
        initials: of whoever entered it.
        at: when it was entered, as ISO 8601 in UTC.
        tap: the place of the first line that was entered by the same tap; None = entered before that was kept.
    """

    seq: int
    entry: str
    kind: str
    text: str
    initials: str
    at: str
    tap: int | None = None


class OvertakenError(Exception):
    """Somebody else added to this log in the meantime; read it again and try again."""


def read_log(connection: Connection, number: int) -> tuple[LogLine, ...]:
    """Return the log of a job, in order."""
    return read_logs(connection, [number])[number]


def read_logs(connection: Connection, numbers: Sequence[int]) -> dict[int, tuple[LogLine, ...]]:
    """Return the logs of some jobs, each in order, by the job's number."""
    columns = [LOG.c[each.name] for each in fields(LogLine)]
    query = select(LOG.c.job, *columns).where(LOG.c.job.in_(numbers)).order_by(LOG.c.job, LOG.c.seq)
    lines: dict[int, list[LogLine]] = {number: [] for number in numbers}
    for number, *line in connection.execute(query):
        lines[number].append(LogLine(*line))
    return {number: tuple(found) for number, found in lines.items()}


def append_lines(connection: Connection, number: int, lines: Sequence[LogLine]) -> None:
    """Add lines to the log of a job.

    Args:
        connection: to write by; where this raises, its transaction is over.
        number: of a job that there is.
        lines: the first one's place is the one after the last line that was read.

    Raises:
        OvertakenError: there is a line at that place by now.
    """
    values = [{"job": number, **{each.name: getattr(line, each.name) for each in fields(line)}} for line in lines]
    try:
        connection.execute(insert(LOG), values)
    except IntegrityError as error:
        raise OvertakenError(number) from error
