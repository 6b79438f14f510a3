"""What looks and numbers of checks may come to: a product over the faults of a world, for many at once."""

from collections.abc import Iterator, Sequence

import numpy as np

from halfsplit.job.act_tables import ActTable, EffectNumbers
from halfsplit.job.cells import Cells, Placed, Present, begins
from halfsplit.job.findings import Finding
from halfsplit.job.results import kept_of, with_others
from halfsplit.job.views import View
from halfsplit.model.arrays import Floats


class ScaleView(View):
    """What a look or a number may come to: the worst level that is there wins.

    Args:
        cells: the cells of all plans.
        effect_numbers: the numbers of effects.
        results: what may be told.
        says: P(result | worst level), shape (levels + 1, results); the last row is for none.

    Attributes:
        results: what may be told.
        says: as given.
        levels: how many there are.
        acting: the cells of which something shows there, shape (N,).
        stays: P(no level as bad as this one, or worse | cell), shape (N, levels).
        always: the same of what may be there in every world, shape (levels,).
    """

    def __init__(self, cells: Cells, effect_numbers: EffectNumbers, results: Sequence[Finding], says: Floats) -> None:
        super().__init__(cells)
        self._effect_numbers = effect_numbers
        self.results = tuple(results)
        self.says = says
        self.levels = len(says) - 1
        self.acting = np.zeros(0, dtype=np.int64)
        self._at = self.stays = np.zeros((0, self.levels))
        self.always = np.ones(self.levels)

    def _read(self, table: ActTable) -> None:
        stop = self._effect_numbers.tables()[0][table.effect]
        here = np.flatnonzero(stop < self.levels)
        self.acting, of = np.unique(table.cell[here], return_inverse=True)
        place = of.ravel() * self.levels + stop[here]
        at = np.bincount(place, table.p[here], len(self.acting) * self.levels).astype(np.float64)
        self._at = at.reshape(len(self.acting), self.levels)
        self.stays = _survives(self._at)

    def _refresh(self, placed: Placed) -> None:
        p = placed.p_fresh(self.acting)
        here = np.flatnonzero(p)
        owner, of = np.unique(self._cells.owners(self.acting[here]), return_inverse=True)
        at = np.zeros((len(owner), self.levels))
        np.add.at(at, of.ravel(), self._at[here] * p[here, None])
        self.always = _survives(at).prod(axis=0)


def tell_scales(views: Sequence[ScaleView], present: Present) -> Iterator[tuple[tuple[Finding, ...], Floats]]:
    """Yield the results of each of some views and P(result | world), shape (K, S); together is faster than one by one.

    Scales of fewer levels than others have their last one several times; at those nothing more is told.
    """
    if not views:
        return
    many, levels, most = len(views), max(v.levels for v in views), max(len(v.results) for v in views)
    sizes = [len(view.acting) for view in views]
    stays, always = np.empty((sum(sizes), levels)), np.empty((many, levels))
    says = np.zeros((many, levels + 1, most))
    end = 0
    for number, view in enumerate(views):
        begin, end = end, end + sizes[number]
        stays[begin:end] = _widened(view.stays, levels)
        always[number] = _widened(view.always[None], levels)
        says[number, : view.levels, : len(view.results)] = view.says[:-1]
        says[number, -1, : len(view.results)] = view.says[-1]
    of = np.repeat(np.arange(many), sizes)
    which, world = present.lines_of(np.concatenate([view.acting for view in views]), of)
    first = begins(of[which], world)
    of, world = of[which[first]], world[first]
    worst = np.empty((len(first) + many, levels + 1))  # the last of them: where nothing of a view is there
    worst[:, 0] = 1.0
    worst[: len(first), 1:] = always[of]
    if len(first):
        worst[: len(first), 1:] *= np.multiply.reduceat(stays[which], first, axis=0)
    worst[len(first) :, 1:] = always
    worst[:, :-1] -= worst[:, 1:]
    tells = (worst[:, None, :] @ says[np.concatenate([of, np.arange(many)])])[:, 0, :]
    row = np.tile(np.arange(len(first), len(first) + many)[:, None], len(present.weights))
    row[of, world] = np.arange(len(first))
    weights = np.append(present.weights[world], present.weights.sum() - np.bincount(of, present.weights[world], many))
    mass = np.stack([np.bincount(np.append(of, np.arange(many)), weights * each, many) for each in tells.T], axis=1)
    tells = np.maximum(tells, 0.0)
    tells /= tells.sum(axis=1, keepdims=True)
    for view, own, p in zip(views, row, mass, strict=True):
        results = len(view.results)
        kept = kept_of(np.maximum(p[:results], 0.0))
        if len(kept) == results:
            yield view.results, tells[own, :results]
        else:
            yield with_others([view.results[n] for n in kept.tolist()], tells[own[:, None], kept])


def _widened(stays: Floats, levels: int) -> Floats:
    """Return columns for so many levels: the last one several times, or 1 where there is none."""
    found = np.ones((len(stays), levels))
    many = stays.shape[1]
    found[:, :many] = stays
    if many:
        found[:, many:] = stays[:, -1:]
    return found


def _survives(at: Floats) -> Floats:
    """Return P(no level as bad as this one, or worse) for P(level), shape (N, levels)."""
    survives: Floats = np.maximum(0.0, 1.0 - np.cumsum(at, axis=1))
    return survives
