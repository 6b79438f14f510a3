"""The matrices by which a root moves on: row = state before, column = state after, each row adds up to 1."""

import numpy as np

from halfsplit.job.changes import Powered
from halfsplit.job.roots import Plan
from halfsplit.job.units import Foothold
from halfsplit.model.arrays import Floats


def cure_matrix(plan: Plan, *, goes: float = 0.0, comes: float = 0.0, mends: dict[str, float] | None = None) -> Floats:
    """Return the matrix of a cure and of work: absent -> a pattern by its share, present -> absent, harm mended.

    A state that has done harm keeps it when its cause goes, and so stays.
    """
    shares = [state.share for state in plan.states]
    size = 1 + len(plan.states)
    matrix = np.eye(size)
    matrix[0, 0] -= comes
    matrix[0, 1:] = np.array(shares) * comes
    for row, state in enumerate(plan.states, 1):
        if not state.victims:
            matrix[row, row] -= goes
            matrix[row, 0] += goes
    names = {(state.pattern.id, state.victims): row for row, state in enumerate(plan.states, 1)}
    for row, state in enumerate(plan.states, 1):
        for victim in state.victims:
            p = (mends or {}).get(victim.fault, 0.0)
            left = tuple(other for other in state.victims if other != victim)
            if p > 0.0 and (state.pattern.id, left) in names:
                into = names[state.pattern.id, left]
                matrix[row, into] += matrix[row, row] * p
                matrix[row, row] *= 1.0 - p
    return matrix


def harm_matrix(plan: Plan, change: Powered) -> Floats | None:
    """Return the matrix of the harm that may be done in so many power-ups; None where none may be.

    Each victim is harmed or not by itself, whatever comes to the others.
    """
    names = {(state.pattern.id, state.victims): row for row, state in enumerate(plan.states, 1)}
    together = change.together.footholds
    size = 1 + len(plan.states)
    matrix, moved = np.eye(size), False
    victims = {victim for state in plan.states for victim in state.victims if victim.unit in together}
    for victim in sorted(victims, key=lambda one: (one.unit, one.fault)):
        step = np.eye(size)
        for row, state in enumerate(plan.states, 1):
            harm = state.pattern.harm
            own: frozenset[Foothold] = frozenset(f for at in state.at for f in plan.footholds.get(at, ()))
            if harm is None or own.isdisjoint(together) or victim.fault != harm.as_fault or victim in state.victims:
                continue
            into = names.get((state.pattern.id, tuple(sorted((*state.victims, victim), key=lambda one: one.unit))))
            if into is not None:
                p = 1.0 - (1.0 - harm.chance.p) ** change.times
                step[row, row], step[row, into], moved = 1.0 - p, p, True
        matrix = matrix @ step
    return matrix if moved else None
