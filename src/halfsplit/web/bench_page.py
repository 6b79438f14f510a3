"""The bench: the open jobs, what each waits for, what can run by itself now; search; the jobs that are closed."""

from dataclasses import dataclass
from datetime import datetime

from markupsafe import Markup
from starlette.responses import Response

from halfsplit import actions
from halfsplit.actions.onfile import read_on_file
from halfsplit.errors import InputError
from halfsplit.model.book import Book
from halfsplit.store.jobs import JobRow
from halfsplit.text import in_words, title_of
from halfsplit.web.drawings import suspicion_bar
from halfsplit.web.job_page import state_in_words
from halfsplit.web.screen import day_in_words, show
from halfsplit.web.visit import Visit

UNTOLD_DAYS = 2
"""So many days without a word to the owner are shown (common practice)."""

DAY_SECONDS = 86_400


@dataclass(frozen=True)
class JobLine:
    """One job in a list.

    Args:
        number: of the job.
        name: what it is called, or the complaint.
        complaint: the complaint class as the trade says it, or "".
        state: its title, with what it waits for.
        rung: the last rung that was reached, or "".
        suspicion: the leading suspicion, or "".
        chance: that suspicion in words.
        bar: the same as a drawn bar.
        age: how long ago it was opened.
        days_untold: days since the owner was last spoken to, 0 where it is not long.
        promised_on: the day that it is promised for, or "".
        is_open: whether it is neither collected nor put away.
    """

    number: int
    name: str
    complaint: str
    state: str
    rung: str
    suspicion: str
    chance: str
    bar: Markup
    age: str
    days_untold: int
    promised_on: str
    is_open: bool


@dataclass(frozen=True)
class AloneLine:
    """Something that can run by itself now, in one job."""

    number: int
    name: str
    proposal: str
    title: str


@dataclass(frozen=True)
class BenchPage:
    """The bench.

    Args:
        asked: what was searched for, or "".
        found: what was found.
        jobs: the open jobs.
        closed: the jobs that were closed last.
        alone: what can run by itself now.
        working_on: the job that the visitor's time goes to, or None.
    """

    asked: str
    found: tuple[JobLine, ...]
    jobs: tuple[JobLine, ...]
    closed: tuple[JobLine, ...]
    alone: tuple[AloneLine, ...]
    working_on: int | None


def show_bench(visit: Visit) -> Response:
    """Answer with the bench."""
    return show(visit, "bench", bench_page(visit))


def bench_page(visit: Visit) -> BenchPage:
    """Return the bench as it stands."""
    bench, asked = visit.desk.bench, visit.query.get("q", "").strip()
    rows = actions.list_open_jobs(bench)
    found = actions.search_jobs(bench, asked) if asked else ()
    if asked:
        numbers = {row.number for row in found}
        found += tuple(row for row in rows if row.number in actions.find_persons(bench, asked).keys() - numbers)
    spell = actions.job_of(bench, by=visit.who) if visit.who else None
    return BenchPage(
        asked,
        tuple(_line(row, bench.book, visit.now) for row in found),
        tuple(_line(row, bench.book, visit.now) for row in rows),
        tuple(_line(row, bench.book, visit.now) for row in actions.list_closed_jobs(bench, limit=20)),
        _alone(visit, rows),
        spell.job if spell is not None else None,
    )


def _line(row: JobRow, book: Book, now: datetime) -> JobLine:
    complaint = book.complaints[row.complaint].title if row.complaint in book.complaints else ""
    untold = int((now - datetime.fromisoformat(row.contacted_at or row.opened_at)).total_seconds() // DAY_SECONDS)
    rungs = {rung.id: rung.title for rung in book.ladder.rungs}
    return JobLine(
        row.number,
        row.name,
        complaint,
        state_in_words(row.state, row.waiting_for),
        rungs.get(row.last_rung, row.last_rung),
        row.suspicion,
        in_words(row.suspicion_p) if row.suspicion_p is not None else "",
        suspicion_bar(row.suspicion_p, row.suspicion_p, row.suspicion_p) if row.suspicion_p is not None else Markup(),
        day_in_words(row.opened_at, now),
        untold if row.is_open and untold >= UNTOLD_DAYS else 0,
        row.promised_on,
        row.is_open,
    )


def _alone(visit: Visit, rows: tuple[JobRow, ...]) -> tuple[AloneLine, ...]:
    """Return what can run by itself, of the jobs that are advised on already; the others are weighed meanwhile."""
    bench, found = visit.desk.bench, []
    for row in rows:
        try:
            with bench.store.reading() as connection:
                advice = visit.desk.weigher.known(read_on_file(bench, connection, row.number)).advice
        except InputError:
            continue
        if advice is not None:
            name = row.name or f"{row.number}"
            found += [AloneLine(row.number, name, each, title_of(advice, each)) for each in advice.alone[:2]]
    return tuple(found)
