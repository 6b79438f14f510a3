"""The commit question: before money is spent, which undone checks could still change the decision, and by how much?"""

from dataclasses import dataclass

from halfsplit.plan.lookahead import Ranking
from halfsplit.plan.situation import Situation

LEAST_CHANGE = 0.02
"""A check that changes the decision less often than this is not named."""


@dataclass(frozen=True)
class Doubt:
    """An undone check that could still change a decision.

    Args:
        check: its id.
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

    Args:
        situation: what may be, and what can be done.
        ranking: its ranking.
        action: what is about to be done.
        price: the money that it commits, in cents; only checks that cost less are named.
    """
    total = {each.id: each.total for each in ranking.ranked}
    checks = {each.id for each in situation.actions if each.tells is not None}
    doubts = []
    for each in ranking.ranked:
        if each.id in checks and each.cents < price:
            p_change = sum(p for p, first in ranking.then.get(each.id, ()) if first != action)
            saves = total[action] - each.total
            if p_change >= LEAST_CHANGE and saves > 0.0:
                doubts.append(Doubt(each.id, each.cents, min(1.0, p_change), saves))
    doubts.sort(key=lambda doubt: (-doubt.saves, doubt.check))
    return Commitment(action, tuple(doubts), max((doubt.saves for doubt in doubts), default=0.0))
