"""The policy that does what is advised: the top card each time, its parts in order."""

from collections.abc import Collection

from halfsplit.errors import ImpossibleReadingsError
from halfsplit.job.advise import advise
from halfsplit.job.advised import PROVE, Advice, Outcome, Proposal
from halfsplit.model.job import Run
from halfsplit.plan import HAND_BACK, REPLACE
from halfsplit.simulate.benches import Bench

MOST_WITHDRAWN = 8
"""Where so many readings had to be withdrawn nobody understands the machine, and it is handed back."""


def follow_advice(bench: Bench) -> None:
    """Do the next thing that is advised.  What a stop point asks is answered as it is, and costs nothing here."""
    try:
        advice = advise(bench.job, bench.book, bench.rates, kept=bench.kept)
    except ImpossibleReadingsError:
        bench.hand_back()
        return
    follow(bench, advice, advice.top)


def follow(bench: Bench, advice: Advice, name: str) -> None:
    """Withdraw what the advice laid aside, and do one of its proposals."""
    bench.withdraw(advice.step_back)
    if bench.withdrawn >= MOST_WITHDRAWN:
        bench.hand_back()
        return
    top = advice.proposal(name)
    if top is None or top.id == HAND_BACK:
        bench.hand_back()
    elif top.id == REPLACE:
        bench.replace_machine()
    elif not do_card(bench, top) and not bench.ended:
        bench.hand_back()


def do_card(bench: Bench, card: Proposal) -> bool:
    """Do what a card says, its parts in order, looking at all that its answers tell of.

    Returns:
        Whether anything of it could be done.
    """
    signs = {name for outcome in card.outcomes for name in _signs(outcome)}
    return any([_do(bench, part, signs) for part in card.parts])


def _signs(outcome: Outcome) -> set[str]:
    """Return the signs that a result tells of."""
    return {name for entry in outcome.entries if isinstance(entry, Run) for name in entry.seen.signs}


def _do(bench: Bench, part: str, signs: Collection[str]) -> bool:
    """Do one part of a card; return whether it could be done."""
    if bench.ended:
        return False
    if part == PROVE:
        bench.prove()
        return True
    if "@" in part:
        name, _, at = part.partition("@")
        if at not in bench.places(bench.book.repairs[name]):
            return False
        bench.repair(name, at)
        return True
    return bench.check(part, signs) is not None
