"""A situation as tables, one row or column for each opening, move and fault, for sums over many branches at once.

A *move* is one action, or several repairs on one opening with one re-check.
"""

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from halfsplit.model.arrays import Bools, Floats, Ints
from halfsplit.plan.situation import Situation

ALL_SHARED = 4
"""Up to so many repairs on one opening, any of them may share a re-check; of more, only the best two, three, ..."""

MOST_SHARED = 5
"""Repairs with one re-check at most."""


@dataclass(frozen=True)
class Branches:
    """Branches of what may come, N of them, each with its own worlds and its own state of the bench.

    Args:
        weights: P(branch, world), shape (N, K).
        left: P(fault still there | it was in the world, after the repairs since), shape (N, F).
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

    def take(self, rows: Ints) -> "Branches":
        """Return some of them."""
        if len(rows) == len(self) and (rows == np.arange(len(rows))).all():
            return self
        return Branches(self.weights[rows], self.left[rows], self.is_open[rows], self.is_done[rows], self.is_bad[rows])


def stack(pieces: list[Branches]) -> Branches:
    """Return branches one after the other."""
    return Branches(
        np.concatenate([piece.weights for piece in pieces]),
        np.concatenate([piece.left for piece in pieces]),
        np.concatenate([piece.is_open for piece in pieces]),
        np.concatenate([piece.is_done for piece in pieces]),
        np.concatenate([piece.is_bad for piece in pieces]),
    )


class Tables:
    """A situation compiled: K worlds with J distinct sets of F faults, A actions, V moves, O openings.

    Attributes:
        sets: the distinct sets of faults, shape (J, F), as numbers 0 and 1.
        set_of: which of them each world has, shape (K,).
        usual_share: P(world | its set of faults), shape (K,).
        members: the faults of each set, shape (J, most), filled up with F.
        moves: the actions of each move; the first A moves are the actions.
        parts: the same, shape (V, A).
        chain: which openings a move needs, shape (V, O).
        opening_cents: shape (O,).
        stays: which openings may stay open under power, shape (O,).
        powers: which moves power the machine up, shape (V,).
        is_check: shape (V,).
        repairs: the moves that repair, R of them, in order.
        clash: which repairs have an action in common, shape (R, R).
        is_flat: whether every repair costs the same in all worlds.
        cents: own cost by world, shape (V, K), or (V, 1) where it is the same in all.
        cures: P(fault goes), shape (V, F); 0 for checks.
        shows: P(a re-check shows the fault), shape (F,).
        touched: the sets that a move may change, for each move.
        may_wait: which repairs are actions, and leave what they need open, shape (R,).
        behind: which repairs need nothing but an opening and what that needs, shape (R, O), 0 or 1.
        moved: for ``settle``, which keeps in it what it worked out.
    """

    def __init__(self, situation: Situation) -> None:
        self.situation = situation
        actions, (worlds, faults) = situation.actions, situation.faults.shape
        self._read_worlds()
        self.shows = np.ones(faults) if situation.shows is None else situation.shows
        self.all_show = bool((self.shows == 1.0).all())
        place = {opening.id: n for n, opening in enumerate(situation.openings)}
        self.opening_cents = np.array([opening.cents for opening in situation.openings], dtype=np.float64)
        self.stays = np.array([opening.stays for opening in situation.openings], dtype=bool)
        self.open_now = np.array([opening.id in situation.open_now for opening in situation.openings], dtype=bool)
        chains = np.zeros((len(place), len(place)), dtype=bool)
        for name, n in place.items():
            chains[n, [place[each] for each in _chain(name, situation)]] = True
        self.chain_of_opening = chains
        self.moves = (*((n,) for n in range(len(actions))), *self._shared(chains, place))
        self.parts = np.zeros((len(self.moves), len(actions)), dtype=bool)
        for n, move in enumerate(self.moves):
            self.parts[n, list(move)] = True
        self.chain = np.zeros((len(self.moves), len(place)), dtype=bool)
        for n, move in enumerate(self.moves):
            if actions[move[0]].opening:
                self.chain[n] = chains[place[actions[move[0]].opening]]
        self.powers = np.array([any(actions[n].powers for n in move) for move in self.moves], dtype=bool)
        self.is_check = np.array([actions[move[0]].tells is not None for move in self.moves], dtype=bool)
        self.repairs = np.flatnonzero(~self.is_check)
        of_repairs = self.parts[self.repairs].astype(np.float64)
        self.clash = (of_repairs @ of_repairs.T) > 0.0
        self.cents = self._own_cents(worlds)
        self.is_flat = all(np.ndim(action.cents) == 0 for action in actions if action.cures is not None)
        none = np.zeros(faults)
        cures = np.array([none if a.cures is None else a.cures for a in actions]).reshape(-1, faults)
        self.cures = np.array([1.0 - (1.0 - cures[list(move)]).prod(axis=0) for move in self.moves]).reshape(-1, faults)
        self.cured_by = np.ascontiguousarray(self.cures[self.repairs].T)
        self.opened_for = np.ascontiguousarray(chains.T, dtype=np.float64)
        self.opened_for_repair = np.ascontiguousarray(self.chain[self.repairs].T, dtype=np.float64)
        self._seems_at_start = self.p_none(self.shows[None, :])[0]
        self._clean_at_start = self.p_none(np.ones((1, faults)))[0]
        self.shows_or_none = np.append(self.shows, 1.0)
        alone = (self.parts.sum(axis=1) == 1) & ~(self.powers & (self.chain & ~self.stays).any(axis=1))
        self.may_wait = alone[self.repairs]
        beyond = (self.chain[self.repairs][:, None, :] & ~chains).any(axis=2)
        self.behind = np.where(beyond, 0.0, 1.0)
        touches = ((self.cures > 0.0).astype(np.float64) @ self.sets.T) > 0.0
        of_move, touched = np.nonzero(touches)
        self.touched = np.split(touched, np.searchsorted(of_move, np.arange(1, len(touches))))
        self.moved: dict[bytes, tuple[Ints, Ints, Floats, Floats]] = {}

    def _read_worlds(self) -> None:
        """Make the tables of worlds and sets."""
        situation = self.situation
        worlds, faults = situation.faults.shape
        sets, set_of = np.unique(situation.faults, axis=0, return_inverse=True)
        self.sets = sets.astype(np.float64)
        self.set_of = set_of.ravel()
        self._by_set = np.argsort(self.set_of, kind="stable")
        self._set_starts = np.searchsorted(self.set_of[self._by_set], np.arange(len(sets)))
        self._is_one_each = len(sets) == worlds and bool((self.set_of == np.arange(worlds)).all())
        self.members = _members(sets)
        # sums of random marks find a set quickly; what is found is compared
        self._marks = np.append(np.random.default_rng(0).integers(1 << 50, size=faults), 0)
        self._mark_of = self._marks[self.members].sum(axis=1)
        self._by_mark = np.argsort(self._mark_of)
        of_set = np.bincount(self.set_of, weights=situation.weights)[self.set_of]
        even = 1.0 / np.bincount(self.set_of)[self.set_of]
        self.usual_share = np.where(of_set > 0.0, situation.weights / np.where(of_set > 0.0, of_set, 1.0), even)

    def _own_cents(self, worlds: int) -> Floats:
        actions = self.situation.actions
        is_flat = all(np.ndim(action.cents) == 0 for action in actions)
        across = 1 if is_flat else worlds
        own = np.array([np.broadcast_to(action.cents, across) for action in actions]).reshape(-1, across)
        rechecks = np.array([action.recheck for action in actions])
        saved = [rechecks[list(move)].sum() - rechecks[list(move)].max() for move in self.moves]
        cents = [own[list(move)].sum(axis=0) - each for move, each in zip(self.moves, saved, strict=True)]
        return np.array(cents).reshape(-1, across)

    def _shared(self, chains: Bools, place: dict[str, int]) -> list[tuple[int, ...]]:
        """Return the repairs that may share a re-check, where that saves something."""
        situation = self.situation
        p_fault = situation.weights @ situation.faults
        clusters: dict[str, list[tuple[float, int]]] = {}
        for n, action in enumerate(situation.actions):
            if action.cures is not None and (gain := float(p_fault @ action.cures)) > 0.0:
                clusters.setdefault(action.opening, []).append((-gain / max(float(np.mean(action.cents)), 1e-9), n))
        found: list[tuple[int, ...]] = []
        for opening, rated in clusters.items():
            numbers = [n for _, n in sorted(rated)]
            closes = bool(opening) and bool((chains[place[opening]] & ~self.stays).any())
            if len(numbers) < 2 or not any(
                situation.actions[n].recheck or (closes and situation.actions[n].powers) for n in numbers
            ):
                continue
            if len(numbers) <= ALL_SHARED:
                found += [some for k in range(2, len(numbers) + 1) for some in combinations(numbers, k)]
            else:
                found += [tuple(numbers[:k]) for k in range(2, min(len(numbers), MOST_SHARED) + 1)]
        return found

    def start(self) -> Branches:
        """Return the one branch in which nothing was done yet."""
        return Branches(
            self.situation.weights[None, :],
            np.ones((1, self.sets.shape[1])),
            self.open_now[None, :],
            np.zeros((1, self.parts.shape[1]), dtype=bool),
            np.zeros(1, dtype=bool),
        )

    def name(self, move: int) -> str:
        """Return the id of a move: those of its actions, joined."""
        return "+".join(self.situation.actions[n].id for n in self.moves[move])

    def by_set(self, weights: Floats) -> Floats:
        """Return weights by world, shape (N, K), added up by set of faults, shape (N, J)."""
        if self._is_one_each:
            return weights
        added: Floats = np.add.reduceat(weights[:, self._by_set], self._set_starts, axis=1)
        return added

    def find_sets(self, members: Ints) -> Ints:
        """Return which of the sets have these members, shape (N, most), filled up with F anywhere; -1 for none."""
        mark = self._marks[members].sum(axis=1)
        place = np.searchsorted(self._mark_of, mark, sorter=self._by_mark)
        found = self._by_mark[np.minimum(place, len(self._by_mark) - 1)]
        is_it = (np.sort(members, axis=1) == np.sort(self.members[found], axis=1)).all(axis=1)
        return np.where(is_it, found, -1)

    def p_none(self, p: Floats) -> Floats:
        """Return P(none of a set's faults | set), shape (N, J), for faults that are there with p, shape (N, F)."""
        absent = np.concatenate([1.0 - p, np.ones((len(p), 1))], axis=1)
        none: Floats = absent[:, self.members[:, 0]]
        for column in self.members.T[1:]:
            none = none * absent[:, column]
        return none

    def seem_clean(self, left: Floats) -> tuple[Floats, Floats]:
        """Return P(a re-check shows no fault | set) and P(no fault is left | set), each (N, J), for (N, F) left."""
        rows = np.flatnonzero((left < 1.0).any(axis=1))
        seems = np.repeat(self._seems_at_start[None, :], len(left), axis=0)
        seems[rows] = self.p_none(left[rows] * self.shows)
        if self.all_show:
            return seems, seems
        clean = np.repeat(self._clean_at_start[None, :], len(left), axis=0)
        clean[rows] = self.p_none(left[rows])
        return seems, clean

    def is_seen(self, branches: Branches) -> Floats:
        """Return P(the last re-check showed something | set), shape (N, J); 1 before there was one."""
        if not branches.is_bad.any():
            return np.ones((len(branches), len(self.sets)))
        return np.where(branches.is_bad[:, None], 1.0 - self.seem_clean(branches.left)[0], 1.0)

    def opening_costs(self, is_open: Bools, moves: Ints) -> Floats:
        """Return what getting to moves costs, shape (N, moves), for openings that are made, shape (N, O)."""
        costs: Floats = (~is_open * self.opening_cents) @ self.chain[moves].T.astype(np.float64)
        return costs

    def after(self, is_open: Bools, moves: Ints) -> Bools:
        """Return which openings are made after moves, one for each row, for openings that are made, shape (N, O)."""
        left_open: Bools = (is_open | self.chain[moves]) & (self.stays | ~self.powers[moves][:, None])
        return left_open

    def own_costs(self, branches: Branches, moves: Ints) -> Floats:
        """Return what moves cost in branches, with getting to them: P(branch, still wrong) x cents, (N, moves)."""
        on = branches.weights
        if branches.is_bad.any():
            on = on * self.is_seen(branches)[:, self.set_of]
        p_on = on.sum(axis=1)[:, None]
        own = on @ self.cents[moves].T if self.cents.shape[1] > 1 else p_on * self.cents[moves, 0]
        costs: Floats = own + p_on * self.opening_costs(branches.is_open, moves)
        return costs


def _members(sets: Bools) -> Ints:
    many = sets.sum(axis=1)
    members = np.full((len(sets), max(1, int(many.max(initial=0)))), sets.shape[1], dtype=np.int64)
    row, fault = np.nonzero(sets)
    members[row, np.arange(len(row)) - (np.cumsum(many) - many)[row]] = fault
    return members


def _chain(name: str, situation: Situation) -> tuple[str, ...]:
    inside = {opening.id: opening.inside for opening in situation.openings}
    names: list[str] = []
    while name and name not in names:
        names.append(name)
        name = inside[name]
    return tuple(names)
