"""The next check as a card: what to do, why, what it costs and risks, and one button for each answer."""

from collections.abc import Iterable
from dataclasses import dataclass

from halfsplit.actions import JobView
from halfsplit.job.advised import CHECK, PROVE, REPAIR, Advice, Outcome, Proposal, StopPoint
from halfsplit.job.amounts import amount, length_in_words
from halfsplit.model.bench import NEVER, Check, Repair
from halfsplit.model.book import Book
from halfsplit.model.job import Job
from halfsplit.text import in_words, money_in_words, reasons_of, title_of
from halfsplit.web.answers import Answer, answers_of
from halfsplit.web.card_entries import Target, target_of, unsure_text
from halfsplit.web.number_field import NumberField, number_field, numbers_of
from halfsplit.web.rebuild_page import still_to_rebuild
from halfsplit.web.texts import say

MINDED = 3
"""Things to mind that are named on the card; the others are folded away."""

PROOF = "proof"
"""The kind of card that says to prove that the machine holds."""

LEAST_RISK_CENTS = 100.0
"""Expected damage below this is not worth a word."""


@dataclass(frozen=True)
class Card:
    """The next thing to do.

    Args:
        id: of the proposal.
        kind: "check", "repair", "end" or "proof".
        title: as the trade says it.
        why: what it is for.
        openings: what is off or out for it, in order.
        steps: how it is done.
        costs: what it takes and risks, a few words each.
        minded: what to mind, in a few words each: what always goes with it, the first few.
        cautions: all that is to be minded: what it is, and the caution.
        stops: what to stop and ask at before it.
        answers: the answer buttons.
        numbers: fields for numbers from instruments.
        reasons: why this one, one sentence each.
        doubts: before money is committed: cheaper checks that could still change it: id and sentence.
        is_likely: whether it is only what is likely to come next, while the job is weighed again.
        target: the setup that it wants, or None where nothing is to be changed.
        checks: the checks that are made, in order; of the first that has a run that run is made.
        unsure: what goes on the log when it was done and nobody is sure of what was seen, or "".
        wanted: parts of the shelf that it uses and that other jobs want next as well, a line each.
        to_rebuild: what is still to be done before a proof, in words, or "".
    """

    id: str
    kind: str
    title: str
    why: str
    openings: tuple[str, ...]
    steps: tuple[str, ...]
    costs: tuple[str, ...]
    minded: tuple[str, ...]
    cautions: tuple[tuple[str, str], ...]
    stops: tuple[StopPoint, ...]
    answers: tuple[Answer, ...]
    numbers: tuple[NumberField, ...]
    reasons: tuple[str, ...]
    doubts: tuple[tuple[str, str], ...] = ()
    is_likely: bool = False
    target: Target | None = None
    checks: tuple[str, ...] = ()
    unsure: str = ""
    wanted: tuple[str, ...] = ()
    to_rebuild: str = ""


def card_of(advice: Advice, proposal: Proposal, view: JobView, currency: str, *, is_likely: bool = False) -> Card:
    """Return a proposal as a card.

    Args:
        advice: the advice that it is of.
        proposal: what is proposed.
        view: the job as it stands now.
        currency: of every sum.
        is_likely: whether the job has gone on since: what the answers would mean is then not said.
    """
    book = view.on_file.book
    names = [part.partition("@")[0] for part in proposal.parts]
    acts: list[Check | Repair] = [book.checks[name] for name in names if name in book.checks]
    why = " ".join(act.why for act in acts if isinstance(act, Check) and act.why)
    acts += [book.repairs[name] for name in names if name in book.repairs]
    hazards = [name for opening in proposal.openings for name in book.openings[opening].hazards]
    hazards += [name for noun in acts for name in (*noun.hazards, *noun.rules)]
    kind = PROOF if PROVE in proposal.parts else proposal.kind
    fields = {field.name: field for field in _fields(proposal.outcomes, view.spoken)}
    first = book.checks.get(names[0]) if names else None
    return Card(
        proposal.id,
        kind,
        proposal.title,
        why,
        tuple(book.openings[name].title for name in proposal.openings),
        tuple(step for noun in acts for step in noun.steps),
        tuple(_costs(proposal, currency)),
        _minded(hazards, book),
        _cautions(hazards, book),
        proposal.stop_points,
        tuple(answers_of(advice, proposal, view, is_likely=is_likely)),
        tuple(fields.values()),
        () if is_likely else reasons_of(advice, proposal, view.spoken, currency),
        () if is_likely or proposal.id != advice.top else _doubts(advice, currency),
        is_likely,
        target_of(first, view) if first is not None else None,
        tuple(name for name in names if name in book.checks),
        unsure_text(first, view) if first is not None else "",
        to_rebuild=still_to_rebuild(view.job or Job(), view.course, book) if kind == PROOF else "",
    )


def first_card(check: Check, view: JobView) -> Card:
    """Return a check that comes first whatever is weighed, as a card without answers: they come with the advice."""
    book = view.on_file.book
    opened = book.openings[check.opening].hazards if check.opening in book.openings else ()
    hazards = [*opened, *check.hazards, *check.rules]
    return Card(
        check.id,
        CHECK,
        check.title,
        check.why,
        (),
        check.steps,
        (say("card.hands", time=amount(round(check.minutes.hands_on), "minutes")),),
        _minded(hazards, book),
        _cautions(hazards, book),
        (),
        (),
        (),
        (),
        is_likely=True,
        checks=(check.id,),
        unsure=unsure_text(check, view),
    )


def _minded(hazards: Iterable[str], book: Book) -> tuple[str, ...]:
    """Return the first few of what is to be minded whatever was told; a rule that has to be raised waits for that."""
    always = [name for name in dict.fromkeys(hazards) if book.hazards[name].raised == NEVER]
    return tuple(book.hazards[name].title for name in always[:MINDED])


def _cautions(hazards: Iterable[str], book: Book) -> tuple[tuple[str, str], ...]:
    return tuple((book.hazards[name].title, book.hazards[name].caution) for name in dict.fromkeys(hazards))


def _fields(outcomes: Iterable[Outcome], book: Book) -> Iterable[NumberField]:
    for outcome in outcomes:
        for measure in numbers_of(outcome.entries):
            yield number_field(measure, book)


def _costs(proposal: Proposal, currency: str) -> Iterable[str]:
    minutes = proposal.minutes
    if minutes.hands_on:
        yield say("card.hands", time=amount(round(max(1.0, minutes.hands_on)), "minutes"))
    if minutes.place > minutes.hands_on + 5:
        yield say("card.place", time=length_in_words(60.0 * minutes.place))
    if minutes.days:
        yield amount(round(minutes.days), "days")
    if proposal.price:
        yield say("card.price", money=money_in_words(proposal.price, currency))
    if proposal.risk >= LEAST_RISK_CENTS:
        yield say("card.risk", money=money_in_words(proposal.risk, currency))
    if proposal.kind == REPAIR:
        yield say("card.cures", chance=in_words(proposal.p))


def _doubts(advice: Advice, currency: str) -> tuple[tuple[str, str], ...]:
    return tuple(
        (
            doubt.check,
            say(
                "card.doubt",
                title=title_of(advice, doubt.check),
                chance=in_words(doubt.p_change),
                money=money_in_words(doubt.saves, currency),
            ),
        )
        for doubt in advice.doubts
    )
