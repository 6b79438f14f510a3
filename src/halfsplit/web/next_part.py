"""The part of the job sheet that follows a tap: what to do next, and how far each fault is to be suspected."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from urllib.parse import urlencode

from halfsplit.actions import JobView
from halfsplit.errors import Mistake
from halfsplit.job.advised import FIRST, PROVE, Advice, Proposal, StopPoint
from halfsplit.job.corrections import apply_corrections
from halfsplit.job.machine import facts_of
from halfsplit.job.rules import Rules
from halfsplit.model.book import Book
from halfsplit.model.job import Job, Run
from halfsplit.text import title_of
from halfsplit.web.card import Card, card_of, first_card
from halfsplit.web.passing import Passed, chosen_of, passed_over
from halfsplit.web.standing import Standing
from halfsplit.web.suspects import Doubted, Suspect, doubted_readings, suspects_of
from halfsplit.web.visit import Visit
from halfsplit.web.wanted import wanted_elsewhere

WANTED, SHOWN = "do", "shown"
"""In an address: the proposal that is wanted instead of the best; which standing of the job the page shows."""

MOST_SECONDS = 2.0
"""So long a page that refreshes itself is kept waiting for news, and so long at most it holds up the end of a bench."""

OTHERS = 10
"""Other things to do that are listed."""

FOREMOST = 2
"""Suspicions that are shown on a narrow screen as well; the others can be folded away."""


@dataclass(frozen=True)
class Other:
    """Something else that could be done: its proposal, and what it costs and costs more in the end, in cents."""

    id: str
    title: str
    cents: float
    more: float
    stops: bool


@dataclass(frozen=True)
class NextPart:
    """The part of the sheet that follows a tap: the card, and the suspicions.

    Args:
        number: of the job.
        card: what to do next, or None as long as nothing is known of it.
        stops: what to stop and ask at, whatever comes next.
        others: what else could be done.
        passed: what was passed over.
        alone: what can run by itself now: id and title.
        suspects: how far each fault is to be suspected, strongest first.
        foremost: so many of them are shown in any case; the others can be folded away.
        doubted: what readings do not go together.
        to_go, spent: expected cost from here on, and so far, in cents; None = not known yet.
        mistakes: why it cannot be weighed.
        refresh: the address at which more of it comes as soon as it is known, "" = nothing more comes.
        sheet: the address of the sheet with this card on it.
        is_unweighed: whether not even the suspicions are there yet.
        is_anew: whether what weighs had died on it, and was started anew.
    """

    number: int
    card: Card | None
    stops: tuple[StopPoint, ...]
    others: tuple[Other, ...]
    passed: tuple[Passed, ...]
    alone: tuple[tuple[str, str], ...]
    suspects: tuple[Suspect, ...]
    foremost: int
    doubted: tuple[Doubted, ...]
    to_go: float | None
    spent: float | None
    mistakes: tuple[Mistake, ...]
    refresh: str
    sheet: str
    is_unweighed: bool
    is_anew: bool


def standing_of(visit: Visit, view: JobView) -> Standing | None:
    """Return how far the weighing of a job is, and see to it that it goes on; None of one that is not weighed."""
    return visit.desk.weigher.standing(view.on_file) if view.job is not None and view.row.is_open else None


def is_shown(visit: Visit, view: JobView, standing: Standing) -> bool:
    """Return whether what is known of a job is what the page that asks shows already."""
    return visit.query.get(SHOWN) == _mark(view, standing)


def next_part(visit: Visit, view: JobView, standing: Standing | None) -> NextPart:
    """Return what is to be done next, as far as it is known; nobody waits for what is not.

    Args:
        visit: ``do`` in its address names a proposal that is wanted instead of the best.
        view: the job.
        standing: how far its weighing is, None of one that is not weighed.
    """
    job, book = view.job, view.on_file.book
    if job is None or standing is None:
        sheet = _sheet(visit, view)
        return NextPart(
            view.row.number, None, (), (), (), (), (), FOREMOST, (), None, None, (), "", sheet, False, False
        )
    passed = passed_over(job)
    gone = {each.proposal for each in passed}
    advice = standing.advice
    stops = advice.stop_points if advice is not None else _raised_by_log(job, book)
    card: Card | None = None
    currency = visit.settings.currency
    others: tuple[Other, ...] = ()
    alone: tuple[tuple[str, str], ...] = ()
    if advice is not None:
        chosen = chosen_of(advice, gone, visit.query.get(WANTED, ""))
        if chosen is not None:
            wanted = wanted_elsewhere(visit, view.row.number, chosen, book)
            card = replace(card_of(advice, chosen, view, currency), wanted=wanted)
        others = _others(advice, chosen, gone)
        alone = tuple((name, title_of(advice, name)) for name in advice.alone if name not in gone)
    else:
        card = _likely_card(view, standing, stops, gone, currency)
    weighed, words = standing.weighed, view.spoken
    return NextPart(
        view.row.number,
        card,
        stops,
        others,
        passed,
        alone,
        suspects_of(weighed, words) if weighed is not None else (),
        FOREMOST,
        doubted_readings(weighed, job, words) if weighed is not None else (),
        advice.to_go if advice is not None else None,
        advice.spent if advice is not None else None,
        standing.mistakes,
        "" if standing.is_done else _refresh(visit, view, standing),
        _sheet(visit, view),
        weighed is None and not standing.is_done,
        standing.deaths > 0 and not standing.is_done,
    )


def _mark(view: JobView, standing: Standing) -> str:
    """Return what tells one standing of a job from another."""
    known = (standing.advice is not None, standing.weighed is not None, standing.is_done)
    return f"{len(view.lines)}.{''.join(str(int(each)) for each in known)}.{standing.deaths}"


def _refresh(visit: Visit, view: JobView, standing: Standing) -> str:
    return f"/jobs/{view.row.number}/next?{urlencode({**_wanted(visit), SHOWN: _mark(view, standing)})}"


def _sheet(visit: Visit, view: JobView) -> str:
    wanted = urlencode(_wanted(visit))
    return f"/jobs/{view.row.number}{'?' if wanted else ''}{wanted}"


def _wanted(visit: Visit) -> Mapping[str, str]:
    return {WANTED: visit.query[WANTED]} if WANTED in visit.query else {}


def _raised_by_log(job: Job, book: Book) -> tuple[StopPoint, ...]:
    """Return the stop points that the log alone raises: they are there before anything is weighed."""
    return Rules(job, book, facts_of(job, book, []), {}).whatever_comes()


def _others(advice: Advice, chosen: Proposal | None, gone: set[str]) -> tuple[Other, ...]:
    rest = [each for each in advice.proposals if each != chosen and each.id not in gone]
    return tuple(
        Other(each.id, each.title, each.cents, max(0.0, each.total - advice.to_go), bool(each.stop_points))
        for each in rest[:OTHERS]
    )


def _likely_card(
    view: JobView, standing: Standing, stops: Sequence[StopPoint], gone: set[str], currency: str
) -> Card | None:
    """Return what is likely to come next while the job is weighed again; nothing where the log has raised a stop."""
    before, likely, book = standing.before, standing.likely, view.on_file.book
    if any(stop.bars for stop in stops):
        return None
    if before is None:
        has_run = any(isinstance(entry, Run) for entry in apply_corrections(view.job or Job(), [])[1])
        is_first = not has_run and FIRST in book.checks and FIRST not in gone
        return first_card(book.checks[FIRST], view) if is_first else None
    proposal = before.proposal(likely) if likely and likely not in gone else None
    if proposal is None or proposal.stop_points or PROVE in proposal.parts:
        return None
    return card_of(before, proposal, view, currency, is_likely=True)
