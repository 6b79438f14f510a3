"""The bench: the open jobs, what each waits for, what can run by itself now; search; the jobs that are closed."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from urllib.parse import urlencode

from markupsafe import Markup
from starlette.responses import Response

from halfsplit import actions
from halfsplit.actions.onfile import read_open
from halfsplit.job.advised import Advice
from halfsplit.job.amounts import amount
from halfsplit.model.book import Book
from halfsplit.store.jobs import JobRow
from halfsplit.store.states import READY
from halfsplit.text import in_words, length_in_words
from halfsplit.web.drawings import suspicion_bar
from halfsplit.web.job_page import days_untold, state_in_words
from halfsplit.web.screen import day_in_words, show
from halfsplit.web.texts import say
from halfsplit.web.visit import Visit
from halfsplit.web.wanted import AWAY, next_cards, wanted_twice
from halfsplit.web.weigher import Standing

MOST_ALONE = 2
"""What can run by itself is told of each job, the best so many."""

OVERNIGHT_MINUTES = 180.0
"""What runs so long is best begun in the evening (common practice)."""


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
        unsaid: why there is none, or "".
        chance: that suspicion in words.
        bar: the same as a drawn bar.
        age: how long ago it was opened.
        days_untold: days since the owner was last spoken to, 0 where it is not long.
        promised_on: the day that it is promised for, or "".
        is_due: whether that day has come, and it is not ready.
        is_open: whether it is neither collected nor put away.
    """

    number: int
    name: str
    complaint: str
    state: str
    rung: str
    suspicion: str
    unsaid: str
    chance: str
    bar: Markup
    age: str
    days_untold: int
    promised_on: str
    is_due: bool
    is_open: bool


@dataclass(frozen=True)
class AloneLine:
    """Something that can run by itself now, in one job.

    Args:
        number: of the job.
        name: what it is called.
        proposal: the id of what can run.
        title: what it is.
        hands: how long it takes hands, in words.
        lasts: how long it has a place of the bench, in words.
        is_overnight: whether it lasts so long that it is best begun in the evening.
    """

    number: int
    name: str
    proposal: str
    title: str
    hands: str
    lasts: str
    is_overnight: bool


@dataclass(frozen=True)
class BenchPage:
    """The bench.

    Args:
        asked: what was searched for, or "".
        found: what was found.
        jobs: the open jobs.
        closed: the jobs that were closed last.
        alone: what can run by itself now.
        wanted: parts of the shelf that the next checks of several jobs want, a line each.
        pending: open jobs that are not weighed and ranked yet, so that more will come.
        refresh: the address at which more comes, "" = nothing more comes.
        working_on: the job that the visitor's time goes to, or None.
    """

    asked: str
    found: tuple[JobLine, ...]
    jobs: tuple[JobLine, ...]
    closed: tuple[JobLine, ...]
    alone: tuple[AloneLine, ...]
    wanted: tuple[str, ...]
    pending: int
    refresh: str
    working_on: int | None


def show_bench(visit: Visit) -> Response:
    """Answer with the bench."""
    return show(visit, "bench", bench_page(visit))


def bench_page(visit: Visit) -> BenchPage:
    """Return the bench as it stands."""
    bench, asked = visit.desk.bench, visit.query.get("q", "").strip()
    with bench.store.reading() as connection:
        on_file = read_open(bench, connection)
    known = visit.desk.weigher.known(on_file)
    rows = actions.list_open_jobs(bench)  # after what is known: a summary is made before it is known that there is one
    found = actions.search_jobs(bench, asked) if asked else ()
    if asked:
        more = actions.find_persons(bench, asked).keys() - {row.number for row in found}
        found += tuple(row for row in rows if row.number in more)
    pending = [number for number, standing in known.items() if not standing.is_done]
    for number in pending:
        visit.desk.weigher.ask(number)
    spell = actions.job_of(bench, by=visit.who) if visit.who else None
    return BenchPage(
        asked,
        tuple(_line(visit, row, known) for row in found),
        tuple(_line(visit, row, known) for row in rows),
        tuple(_line(visit, row, known) for row in actions.list_closed_jobs(bench, limit=20)),
        _alone(rows, known),
        wanted_twice(next_cards(rows, known), on_file[0].book) if on_file else (),
        len(pending),
        f"/?{urlencode({'q': asked})}" if pending else "",
        spell.job if spell is not None else None,
    )


def _unsaid(row: JobRow, standing: Standing | None) -> str:
    """Return why a job has no leading suspicion; of one that is closed nobody asks."""
    if standing is None:
        return ""
    if not standing.is_done:
        return say("bench.weighing")
    return say("bench.stuck" if standing.weighed is None else "bench.nothing_leads")


def _line(visit: Visit, row: JobRow, known: Mapping[int, Standing]) -> JobLine:
    book, now = visit.desk.bench.book, visit.now
    complaint = book.complaints[row.complaint].title if row.complaint in book.complaints else ""
    return JobLine(
        row.number,
        row.name,
        complaint,
        state_in_words(row.state, row.waiting_for),
        _title_of_rung(row.last_rung, book),
        row.suspicion,
        "" if row.suspicion else _unsaid(row, known.get(row.number)),
        in_words(row.suspicion_p) if row.suspicion_p is not None else "",
        suspicion_bar(row.suspicion_p, row.suspicion_p, row.suspicion_p) if row.suspicion_p is not None else Markup(),
        day_in_words(row.opened_at, now),
        days_untold(row, now),
        row.promised_on,
        "" < row.promised_on <= visit.desk.today().isoformat() and row.is_open and row.state != READY,
        row.is_open,
    )


def _title_of_rung(name: str, book: Book) -> str:
    return next((rung.title for rung in book.ladder.rungs if rung.id == name), name)


def _alone(rows: Iterable[JobRow], known: Mapping[int, Standing]) -> tuple[AloneLine, ...]:
    """Return what can run by itself, what takes longest first."""
    found: list[tuple[float, AloneLine]] = []
    for row in rows:
        standing = known.get(row.number)
        if standing is not None and standing.advice is not None:
            found += _of_advice(row, standing.advice)
    return tuple(line for _, line in sorted(found, key=lambda each: -each[0]))


def _of_advice(row: JobRow, advice: Advice) -> Iterable[tuple[float, AloneLine]]:
    """Yield what can run by itself in one job, each with the minutes that it lasts."""
    most = 0 if row.state in AWAY else MOST_ALONE
    for proposal in map(advice.proposal, advice.alone[:most]):
        if proposal is not None:
            lasts = max(proposal.minutes.place, proposal.minutes.hands_on)
            yield (
                lasts,
                AloneLine(
                    row.number,
                    row.name or f"{row.number}",
                    proposal.id,
                    proposal.title,
                    amount(round(max(1.0, proposal.minutes.hands_on)), "minutes"),
                    length_in_words(60.0 * lasts),
                    lasts >= OVERNIGHT_MINUTES,
                ),
            )
