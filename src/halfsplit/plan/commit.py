"""The commit question: before money is spent, which undone checks could still change the decision, and by how much?"""

from dataclasses import dataclass

from halfsplit.errors import Mistake, PlanError
from halfsplit.plan.lookahead import Ranking
from halfsplit.plan.situation import Situation

LEAST_CHANGE = 0.02
"""A check that changes the decision less often than this is not named."""


@dataclass(frozen=True)
class Doubt:
    """An undone check that could still change a decision.

    Args:
        check: its id; of checks that are only worth it together, joined as in the ranking.
        cents: what it costs.
        p_change: the chance that something else would come first after it.
        saves: what it saves on average against going ahead, its own cost taken off, in cents.
    """

    check: str
    cents: float
    p_change: float
    saves: float


@dataclass(frozen=True)
class Commitment:
    """What is still open before an action is committed to.

    Args:
        action: the action.
        doubts: cheaper checks that could still change it, the most saving first.
        going_ahead: what going ahead now costs on average over the best of them, in cents; 0 when none is worth it.
    """

    action: str
    doubts: tuple[Doubt, ...]
    going_ahead: float


def weigh_commitment(situation: Situation, ranking: Ranking, action: str, *, price: float) -> Commitment:
    """Return what is still open before an action is committed to.

    A check is named when it is worth its own cost: what it saves because something else would be better anyway is not
    to its credit.

    Args:
        situation: what may be, and what can be done.
        ranking: its ranking.
        action: what is about to be done, by its id in the ranking.
        price: the money that it commits, in cents; only checks that cost less are named.

    Raises:
        PlanError: HS605 when the ranking does not know the action.
    """
    ranked = {each.id: each for each in ranking.ranked}
    if action not in ranked:
        should = f"it is one of: {', '.join(each.id for each in ranking.ranked)}"
        raise PlanError([Mistake(action, "HS605", "it is not in the ranking", should, "Name one of these")])
    about = {action, *ranked[action].parts}
    checks = {each.id for each in situation.actions if each.tells is not None}
    doubts = []
    for each in ranking.ranked:
        if not each.parts or not checks.issuperset(each.parts) or each.id == action or each.cents >= price:
            continue
        p_change = sum(
            p
            for p, first in ranking.then.get(each.id, ())
            if first not in about and about.isdisjoint(ranked[first].parts)
        )
        saves = ranked[action].total - (ranking.without + each.cents - each.value)
        if p_change >= LEAST_CHANGE and saves > 0.0 and each.value > each.cents:
            doubts.append(Doubt(each.id, each.cents, min(1.0, p_change), saves))
    doubts.sort(key=lambda doubt: (-doubt.saves, doubt.check))
    return Commitment(action, tuple(doubts), max((doubt.saves for doubt in doubts), default=0.0))
