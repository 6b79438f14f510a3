"""What was found on the bench: the jobs that have all the words, the open ones first, so many on each page."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from urllib.parse import urlencode

from halfsplit import actions
from halfsplit.actions.onfile import read_rows
from halfsplit.store.jobs import JobRow
from halfsplit.web.entry_fields import read_whole
from halfsplit.web.job_line import MOST_LINES, NOTHING, JobLine, job_line, known_of, pending_of
from halfsplit.web.standing import Standing
from halfsplit.web.texts import say
from halfsplit.web.visit import Visit

FROM = "from"
"""What in the address says which is the first that is shown."""


@dataclass(frozen=True)
class FoundPage:
    """What was found.

    Args:
        asked: what was searched for.
        jobs: what was found of it, so many as a page has.
        first: which of all that were found is the first of them, 1 = the first.
        earlier: the address of the page before, "" = there is none.
        later: the address of the page behind, "" = there is none.
        refresh: the address at which more comes of what is most likely wrong, "" = nothing more comes.
    """

    asked: str
    jobs: tuple[JobLine, ...]
    first: int
    earlier: str
    later: str
    refresh: str


def found_page(visit: Visit, asked: str) -> FoundPage:
    """Return what was found.

    Raises:
        WebError: HS805 where the page begins cannot be read.
    """
    bench = visit.desk.bench
    first = read_whole(say("found.from"), visit.query.get(FROM, "1"))
    persons = actions.find_persons(bench, asked)
    rows = actions.search_jobs(bench, asked, first=persons, start=first - 1, limit=MOST_LINES + 1)
    shown, known = _with_known(visit, rows[:MOST_LINES])
    return FoundPage(
        asked,
        tuple(job_line(visit, row, known) for row in shown),
        first,
        _address(asked, max(1, first - MOST_LINES)) if first > 1 else "",
        _address(asked, first + MOST_LINES) if len(rows) > MOST_LINES else "",
        visit.address if pending_of(known) else "",
    )


def _with_known(visit: Visit, rows: Sequence[JobRow]) -> tuple[Sequence[JobRow], Mapping[int, Standing]]:
    """Return rows, and how far the open ones of them are worked out; see ``known_of``."""
    bench, opened = visit.desk.bench, [row for row in rows if row.is_open]
    if not opened:
        return rows, NOTHING
    with bench.store.reading() as connection:
        known = known_of(visit, read_rows(bench, connection, opened))
    now = {row.number: row for row in actions.list_open_jobs(bench)}  # after what is known, as on the bench
    return [now.get(row.number, row) for row in rows], known


def _address(asked: str, first: int) -> str:
    return f"/?{urlencode({'q': asked, FROM: first})}"
