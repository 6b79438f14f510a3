"""The answers of a card: each is one button, with what was seen or done, what it would mean, and what it enters."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from halfsplit.actions import JobView
from halfsplit.job.advised import CHECK, END, REPAIR, Advice, Outcome, Proposal
from halfsplit.job.asked import placed_entries
from halfsplit.job.corrections import apply_corrections
from halfsplit.job.findings import OTHER, STATES
from halfsplit.job.machine import facts_of
from halfsplit.job.units import OWNER, kind_of
from halfsplit.model.bench import REPLACES, Check
from halfsplit.model.book import Book
from halfsplit.model.job import Entry, Inspect, Job, Measure, Remark, RepairDone, Run, Seen
from halfsplit.model.machine import ShelfPart
from halfsplit.text import in_words, named, title_of
from halfsplit.web.entry_text import entry_text
from halfsplit.web.number_field import number_field, numbers_of
from halfsplit.web.passing import DECIDE
from halfsplit.web.texts import say

MEANT = 2
"""Faults that are named beside an answer ..."""

LIKELY_ANSWER = 0.1
"""... that comes at least so often; beside others one is."""

RARE_ANSWER = 0.03
"""An answer that comes less often is shown in few words."""

AT_ONCE_MINUTES = 5.0
"""A run that takes no longer is made in one go with the repair that it shows to hold (common practice)."""

SYSTEM = "system"
"""The stage at which a picture shows that all is well."""

NEW_STOCK, FITTED = "new_stock", ("new_stock", "donor", "ordered")
"""Grades of the shelf that are fitted for good; the others are the bench's own, to try with."""


@dataclass(frozen=True)
class Answer:
    """One answer button.

    Args:
        label: what was seen or done.
        means: what it would mean, in round words; "" where that is not known.
        chance: how likely it is, in words, or "".
        entry: what goes on the log.
        then: the id of what would come first after it, or "".
        then_title: its title, or "".
        is_rare: whether it is so rare that it is shown in few words.
    """

    label: str
    means: str
    chance: str
    entry: str
    then: str = ""
    then_title: str = ""
    is_rare: bool = False


def answers_of(advice: Advice, proposal: Proposal, view: JobView, *, is_likely: bool) -> Iterable[Answer]:
    """Yield the answers to a proposal.

    Args:
        advice: the advice that it is of.
        proposal: what is proposed.
        view: the job as it stands now.
        is_likely: whether the job has gone on since: what the answers would mean is then not said.
    """
    if proposal.kind == REPAIR:
        yield from _repair_answers(proposal, view)
    elif proposal.kind == CHECK:
        yield from _check_answers(advice, proposal, view, is_likely=is_likely)
    elif proposal.kind == END and not _is_decided(proposal, view):
        text = entry_text([Remark("", kind=DECIDE, text=proposal.title)], view.on_file.book)
        yield Answer(say("card.decided"), say("card.decided_means"), "", text)


def _is_decided(proposal: Proposal, view: JobView) -> bool:
    log = apply_corrections(view.job or Job(), [])[1]
    return any(isinstance(each, Remark) and (each.kind, each.text) == (DECIDE, proposal.title) for each in log)


def _check_answers(advice: Advice, proposal: Proposal, view: JobView, *, is_likely: bool) -> Iterable[Answer]:
    """Yield one answer for each result; results that differ in numbers only are one, for the number is written in.

    "Something else" is no answer: what it would enter nobody has said.  The card leads to where that is entered.
    """
    book, seen = view.on_file.book, set[str]()
    following = proposal.parts[1] if len(proposal.parts) > 1 else ""
    for outcome in proposal.outcomes:
        entries = _without_numbers(outcome.entries)
        text = entry_text(entries, book) if entries else ""
        if not text or text in seen or outcome.line == OTHER:
            continue
        seen.add(text)
        label = _without_numbers_said(outcome, book)
        then = following or outcome.first
        title = title_of(advice, then) if then and not is_likely else ""
        chance = "" if is_likely else in_words(outcome.p)
        means = "" if is_likely else _means(outcome, view.spoken)
        yield Answer(label, means, chance, text, then, title, outcome.p < RARE_ANSWER and not is_likely)


def _repair_answers(proposal: Proposal, view: JobView) -> Iterable[Answer]:
    """Yield what may have been done: with a new part where one is fitted; outside the case with the run after it."""
    book = view.on_file.book
    done = [
        RepairDone("", do=name, to=at or book.repairs[name].at)
        for name, _, at in (part.partition("@") for part in proposal.parts)
        if name in book.repairs
    ]
    swapped = next((entry.to for entry in reversed(done) if book.repairs[entry.do].does == REPLACES), "")
    if swapped:
        yield from _fitted_answers(done, swapped, book)
        return
    yield Answer(say("card.done"), "", "", entry_text(done, book))
    check = book.checks.get(book.repairs[done[-1].do].recheck) if done and not proposal.openings else None
    held = _held_run(check, view) if check is not None else None
    if check is not None and held is not None:
        means = say("card.done_held_means", run=check.title)
        yield Answer(say("card.done_held"), means, "", entry_text([*done, held], book))


def _fitted_answers(done: Sequence[RepairDone], swapped: str, book: Book) -> Iterable[Answer]:
    """Yield a replacement with each part of the shelf that may stay in, and with one that is not on the shelf."""
    on_shelf = fitted_from(kind_of(swapped), book)
    for part in on_shelf:
        fitted = [replace(entry, fitted=f"shelf.{part.id}") if entry.to == swapped else entry for entry in done]
        yield Answer(say("card.done_shelf", part=part.title or part.id), "", "", entry_text(fitted, book))
    has_new = any(part.grade == NEW_STOCK for part in on_shelf)
    yield Answer(say("card.done_bought" if has_new else "card.done_new"), "", "", entry_text(done, book))


def fitted_from(kind: str, book: Book) -> tuple[ShelfPart, ...]:
    """Return the parts of the shelf of one kind that may be fitted for good."""
    return tuple(part for part in book.shelf.values() if part.kind == kind and part.grade in FITTED)


def _held_run(check: Check, view: JobView) -> Run | None:
    """Return the run of a check as one that held; None where it is not made at once, or there is none."""
    book = view.on_file.book
    if check.opening or check.minutes.place > AT_ONCE_MINUTES or view.course is None:
        return None
    asked = placed_entries(check, view.course.standing[OWNER], book, facts_of(view.job or Job(), book, []))
    for entry in asked:
        if isinstance(entry, Run):
            lit = {output: MappingProxyType({SYSTEM: True}) for output in entry.seen.picture}
            seen = Seen(reached=book.ladder.rungs[-1].id, stayed=True, picture=MappingProxyType(lit))
            return replace(entry, seen=seen)
    return None


def _without_numbers(entries: Sequence[Entry]) -> list[Entry]:
    kept = [entry for entry in entries if not isinstance(entry, Measure)]
    return kept if any(isinstance(entry, Run | Inspect) for entry in kept) else []


def _without_numbers_said(outcome: Outcome, book: Book) -> str:
    """Return a result in words, without what its numbers would be: they are written in beside it."""
    titles = [number_field(measure, book).title for measure in numbers_of(outcome.entries)]
    numbers = {f"{title}: {state}" for title in titles for state in STATES}
    said = [each for each in outcome.line.split("; ") if each not in numbers]
    return "; ".join(said) or say("card.rest_fine")


def _means(outcome: Outcome, book: Book) -> str:
    many = MEANT if outcome.p >= LIKELY_ANSWER else 1
    said = [say("card.meaning", title=named(lead, book), chance=in_words(lead.p)) for lead in outcome.leading[:many]]
    return "; ".join(said) or say("card.nothing_matters")
