"""What it costs to mend without looking: repairs one after the other, re-checked, given up where that is cheaper.

In each branch the repairs are done by their chance of being needed over their cost (Kadane and Simon 1977), and a world
is mended when the last of those that it needs is done.  What is done in a world is paid by all worlds that are not
mended yet; of all the places at which to give up the cheapest is taken.
"""

import numpy as np

from halfsplit.plan.situation import Bools, Floats

_TINY = 1e-12


class Blind:
    """The repairs that J kinds of world need.

    Args:
        needs: which of R repairs each kind of world needs, shape (J, R).
        cents: what each costs with its re-check, shape (R,).
        never: the kinds that no repairs mend, shape (J,).
        clean: the kinds that need none, shape (J,); only a proof shows that.
        proof: what it costs to prove that a mended machine holds, in cents.
        due: what it costs to prove it as it is.
        stopping: what the cheaper end costs where something is seen to be wrong, in cents.
    """

    def __init__(
        self, needs: Bools, cents: Floats, never: Bools, clean: Bools, proof: float, due: float, stopping: float
    ) -> None:
        kinds, repairs = needs.shape
        needs = np.column_stack([needs, clean])  # proving is what mends the worlds without a fault
        self._cents = np.append(cents, due)[:, None]
        self._needs = needs.astype(np.float64).T
        self._proof = np.where(clean, 0.0, proof)
        self._stopping = stopping
        many = needs.sum(axis=1)
        self._members = np.full((kinds, max(1, int(many.max(initial=0)))), repairs + 1, dtype=np.int64)
        kind, repair = np.nonzero(needs)
        self._members[kind, np.arange(len(kind)) - (np.cumsum(many) - many)[kind]] = repair
        self._never = never

    def cost(self, weights: Floats) -> Floats:
        """Return what branches cost, P(branch) x cents, shape (N,).

        Args:
            weights: P(branch, kind of world), shape (J, N).
        """
        needed = self._needs @ weights
        rate = needed / np.maximum(self._cents, _TINY)
        order = np.argsort(-rate, axis=0, kind="stable")
        repairs, branches = rate.shape
        place = np.empty_like(order)
        np.put_along_axis(place, order, np.arange(repairs)[:, None], axis=0)
        place = np.vstack([place, np.full((1, branches), -1)])
        last = place[self._members[:, 0]]
        for column in self._members.T[1:]:
            last = np.maximum(last, place[column])
        last[self._never] = repairs
        flat = (last * branches + np.arange(branches)).ravel()
        mended = np.bincount(flat, weights.ravel(), (repairs + 1) * branches).reshape(repairs + 1, branches)[:-1]
        before = weights.sum(axis=0) - np.vstack([np.zeros((1, branches)), np.cumsum(mended, axis=0)])
        before = np.maximum(before, 0.0)
        spent = np.cumsum(self._cents[order, 0] * before[:-1], axis=0)
        proved = np.bincount(flat, (weights * self._proof[:, None]).ravel(), (repairs + 1) * branches)
        proved = np.cumsum(proved.reshape(repairs + 1, branches)[:-1], axis=0)
        return np.asarray((spent + proved + before[1:] * self._stopping).min(axis=0))
