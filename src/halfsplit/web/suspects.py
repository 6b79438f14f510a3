"""Suspicions as a page shows them: a length, a range, and what moved them."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from markupsafe import Markup

from halfsplit.job.units import number_of
from halfsplit.job.weighed import Moved, Weighed, by_p
from halfsplit.model.book import Book
from halfsplit.model.job import Job
from halfsplit.text import entry_name, in_words, range_in_words
from halfsplit.web.drawings import suspicion_bar
from halfsplit.web.log_rows import entry_names
from halfsplit.web.texts import say

LEAST_P = 0.02
MOST = 8
MOST_MOVES = 4
LEAST_ODDS_RATIO = 1.2
"""Less than this a reading does not count as having moved anything."""


@dataclass(frozen=True)
class Suspect:
    """One suspicion.

    Args:
        fault: its id in the fault book.
        title: as the trade says it.
        part: the part or joint that it is in.
        bar: it as a drawn bar, with its range.
        words: it in words.
        range: where it goes within the spreads of the book's numbers, in words; "" where that is one word.
        moves: what moved it most, in the order of the log.
    """

    fault: str
    title: str
    part: str
    bar: Markup
    words: str
    range: str
    moves: tuple[str, ...]


def suspects_of(weighed: Weighed) -> tuple[Suspect, ...]:
    """Return the suspicions that are worth a line, strongest first."""
    shown = [fault for fault in by_p(weighed.faults) if fault.p >= LEAST_P][:MOST]
    return tuple(
        Suspect(
            fault.id.partition("@")[0],
            fault.title + number_of(fault.id.partition("@")[2]).replace(".", " "),
            fault.part,
            suspicion_bar(fault.p, fault.low, fault.high),
            in_words(fault.p),
            range_in_words(fault.low, fault.high) if in_words(fault.low) != in_words(fault.high) else "",
            _moves(weighed, fault.id),
        )
        for fault in shown
    )


def doubted_readings(weighed: Weighed, job: Job, book: Book) -> tuple[str, ...]:
    """Return what is to be looked at again, where the readings do not go together.

    Args:
        weighed: what they say.
        job: the job that they are of.
        book: the fault book.
    """
    said = []
    conflict = weighed.conflict
    if weighed.impossible:
        said.append(say("doubt.impossible", readings=_called(weighed.impossible, job, book)))
    if weighed.aside:
        said.append(say("doubt.aside", readings=_called(weighed.aside, job, book)))
    elif conflict.is_alarm and not weighed.impossible and math.isfinite(weighed.log_p_readings):
        said.append(say("doubt.strain"))
        if conflict.without:
            said.append(say("doubt.without", reading=_called([conflict.without[0][0]], job, book)))
        titles = {fault.id: fault.title for fault in weighed.faults}
        if conflict.explained_by:
            said.append(say("doubt.explained", title=titles.get(conflict.explained_by, conflict.explained_by)))
    if weighed.is_absurd and not weighed.impossible:
        said.append(say("doubt.absurd"))
    return tuple(said)


def _called(entries: Iterable[str], job: Job, book: Book) -> str:
    names = entry_names(job, book)
    return ", ".join(names.get(entry, entry_name(entry)) for entry in entries)


def _moves(weighed: Weighed, fault: str) -> tuple[str, ...]:
    mine = [move for move in weighed.moved if move.fault == fault and _ratio(move) >= LEAST_ODDS_RATIO]
    kept = sorted(mine, key=_ratio, reverse=True)[:MOST_MOVES]
    return tuple(
        say(
            "suspect.moved",
            line=move.line,
            before=in_words(move.p_before).removeprefix("about "),
            after=in_words(move.p_after).removeprefix("about "),
        )
        for move in mine
        if move in kept
    )


def _ratio(move: Moved) -> float:
    """Return by how much a reading multiplied the odds, up or down, as a number of at least 1."""
    before, after = (max(p, 1e-300) / max(1.0 - p, 1e-16) for p in (move.p_before, move.p_after))
    return max(after / before, before / after)
