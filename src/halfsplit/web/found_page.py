"""What was found on the bench: the jobs that have all the words, the open ones first, so many on each page."""

from dataclasses import dataclass
from urllib.parse import urlencode

from halfsplit import actions
from halfsplit.actions.onfile import read_open
from halfsplit.web.entry_fields import read_whole
from halfsplit.web.job_line import MOST_LINES, JobLine, job_line, known_of, pending_of
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
    with bench.store.reading() as connection:
        known = known_of(visit, read_open(bench, connection))
    persons = actions.find_persons(bench, asked)
    rows = actions.search_jobs(bench, asked, first=persons, start=first - 1, limit=MOST_LINES + 1)
    shown = rows[:MOST_LINES]
    is_pending = any(row.number in pending_of(known) for row in shown)
    return FoundPage(
        asked,
        tuple(job_line(visit, row, known) for row in shown),
        first,
        _address(asked, max(1, first - MOST_LINES)) if first > 1 else "",
        _address(asked, first + MOST_LINES) if len(rows) > MOST_LINES else "",
        visit.address if is_pending else "",
    )


def _address(asked: str, first: int) -> str:
    return f"/?{urlencode({'q': asked, FROM: first})}"
