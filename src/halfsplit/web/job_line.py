"""A job as one line of a list: what it is called, its state, what is most likely wrong."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from markupsafe import Markup

from halfsplit.actions.onfile import OnFile
from halfsplit.model.book import Book
from halfsplit.store.jobs import JobRow
from halfsplit.store.states import READY
from halfsplit.text import in_words
from halfsplit.web.drawings import suspicion_bar
from halfsplit.web.job_page import days_untold, state_of
from halfsplit.web.screen import day_in_words
from halfsplit.web.standing import Standing
from halfsplit.web.texts import say
from halfsplit.web.visit import Visit

MOST_LINES = 20
"""So many jobs are on one page of a list that goes on."""

NOTHING: Mapping[int, Standing] = MappingProxyType({})


@dataclass(frozen=True)
class JobLine:
    """One job in a list.

    Args:
        number: of the job.
        name: what it is called, or the complaint.
        complaint: the complaint class as the trade says it, or "".
        state: its title, with what it waits for.
        is_barred: whether something is known of it that bars to go on as on any other.
        rung: the last rung that was reached, or "".
        suspicion: the leading suspicion, or "".
        unsaid: why there is none, or "".
        chance: that suspicion in words.
        bar: the same as a drawn bar.
        age: how long ago it was opened.
        days_untold: days since the owner was last spoken to, 0 where it is not long.
        promised_on: the day that it is promised for, or "".
        is_due: whether that day has come, and it is not ready.
    """

    number: int
    name: str
    complaint: str
    state: str
    is_barred: bool
    rung: str
    suspicion: str
    unsaid: str
    chance: str
    bar: Markup
    age: str
    days_untold: int
    promised_on: str
    is_due: bool


def job_line(visit: Visit, row: JobRow, known: Mapping[int, Standing] = NOTHING) -> JobLine:
    """Return a job as a line of a list.

    Args:
        visit: who asks.
        row: the job.
        known: number of a job -> how far it is worked out; of one that is not in it nobody asks.
    """
    book, now = visit.desk.bench.book, visit.now
    complaint = book.complaints[row.complaint].title if row.complaint in book.complaints else ""
    return JobLine(
        row.number,
        row.name,
        complaint,
        state_of(row),
        _is_barred(known.get(row.number)),
        _title_of_rung(row.last_rung, book),
        row.suspicion,
        "" if row.suspicion else _unsaid(row, known.get(row.number)),
        in_words(row.suspicion_p) if row.suspicion_p is not None else "",
        suspicion_bar(row.suspicion_p, row.suspicion_p, row.suspicion_p) if row.suspicion_p is not None else Markup(),
        day_in_words(row.opened_at, now),
        days_untold(row, now),
        row.promised_on,
        "" < row.promised_on <= visit.desk.today().isoformat() and row.is_open and row.state != READY,
    )


def known_of(visit: Visit, on_file: Iterable[OnFile]) -> Mapping[int, Standing]:
    """Return how far each of the open jobs is worked out, by its number, and see to it that all of them will be."""
    known = visit.desk.weigher.known(on_file)
    for number in pending_of(known):
        visit.desk.weigher.ask(number)
    return known


def pending_of(known: Mapping[int, Standing]) -> list[int]:
    """Return the jobs of which more will be known."""
    return [number for number, standing in known.items() if not standing.is_done]


def _is_barred(standing: Standing | None) -> bool:
    advice = standing.advice if standing is not None else None
    return advice is not None and any(stop.bars for stop in advice.stop_points)


def _unsaid(row: JobRow, standing: Standing | None) -> str:
    """Return why a job has no leading suspicion; "" where nobody asks."""
    if standing is None:
        return ""
    if not standing.is_done:
        return say("bench.weighing")
    return say("bench.stuck" if standing.weighed is None else "bench.nothing_leads")


def _title_of_rung(name: str, book: Book) -> str:
    return next((rung.title for rung in book.ladder.rungs if rung.id == name), name)
