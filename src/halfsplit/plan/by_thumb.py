"""Everything that can be done next in a large situation, ranked by the rule of thumb."""

from functools import partial

import numpy as np

from halfsplit.model.arrays import Floats
from halfsplit.plan.lookahead import Ranked, Ranking
from halfsplit.plan.situation import HAND_BACK, REPLACE
from halfsplit.plan.thumb import Guess, Thumb

THOUGHT_OF = 16
"""Checks that are thought of as coming first after a result, those that are best now."""

LEAST_TOLD = 1e-2
"""Results less likely than this are not looked at so closely."""

NEARLY = 0.8
"""What saves nothing is still worth trying where as things are more than this share of it is left to pay (estimate)."""

_TINY = 1e-6


def rank_by_thumb(thumb: Thumb) -> Ranking:
    """Rank everything that can be done next by the rule of thumb.

    Args:
        thumb: the situation.

    Returns:
        The ranking; the same for the same situation.  What would come first after a result is asked of
        ``firsts_after``.
    """
    situation = thumb.situation
    done = np.zeros(len(situation.actions), dtype=bool)
    guess = thumb.guess(situation.weights, thumb.open_now, done)
    ranked = sorted(_ranked(thumb, situation.weights, guess), key=partial(_place, without=guess.without))
    return Ranking(tuple(ranked), guess.without, {})


def _ranked(thumb: Thumb, weights: Floats, guess: Guess) -> list[Ranked]:
    """Return what can be done in a branch, in no order.

    Args:
        thumb: the situation.
        weights: P(branch, world), shape (K,).
        guess: what is left to pay in it.
    """
    situation = thumb.situation
    ends = [(HAND_BACK, float(weights @ thumb.stop_open[: thumb.worlds]))]
    if np.isfinite(situation.replacing):
        ends.append((REPLACE, float(weights.sum()) * situation.replacing))
    found = [Ranked(name, cents if name == REPLACE else 0.0, cents, 0.0) for name, cents in ends]
    thought_of = np.flatnonzero(np.isfinite(guess.total))
    for n, own, total in zip(
        thought_of.tolist(), guess.own[thought_of].tolist(), guess.total[thought_of].tolist(), strict=True
    ):
        name = situation.actions[n].id
        found.append(Ranked(name, own, total, max(0.0, guess.without - total + own), (name,)))
    return found


def saves(each: Ranked, without: float) -> bool:
    """Return whether something leads on, and saves no less than it costs.

    Args:
        each: a check or repair.
        without: what is left to pay as things are.
    """
    return each.value > _TINY and each.total <= without + _TINY


def _place(each: Ranked, without: float) -> tuple[int, float, float, str]:
    """Return what decides the place: what saves by what is left to pay, then all by the share that it pays back.

    An end pays back what is left to pay without it, as a share of what it costs.  What leaves far more to pay than is
    left as things are comes last: a part that is bought before the suspicion has earned it, or an end.
    """
    if saves(each, without):
        return 0, round(each.total, 6), each.cents, each.id
    back = each.value / max(each.cents, _TINY) if each.parts else without / max(each.total, _TINY)
    return 1 if without >= NEARLY * each.total else 2, round(-back, 6), each.cents, each.id


def firsts_after(
    thumb: Thumb, ranking: Ranking, name: str, *, most: int | None = None
) -> tuple[tuple[float, str], ...]:
    """Return what would come first after each result of a check, with P(result).

    Args:
        thumb: the situation.
        ranking: its ranking; the checks that are best now are thought of.
        name: the check's id.
        most: how many results are looked at, the likeliest; None = all.  After the others it ends.
    """
    situation = thumb.situation
    number = {action.id: n for n, action in enumerate(situation.actions)}
    check = number[name]
    tells = situation.actions[check].tells
    assert tells is not None
    ids = [
        each.id for each in ranking.ranked if each.id in number and situation.actions[number[each.id]].tells is not None
    ]
    among = np.array([number[each] for each in ids[:THOUGHT_OF]], dtype=np.int64)
    done = np.zeros(len(situation.actions), dtype=bool)
    done[check] = True
    made = thumb.open_now | thumb.chain[check]
    made = made & thumb.stays if thumb.powers[check] else made
    p_results = situation.weights @ tells
    likeliest = set(np.argsort(-p_results, kind="stable")[:most].tolist())
    found = []
    for n, p in enumerate(p_results.tolist()):
        first = HAND_BACK
        if n in likeliest and p >= LEAST_TOLD:
            weights = situation.weights * tells[:, n]
            guess = thumb.guess(weights, made, done, among=among)
            first = min(_ranked(thumb, weights, guess), key=partial(_place, without=guess.without)).id
        found.append((p, first))
    return tuple(found)
