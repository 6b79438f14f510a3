"""The matrices by which a root moves on: row = state before, column = state after, each row adds up to 1."""

from collections.abc import Collection, Mapping

import numpy as np

from halfsplit.job.changes import Powered
from halfsplit.job.roots import SPENT, Plan, State, Victim
from halfsplit.model.arrays import Floats


def cure_matrix(
    plan: Plan, *, goes: float = 0.0, comes: float = 0.0, mends: Mapping[str, float] | None = None
) -> Floats:
    """Return the matrix of a cure and of work: absent -> a pattern by its share, present -> absent, harm mended.

    Harm that was done stays when its cause goes, and a cause stays when its harm is mended.
    """
    shares = [state.share for state in plan.states]
    matrix = np.zeros((1 + len(plan.states), 1 + len(plan.states)))
    matrix[0, 0] = 1.0 - comes
    matrix[0, 1:] = np.array(shares) * comes
    rows = {_left(state): row for row, state in enumerate(plan.states, 1)}
    rows |= {(state.fault, SPENT.id, _NO_HARM): 0 for state in plan.states}
    for row, state in enumerate(plan.states, 1):
        into = {_left(state): 1.0}
        for victim in state.victims:
            p = (mends or {}).get(victim.fault, 0.0)
            into = _split(into, rows, {each: (*each[:2], each[2] - {victim}) for each in into}, p)
        into = _split(into, rows, {each: (each[0], SPENT.id, each[2]) for each in into}, goes)
        for each, p in into.items():
            matrix[row, rows[each]] += p
    return matrix


_NO_HARM = frozenset[Victim]()

_Left = tuple[str, str, frozenset[Victim]]
"""What is left in a state: its fault and pattern, and what that harmed."""


def _left(state: State) -> _Left:
    return state.fault, state.pattern.id, frozenset(state.victims)


def _split(
    into: Mapping[_Left, float], rows: Collection[_Left], then: Mapping[_Left, _Left], p: float
) -> dict[_Left, float]:
    """Return P(what is left) after something that happens with a chance; where it would leave no state, it does not."""
    found: dict[_Left, float] = {}
    for each, held in into.items():
        share = p if then[each] in rows and then[each] != each else 0.0
        found[then[each]] = found.get(then[each], 0.0) + held * share
        found[each] = found.get(each, 0.0) + held * (1.0 - share)
    return {each: held for each, held in found.items() if held > 0.0}


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
            if (
                harm is None
                or plan.own(state).isdisjoint(together)
                or victim.fault != harm.as_fault
                or victim in state.victims
            ):
                continue
            into = names.get((state.pattern.id, tuple(sorted((*state.victims, victim), key=lambda one: one.unit))))
            if into is not None:
                p = 1.0 - (1.0 - harm.chance.p) ** change.times
                step[row, row], step[row, into], moved = 1.0 - p, p, True
        matrix = matrix @ step
    return matrix if moved else None
