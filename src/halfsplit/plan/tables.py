"""A situation as tables, one row or column for each opening, action and fault, for sums over many branches at once."""

from dataclasses import dataclass

import numpy as np

from halfsplit.plan.situation import Bools, Floats, Situation

LEAST = 1e-300
"""Below this a weight is none."""


@dataclass(frozen=True)
class Branches:
    """Branches of what may come, N of them, each with its own worlds and its own state of the bench.

    Args:
        weights: P(branch, world), shape (N, K).
        left: P(fault still there | it was there at the start, after the repairs of the branch), shape (N, F).
        is_open: which openings are made, shape (N, O).
        is_done: which actions were done, shape (N, A).
        is_bad: whether a re-check showed that something is still wrong, shape (N,).
    """

    weights: Floats
    left: Floats
    is_open: Bools
    is_done: Bools
    is_bad: Bools

    def __len__(self) -> int:
        return len(self.weights)


class Tables:
    """A situation compiled.

    Attributes:
        sets: the distinct sets of faults, shape (J, F).
        set_of: which of them each world has, shape (K,).
        chain: which openings an action needs, shape (A, O).
        opening_cents: shape (O,).
        stays: which openings may stay open under power, shape (O,).
        powers: which actions power the machine up, shape (A,).
        is_check: shape (A,).
        cents: own cost by world, shape (A, K).
        cures: P(fault goes), shape (A, F); 0 for checks.
        shows: P(a re-check shows the fault), shape (F,).
    """

    def __init__(self, situation: Situation) -> None:
        self.situation = situation
        actions, worlds = situation.actions, len(situation.weights)
        self.sets, set_of = np.unique(situation.faults, axis=0, return_inverse=True)
        self.set_of = set_of.ravel()
        self._by_set = np.argsort(self.set_of, kind="stable")
        self._set_starts = np.searchsorted(self.set_of[self._by_set], np.arange(len(self.sets)))
        place = {opening.id: n for n, opening in enumerate(situation.openings)}
        chains = {opening.id: _chain(opening.id, situation) for opening in situation.openings}
        self.chain = np.zeros((len(actions), len(place)), dtype=bool)
        for n, action in enumerate(actions):
            self.chain[n, [place[name] for name in chains.get(action.opening, ())]] = True
        self.opening_cents = np.array([opening.cents for opening in situation.openings], dtype=np.float64)
        self.stays = np.array([opening.stays for opening in situation.openings], dtype=bool)
        self.open_now = np.array([opening.id in situation.open_now for opening in situation.openings], dtype=bool)
        self.powers = np.array([action.powers for action in actions], dtype=bool)
        self.is_check = np.array([action.tells is not None for action in actions], dtype=bool)
        self.cents = np.array([np.broadcast_to(action.cents, worlds) for action in actions]).reshape(-1, worlds)
        none = np.zeros(situation.faults.shape[1])
        self.cures = np.array([none if a.cures is None else a.cures for a in actions]).reshape(-1, len(none))
        self.shows = np.ones(len(none)) if situation.shows is None else situation.shows

    def start(self) -> Branches:
        """Return the one branch in which nothing was done yet."""
        return Branches(
            self.situation.weights[None, :],
            np.ones((1, self.sets.shape[1])),
            self.open_now[None, :],
            np.zeros((1, len(self.cents)), dtype=bool),
            np.zeros(1, dtype=bool),
        )

    def by_set(self, weights: Floats) -> Floats:
        """Return weights by world, shape (N, K), added up by set of faults, shape (N, J)."""
        added: Floats = np.add.reduceat(weights[:, self._by_set], self._set_starts, axis=1)
        return added

    def p_clean(self, left: Floats) -> Floats:
        """Return P(no fault is left | set), shape (N, J), for what is left of each fault, shape (N, F)."""
        return np.exp(_log_none(left) @ self.sets.T.astype(np.float64))

    def p_seems_clean(self, left: Floats) -> Floats:
        """Return P(a re-check shows no fault | set), shape (N, J)."""
        return np.exp(_log_none(left * self.shows) @ self.sets.T.astype(np.float64))

    def opening_costs(self, is_open: Bools) -> Floats:
        """Return what getting to each action costs, shape (N, A), for openings that are made, shape (N, O)."""
        costs: Floats = (~is_open * self.opening_cents) @ self.chain.T.astype(np.float64)
        return costs

    def after(self, is_open: Bools, action: int) -> Bools:
        """Return which openings are made after an action, shape (N, O)."""
        made = is_open | self.chain[action]
        left_open: Bools = made & self.stays if self.powers[action] else made
        return left_open


def _chain(name: str, situation: Situation) -> tuple[str, ...]:
    inside = {opening.id: opening.inside for opening in situation.openings}
    names: list[str] = []
    while name and name not in names:
        names.append(name)
        name = inside[name]
    return tuple(names)


def _log_none(p: Floats) -> Floats:
    """Return log(1 - p); a certain fault counts as all but certain, so that no sum is infinite."""
    return np.log1p(-np.minimum(p, 1.0 - 1e-15))
