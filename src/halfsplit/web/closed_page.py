"""The jobs that are closed, the newest first, so many on each page."""

from dataclasses import dataclass

from starlette.responses import Response

from halfsplit import actions
from halfsplit.web.entry_fields import read_whole
from halfsplit.web.job_line import MOST_LINES, JobLine, job_line
from halfsplit.web.screen import show
from halfsplit.web.texts import say
from halfsplit.web.visit import Visit

BEFORE = "before"
"""What in the address says which number all that is shown is below."""


@dataclass(frozen=True)
class ClosedPage:
    """The jobs that are collected or put away.

    Args:
        jobs: so many of them as a page has.
        before: the number that they are below, 0 = they are the newest.
        older: the address of the page behind, "" = there is none.
    """

    jobs: tuple[JobLine, ...]
    before: int
    older: str


def show_closed(visit: Visit) -> Response:
    """Answer with the closed jobs."""
    return show(visit, "closed", closed_page(visit))


def closed_page(visit: Visit) -> ClosedPage:
    """Return the closed jobs, from the number on that the address says.

    Raises:
        WebError: HS805 that number cannot be read.
    """
    said = visit.query.get(BEFORE, "")
    before = read_whole(say("closed.before"), said) if said else None
    rows = actions.list_closed_jobs(visit.desk.bench, before=before, limit=MOST_LINES + 1)
    shown = rows[:MOST_LINES]
    return ClosedPage(
        tuple(job_line(visit, row) for row in shown),
        before or 0,
        f"/closed?{BEFORE}={shown[-1].number}" if len(rows) > MOST_LINES else "",
    )
