"""Suspicions as a page shows them: a length, a range, and what moved them."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from halfsplit.job.lines import numbered_at
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


@dataclass(frozen=True)
class Doubted:
    """What is to be looked at again.

    Args:
        line: what does not go together.
        entries: the entries that it names: id, and what it is called.
    """

    line: str
    entries: tuple[tuple[str, str], ...] = ()


def suspects_of(weighed: Weighed, book: Book) -> tuple[Suspect, ...]:
    """Return the suspicions that are worth a line, strongest first; ``book`` is the fault book."""
    shown = [fault for fault in by_p(weighed.faults) if fault.p >= LEAST_P][:MOST]
    return tuple(
        Suspect(
            fault.id.partition("@")[0],
            numbered_at(fault.title, fault.id.partition("@")[2], book),
            fault.part,
            suspicion_bar(fault.p, fault.low, fault.high),
            in_words(fault.p),
            range_in_words(fault.low, fault.high) if in_words(fault.low) != in_words(fault.high) else "",
            _moves(weighed, fault.id),
        )
        for fault in shown
    )


def doubted_readings(weighed: Weighed, job: Job, book: Book) -> tuple[Doubted, ...]:
    """Return what is to be looked at again, where the readings do not go together.

    Args:
        weighed: what they say.
        job: the job that they are of.
        book: the fault book.
    """
    said = []
    conflict = weighed.conflict
    if weighed.impossible:
        readings, entries = _named(weighed.impossible, job, book)
        said.append(Doubted(say("doubt.impossible", readings=readings, many=len(weighed.impossible)), entries))
    if weighed.aside:
        readings, entries = _named(weighed.aside, job, book)
        said.append(Doubted(say("doubt.aside", readings=readings), entries))
    elif conflict.is_alarm and not weighed.impossible and math.isfinite(weighed.log_p_readings):
        said.append(Doubted(say("doubt.strain")))
        if conflict.without:
            readings, entries = _named([conflict.without[0][0]], job, book)
            said.append(Doubted(say("doubt.without", readings=readings), entries))
        titles = {fault.id: fault.title for fault in weighed.faults}
        if conflict.explained_by:
            title = titles.get(conflict.explained_by, conflict.explained_by)
            said.append(Doubted(say("doubt.explained", title=title)))
    if weighed.is_absurd and not weighed.impossible:
        said.append(Doubted(say("doubt.absurd")))
    return tuple(said)


def _named(entries: Sequence[str], job: Job, book: Book) -> tuple[str, tuple[tuple[str, str], ...]]:
    """Return what entries are called, in one go, and id and name of each that is on the log."""
    names = entry_names(job, book)
    known = tuple((entry, names[entry]) for entry in entries if entry in names)
    return ", ".join(names.get(entry, entry_name(entry)) for entry in entries), known


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
