"""The bench: the open jobs, what each waits for, what can run by itself now."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from starlette.responses import Response

from halfsplit import actions
from halfsplit.actions.onfile import read_open
from halfsplit.job.advised import Advice
from halfsplit.job.amounts import amount
from halfsplit.store.jobs import JobRow
from halfsplit.text import length_in_words
from halfsplit.web.found_page import found_page
from halfsplit.web.job_line import JobLine, job_line, known_of, pending_of
from halfsplit.web.screen import show
from halfsplit.web.standing import Standing
from halfsplit.web.visit import Visit
from halfsplit.web.wanted import AWAY, next_cards, wanted_twice

MOST_ALONE = 2
"""What can run by itself is told of each job, the best so many."""

OVERNIGHT_MINUTES = 180.0
"""What runs so long is best begun in the evening (common practice)."""


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
        jobs: the open jobs.
        alone: what can run by itself now.
        wanted: parts of the shelf that the next checks of several jobs want, a line each.
        pending: open jobs that are not weighed and ranked yet, so that more will come.
        refresh: the address at which more comes, "" = nothing more comes.
        working_on: the job that the visitor's time goes to, or None.
    """

    jobs: tuple[JobLine, ...]
    alone: tuple[AloneLine, ...]
    wanted: tuple[str, ...]
    pending: int
    refresh: str
    working_on: int | None


def show_bench(visit: Visit) -> Response:
    """Answer with the bench, or with what was searched for on it."""
    if asked := visit.query.get("q", "").strip():
        return show(visit, "found", found_page(visit, asked))
    return show(visit, "bench", bench_page(visit))


def bench_page(visit: Visit) -> BenchPage:
    """Return the bench as it stands."""
    bench = visit.desk.bench
    with bench.store.reading() as connection:
        on_file = read_open(bench, connection)
    known = known_of(visit, on_file)
    rows = actions.list_open_jobs(bench)  # after what is known: a summary is made before it is known that there is one
    pending = pending_of(known)
    spell = actions.job_of(bench, by=visit.who) if visit.who else None
    return BenchPage(
        tuple(job_line(visit, row, known) for row in rows),
        _alone(rows, known),
        wanted_twice(next_cards(rows, known), on_file[0].book) if on_file else (),
        len(pending),
        "/" if pending else "",
        spell.job if spell is not None else None,
    )


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
