"""What to do next, for the least expected cost: money, minutes and risk, all in cents.

Nothing of a PC is in here.  A *situation* is a set of weighted worlds, each with the faults that are in it, and the
actions that there are: checks, which tell worlds apart, and repairs, which take faults away.
"""

from halfsplit.plan.by_thumb import firsts_after, rank_by_thumb, saves
from halfsplit.plan.commit import Commitment, weigh_commitment
from halfsplit.plan.course import ASK_AGAIN, STOP, Grower, Place
from halfsplit.plan.lookahead import Ranked, Ranking, rank_actions
from halfsplit.plan.situation import HAND_BACK, REPLACE, Action, Opening, Situation
from halfsplit.plan.thumb import Thumb

__all__ = [
    "ASK_AGAIN",
    "HAND_BACK",
    "REPLACE",
    "STOP",
    "Action",
    "Commitment",
    "Grower",
    "Opening",
    "Place",
    "Ranked",
    "Ranking",
    "Situation",
    "Thumb",
    "firsts_after",
    "rank_actions",
    "rank_by_thumb",
    "saves",
    "weigh_commitment",
]
