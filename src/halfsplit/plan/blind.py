"""What it costs to mend without looking: repairs one after the other, re-checked, given up where that is cheaper.

In each branch the repairs are done by their chance of being needed over their cost (Kadane and Simon 1977), and a world
is mended when the last of those that it needs is done.  What is done in a world is paid by all worlds that are not
mended yet; of all the places at which to give up the cheapest is taken.
"""

import numpy as np

from halfsplit.model.arrays import Bools, Floats, Ints

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
        self._cents = np.append(cents, due)
        self._needs = needs.astype(np.float64)
        self._clean = clean
        self._proof = proof
        self._stopping = stopping
        self._many = np.where(never, 0, needs.sum(axis=1))
        self._members = np.full((kinds, max(1, int(self._many.max(initial=0)))), repairs + 1, dtype=np.int64)
        kind, repair = np.nonzero(needs & ~never[:, None])
        self._members[kind, np.arange(len(kind)) - (np.cumsum(self._many) - self._many)[kind]] = repair
        self._never = never

    def cost(self, weights: Floats, kinds: Ints) -> Floats:
        """Return what branches cost, P(branch) x cents, shape (N,).

        Args:
            weights: P(branch, kind of world) of some kinds, shape (J, N); there are no others in these branches.
            kinds: which kinds these are, shape (J,).
        """
        order = np.argsort(-self._many[kinds], kind="stable")  # those that need most come first
        weights, kinds = weights[order], kinds[order]
        first = _best_first((weights.T @ self._needs[kinds]) / np.maximum(self._cents, _TINY))
        branches, repairs = first.shape
        place = np.full((repairs + 1, branches), -1, dtype=np.int32)
        place[first, np.arange(branches)[:, None]] = np.arange(repairs, dtype=np.int32)
        many, members = self._many[kinds], self._members[kinds]
        last = place[members[:, 0]]
        for column in range(1, members.shape[1]):
            more = np.count_nonzero(many > column)
            np.maximum(last[:more], place[members[:more, column]], out=last[:more])
        last[self._never[kinds]] = repairs
        last += np.arange(branches, dtype=np.int32) * (repairs + 1)
        mended = np.bincount(last.ravel(), weights.ravel(), (repairs + 1) * branches).reshape(branches, repairs + 1)
        all_mended = np.cumsum(mended[:, :-1], axis=1)
        every = weights.sum(axis=0)
        left = np.empty((branches, repairs + 1))
        left[:, 0] = every
        np.maximum(every[:, None] - all_mended, 0.0, out=left[:, 1:])
        paid = np.cumsum(self._cents[first] * left[:, :-1], axis=1)
        paid += left[:, 1:] * self._stopping
        paid += self._proof * all_mended
        clean = weights[self._clean[kinds]].sum(axis=0)  # what is mended by its proof alone owes no other
        paid -= np.where(np.arange(repairs) >= place[repairs - 1, :, None], self._proof * clean[:, None], 0.0)
        return np.asarray(paid.min(axis=1))


def _best_first(rate: Floats) -> Ints:
    """Return the columns of each row, the highest first, equal ones in their order; shape as that of ``rate``.

    Sorted as whole numbers that carry their column in the low bits, which is several times as fast as by reference:
    rates that differ by less than 1 in 2^40 of the row's highest are equal.
    """
    bits = int(rate.shape[1]).bit_length()
    scale = (1 << 40) / np.maximum(rate.max(axis=1, keepdims=True, initial=0.0), _TINY)
    keys = ((1 << 40) - (rate * scale).astype(np.int64)) << bits | np.arange(rate.shape[1])
    keys.sort(axis=1)
    return np.asarray(keys & ((1 << bits) - 1))
