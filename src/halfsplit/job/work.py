"""What the work that leads to a reading does, as tables by the states of roots: what it moves, and what it harms."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from halfsplit.job.cells import Roots
from halfsplit.job.roots import Plan
from halfsplit.model.arrays import Floats, Ints


@dataclass(frozen=True)
class Work:
    """What work does to the roots of a job.

    Args:
        moved: the roots that it moves, shape (M,).
        stays: P(it leaves the root as it is | state), shape (M, states).
        units: the units that it may harm, in order.
        starts: where each unit's lines begin, shape (units,).
        harmers: the root of each line, shape (N,).
        harms: P(the unit is harmed anew | state of the root), shape (N, states).
    """

    moved: Ints
    stays: Floats
    units: tuple[str, ...]
    starts: Ints
    harmers: Ints
    harms: Floats

    def p_harmed(self, states: Ints) -> dict[str, Floats]:
        """Return P(a unit is harmed | world), shape (K,), for worlds by the states of their roots, shape (K, R)."""
        if not self.units:
            return {}
        spared = 1.0 - self.harms[np.arange(len(self.harmers)), states[:, self.harmers]]
        harmed = 1.0 - np.multiply.reduceat(spared, self.starts, axis=1)
        return dict(zip(self.units, harmed.T, strict=True))


def work_of(matrices: Mapping[int, Floats], plans: Sequence[Plan], roots: Roots) -> Work:
    """Return what work does.

    Args:
        matrices: plan, by its identity -> what the work does to it, row = state before.
        plans: the plans of a job.
        roots: the roots that are weighed.
    """
    mine = [(plan, matrices[id(plan)]) for plan in plans if id(plan) in matrices and plan.id in roots.number]
    lines = []
    for plan, matrix in mine:
        for unit in plan.victims:
            hit = np.array([0.0, *(float(any(v.unit == unit for v in state.victims)) for state in plan.states)])
            p = np.where(hit > 0, 0.0, matrix @ hit)
            if p.any():
                lines.append((unit, roots.number[plan.id], roots.of(plan, p)))
    lines.sort(key=lambda line: line[:2])
    units = [unit for unit, _, _ in lines]
    starts = [n for n, unit in enumerate(units) if n == 0 or unit != units[n - 1]]
    stays = [roots.of(plan, np.diagonal(matrix)) for plan, matrix in mine]
    return Work(
        np.array([roots.number[plan.id] for plan, _ in mine], dtype=np.int64),
        np.array(stays).reshape(len(mine), roots.states),
        tuple(dict.fromkeys(units)),
        np.array(starts, dtype=np.int64),
        np.array([root for _, root, _ in lines], dtype=np.int64),
        np.array([p for _, _, p in lines]).reshape(len(lines), roots.states),
    )
