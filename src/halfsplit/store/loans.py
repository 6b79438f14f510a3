"""Loans: how each part of the shelf stood when it came into a job."""

from collections.abc import Mapping, Sequence

from sqlalchemy import Connection, insert, select, update

from halfsplit.model.machine import Standing
from halfsplit.store.tables import LOAN


def read_loans(connection: Connection, job: int) -> Mapping[str, Standing]:
    """Return part of the shelf -> how it stood when it came into a job, for those that were at risk in it."""
    return read_all_loans(connection, [job])[job]


def read_all_loans(connection: Connection, jobs: Sequence[int]) -> Mapping[int, Mapping[str, Standing]]:
    """Return what ``read_loans`` does of some jobs, by the job's number."""
    columns = (LOAN.c.job, LOAN.c.part, LOAN.c.p_bad, LOAN.c.exposures, LOAN.c.days)
    found: dict[int, dict[str, Standing]] = {job: {} for job in jobs}
    for job, part, p_bad, exposures, days in connection.execute(select(*columns).where(LOAN.c.job.in_(jobs))):
        found[job][part] = Standing(p_bad, exposures, days)
    return found


def lend(connection: Connection, job: int, part: str, standing: Standing) -> None:
    """Note how a part stands that is at risk in a job; what it came in with stays."""
    if part not in read_loans(connection, job):
        connection.execute(
            insert(LOAN).values(
                job=job, part=part, p_bad=standing.p_bad, exposures=standing.exposures, days=standing.days
            )
        )


def change_loans(connection: Connection, part: str, standing: Standing) -> None:
    """Let a part have come into every job as it stands now: it was proven since, and faults do not heal."""
    values = {"p_bad": standing.p_bad, "exposures": standing.exposures, "days": standing.days}
    connection.execute(update(LOAN).where(LOAN.c.part == part).values(**values))
