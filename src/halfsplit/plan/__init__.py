"""What to do next, for the least expected cost: money, minutes and risk, all in cents.

Nothing of a PC is in here.  A *situation* is a set of weighted worlds, each with the faults that are in it, and the
actions that there are: checks, which tell worlds apart, and repairs, which take faults away.
"""

from halfsplit.plan.commit import Commitment, weigh_commitment
from halfsplit.plan.lookahead import Ranked, Ranking, rank_actions
from halfsplit.plan.situation import HAND_BACK, REPLACE, Action, Opening, Situation

__all__ = [
    "HAND_BACK",
    "REPLACE",
    "Action",
    "Commitment",
    "Opening",
    "Ranked",
    "Ranking",
    "Situation",
    "rank_actions",
    "weigh_commitment",
]
