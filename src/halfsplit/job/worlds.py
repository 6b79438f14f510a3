"""Ways in which things may stand, and those that repairs make of them."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from halfsplit.infer import Posterior
from halfsplit.job.marks import marks_of
from halfsplit.job.roots import MOST_STATES
from halfsplit.model.arrays import Bools, Floats, Ints
from halfsplit.plan.thumb import MORE_THAN_NOT

SAMPLES = 520
"""Samples of how things may stand; equal ones are one world."""


@dataclass(frozen=True)
class Worlds:
    """Distinct ways in which things may stand.

    Args:
        states: the state of each root, shape (K, R), in the order of ``evidence.roots``.
        weights: P(world), shape (K,), adding up to 1.
    """

    states: Ints
    weights: Floats


def sampled(posterior: Posterior, many: int = SAMPLES) -> Worlds:
    """Return the worlds that so many samples of a weighed job come to."""
    samples = posterior.samples(many)
    states = samples.states.astype(np.int64)
    _, first, of = np.unique(_hashes(states), return_index=True, return_inverse=True)
    weights = np.bincount(of.ravel(), weights=samples.weights)
    return Worlds(states[first], weights / weights.sum())


def closed_under(
    goes: Mapping[str, Mapping[int, Floats]], worlds: Worlds, suspected: Ints, *, steps: int | None
) -> tuple[Ints, dict[str, Ints]]:
    """Return the worlds with those that repairs make of them, and what each world becomes by each repair.

    A world that a repair made has the suspected faults that are left, and nothing else that is only noticed.

    Args:
        goes: for each repair, the roots that it may take away -> P(the root goes | state), shape (states,).  What goes
            more often than not is taken away.
        worlds: the worlds.
        suspected: the roots that count as faults.
        steps: how many repairs one after another are thought through; None = any number.

    Returns:
        The states of all worlds, the given ones first, shape (L, R); and for each repair the number of the world that
        each becomes, shape (L,), or of the given ones only where ``steps`` is a number.
    """
    states = new = worlds.states
    is_suspected = np.zeros(states.shape[1], dtype=bool)
    is_suspected[suspected] = True
    known = {each: number for number, each in enumerate(_hashes(states).tolist())}
    after: dict[str, list[Ints]] = {name: [np.arange(len(states))] for name in goes}
    turn = 0
    while len(new) and (steps is None or turn < steps):
        left = np.where(is_suspected, new, 0)
        base = _hashes(left)
        taken = {name: _taken(by_root, new) for name, by_root in goes.items()}
        touched = {name: np.flatnonzero(gone.any(axis=1)) for name, (_, gone) in taken.items()}
        marks = [base[touched[name]] - _marks_of(new, *taken[name])[touched[name]] for name in taken]
        found, first, of = np.unique(np.concatenate(marks), return_index=True, return_inverse=True)
        numbers = np.array([known.setdefault(each, len(known)) for each in found.tolist()], dtype=np.int64)
        is_new = numbers >= len(states)
        made = np.zeros((int(is_new.sum()), states.shape[1]), dtype=np.int64)
        at = 0
        for name, (columns, gone) in taken.items():
            here = touched[name]
            after[name][-1][here] = numbers[of[at : at + len(here)]]
            mine = np.flatnonzero(is_new & (first >= at) & (first < at + len(here)))
            if len(mine):
                world = here[first[mine] - at]
                rows = left[world]
                rows[:, columns] = np.where(gone[world], 0, rows[:, columns])
                made[numbers[mine] - len(states)] = rows
            after[name].append(np.arange(len(states), len(states) + len(made)))
            at += len(here)
        states, new, turn = np.concatenate([states, made]), made, turn + 1
    many = len(states) if steps is None else len(worlds.weights)
    return states, {name: np.concatenate(into)[:many] for name, into in after.items()}


def _taken(by_root: Mapping[int, Floats], states: Ints) -> tuple[Ints, Bools]:
    """Return the roots that a repair may take away, and in which worlds it most likely does."""
    columns = np.array([*by_root], dtype=np.int64)
    if not len(columns):
        return columns, np.zeros((len(states), 0), dtype=bool)
    gone = np.array([*by_root.values()]) > MORE_THAN_NOT
    here = states[:, columns]
    return columns, (here > 0) & gone[np.arange(len(columns)), here]


def _hashes(states: Ints) -> Ints:
    """Return a number for each row by which it is known, shape (K,): the sum of a mark for each root and state."""
    return _marks_of(states, np.arange(states.shape[1]), states > 0)


def _marks_of(states: Ints, columns: Ints, there: Bools) -> Ints:
    """Return the sum of the marks of some of the roots that are there in each row, shape (K,)."""
    world, place = np.nonzero(there)
    root = columns[place]
    found = np.zeros(len(states), dtype=np.int64)
    np.add.at(found, world, marks_of(root * MOST_STATES + states[world, root]))
    return found
