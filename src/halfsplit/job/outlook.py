"""A job as a situation for the planner: how things may stand, and what checks and repairs cost and do.

Everything is worked out with the parts that weigh the job: what a check would show in each world, what a repair would
take away, what a power-up may harm.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from halfsplit.infer import Posterior
from halfsplit.job.folded import Folded
from halfsplit.job.foresight import Foreseen, Foresight, Mends, Worlds
from halfsplit.job.machine import age_of, share_of
from halfsplit.job.openings import OpeningsOf
from halfsplit.job.units import OWNER, kind_of
from halfsplit.model.bench import Check, Minutes, Repair
from halfsplit.model.book import Book
from halfsplit.model.evidence import Floats, Ints
from halfsplit.model.job import Job
from halfsplit.plan import Action, Opening, Situation
from halfsplit.plan.rates import Rates

SAMPLES = 2_000
"""Samples of how things may stand; equal ones are one world."""

LEAST_SUSPECTED = 1e-3
"""Repairs are thought of for faults at least this likely."""

PROVE = "prove"
"""The id of proving that the machine holds, as it is now."""

PROVING = ("counter_run", "load_all", "as_the_owner_uses_it")
"""The checks by which a mended machine is proved; a fault that shows in none of them comes back."""

MORE_THAN_NOT = 0.5
"""A repair that takes a fault away more often than this is thought of as one that may work on it."""

REPLACES = "replace"
LEAVES_OFF = "leave_off"
ASKS = "ask"


@dataclass(frozen=True)
class Outlook:
    """A job as a situation, and what its actions are.

    Args:
        situation: for the planner.
        foreseen: action id -> the check.
        mends: action id -> the repair.
        after: repair's action id -> the world that each world becomes when it works, shape (K,).
        proof: what it costs to prove a mended machine, in cents.
        faults: root ids, in the order of the situation's faults.
        minutes: action id -> its own minutes.
        price: action id -> money for parts, in cents.
        risk: action id -> expected damage, in cents.
        chain: action id -> the openings that it needs, the outermost first.
    """

    situation: Situation
    foreseen: Mapping[str, Foreseen]
    mends: Mapping[str, Mends]
    after: Mapping[str, Ints]
    proof: float
    faults: tuple[str, ...]
    minutes: Mapping[str, Minutes]
    price: Mapping[str, float]
    risk: Mapping[str, float]
    chain: Mapping[str, tuple[str, ...]]


def look_out(job: Job, book: Book, folded: Folded, posterior: Posterior, rates: Rates) -> Outlook:
    """Return a weighed job as a situation for the planner.

    Args:
        job: the job.
        book: the fault book.
        folded: the job folded.
        posterior: the job weighed.
        rates: what time and mishaps cost.
    """
    return _Outlook(job, book, folded, _worlds(posterior), rates).whole()


def _worlds(posterior: Posterior) -> Worlds:
    samples = posterior.samples(SAMPLES)
    states, of = np.unique(samples.states, axis=0, return_inverse=True)
    weights = np.bincount(of.ravel(), weights=samples.weights)
    return Worlds(states.astype(np.int64), weights / weights.sum())


class _Outlook:
    """All that is shared by the actions of one job."""

    def __init__(self, job: Job, book: Book, folded: Folded, worlds: Worlds, rates: Rates) -> None:
        self._book = book
        self._folded = folded
        self._rates = rates
        self._openings = OpeningsOf(book)
        self._age = age_of(folded.facts)
        self._foresight = Foresight(job, book, folded, worlds)
        roots = folded.evidence.roots
        there = worlds.states > 0
        suspected = [
            number
            for number, root in enumerate(roots)
            if folded.roots[root.id].in_machine
            and folded.roots[root.id].fault
            and folded.roots[root.id].matters
            and not book.faults[folded.roots[root.id].fault].is_normal
            and there[:, number].any()
        ]
        self._columns = np.array(suspected, dtype=np.int64)
        self._ids = tuple(roots[number].id for number in suspected)
        self._p = worlds.weights @ there[:, self._columns]
        self._mends = {f"{found.repair.id}@{found.at}": found for found in self._repairs()}
        self._worlds, self._after = self._closed(worlds)
        self._foresight.worlds = self._worlds
        self._has = self._worlds.states[:, self._columns] > 0

    def _closed(self, worlds: Worlds) -> tuple[Worlds, dict[str, Ints]]:
        """Return the worlds with those that repairs make of them, and for each repair what each world becomes.

        A world that a repair made has the faults that are left, and nothing else that is only noticed.
        """
        known = {row.tobytes(): number for number, row in enumerate(worlds.states)}
        roots = {root.id: number for number, root in enumerate(self._folded.evidence.roots)}
        suspected = np.zeros(worlds.states.shape[1], dtype=bool)
        suspected[self._columns] = True
        states, new = worlds.states, worlds.states
        after: dict[str, list[Ints]] = {name: [] for name in self._mends}
        begin = 0
        while len(new):
            made: list[Ints] = []
            for name, found in self._mends.items():
                left = np.where(suspected, new, 0)
                touched = np.zeros(len(new), dtype=bool)
                for root, by_state in found.goes.items():
                    column = roots[root]
                    gone = (by_state > MORE_THAN_NOT)[new[:, column]] & (new[:, column] > 0)
                    left[gone, column] = 0
                    touched |= gone & suspected[column]
                into = np.arange(begin, begin + len(new))
                for row in np.flatnonzero(touched):
                    into[row] = known.setdefault(left[row].tobytes(), len(known))
                    if into[row] == len(states) + len(made):
                        made.append(left[row])
                after[name].append(into)
            begin = len(states)
            new = np.array(made, dtype=np.int64).reshape(-1, states.shape[1])
            states = np.concatenate([states, new])
        weights = np.concatenate([worlds.weights, np.zeros(len(states) - len(worlds.weights))])
        return Worlds(states, weights), {name: np.concatenate(into) for name, into in after.items()}

    def whole(self) -> Outlook:
        """Return the outlook."""
        foreseen = {}
        for check in self._book.checks.values():
            seen = self._foresight.check(check) if self._can_be_done(check) else None
            if seen is not None:
                foreseen[check.id] = seen
        mends = self._mends
        minutes = {name: seen.check.minutes for name, seen in foreseen.items()}
        proving = [self._book.checks[name].minutes for name in PROVING if name in self._book.checks]
        minutes[PROVE] = Minutes(sum(each.hands_on for each in proving), sum(each.place for each in proving))
        minutes |= {name: self._repair_minutes(found.repair) for name, found in mends.items()}
        price = dict.fromkeys((*foreseen, PROVE), 0.0) | {name: self._price(found) for name, found in mends.items()}
        damage = {name: self._damage(seen) for name, seen in foreseen.items()}
        chain = {name: self._openings.chain(seen.check.opening) for name, seen in foreseen.items()}
        chain |= {name: self._openings.chain(found.repair.opening) for name, found in mends.items()}
        actions = [
            Action(
                name,
                self._rates.of(minutes[name]) + damage[name],
                chain[name][-1] if chain[name] else "",
                seen.powers,
                tells=seen.tells,
            )
            for name, seen in foreseen.items()
        ]
        actions += [
            Action(
                name,
                self._rates.of(minutes[name]) + price[name],
                chain[name][-1] if chain[name] else "",
                powers=True,
                cures=self._cures(found),
            )
            for name, found in mends.items()
        ]
        shows = self._shows(foreseen)
        proof = self._proof()
        seen_bad = 1.0 - np.where(self._has, 1.0 - shows, 1.0).prod(axis=1)
        actions.append(Action(PROVE, proof, "", powers=True, tells=np.stack([1.0 - seen_bad, seen_bad], axis=1)))
        situation = Situation(
            self._worlds.weights,
            self._has,
            tuple(actions),
            self._rates.comeback,
            self._rates.replacing(self._age),
            tuple(self._opening(name) for name in self._book.openings),
            self._foresight.open_now & {name for name, opening in self._book.openings.items() if opening.stays},
            shows,
            self._rates.broken(self._age),
        )
        risk = {name: float(self._worlds.weights @ each) for name, each in damage.items()}
        risk |= dict.fromkeys((*mends, PROVE), 0.0)
        chain[PROVE] = ()
        return Outlook(
            situation,
            foreseen,
            mends,
            self._after,
            self._proof(),
            self._ids,
            minutes,
            price,
            risk,
            chain,
        )

    def _can_be_done(self, check: Check) -> bool:
        """Return whether a check is done at the bench, on a machine like this one, with what is on the shelf."""
        if check.kind == ASKS or share_of(check.only, self._folded.facts, self._book) <= 0.0:
            return False
        kinds = {part.kind for part in self._book.shelf.values()}
        return all(kind in kinds or kind in self._book.shelf for kind in check.shelf)

    def _repairs(self) -> list[Mends]:
        """Return the repairs that may cure a fault that is likely enough."""
        likely = {name for name, p in zip(self._ids, self._p, strict=True) if p >= LEAST_SUSPECTED}
        faults = {self._folded.roots[name].fault for name in likely}
        named = {cure.repair for fault in faults for cure in self._book.faults[fault].cures}
        found = []
        for repair in self._book.repairs.values():
            if repair.id not in named or share_of(repair.only, self._folded.facts, self._book) <= 0.0:
                continue
            for number in self._foresight.numbers(repair.at):
                mends = self._foresight.repair(repair, number)
                if mends is not None and not likely.isdisjoint(mends.goes):
                    found.append(mends)
        return found

    def _cures(self, mends: Mends) -> Floats:
        """Return P(fault goes | it is there), shape (F,)."""
        cures = np.zeros(len(self._ids))
        for place, name in enumerate(self._ids):
            if name in mends.goes:
                cures[place] = self._mean(place, mends.goes[name])
        return np.clip(cures, 0.0, 1.0)

    def _mean(self, place: int, by_state: Floats) -> float:
        """Return the mean of a value by state over the worlds in which a fault is there."""
        states = self._worlds.states[:, self._columns[place]]
        weights = np.where(states > 0, self._worlds.weights, 0.0)
        return float(weights @ by_state[states] / weights.sum())

    def _shows(self, foreseen: Mapping[str, Foreseen]) -> Floats:
        """Return P(a fault shows while the machine is proved | it is there), shape (F,)."""
        proving = [foreseen[name].touches for name in PROVING if name in foreseen]
        shows = np.ones(len(self._ids))
        if proving:
            hidden = np.prod([1.0 - touches for touches in proving], axis=0)
            for place, root in enumerate(self._columns):
                shows[place] = self._mean(place, 1.0 - hidden[root])
        return np.clip(shows, 0.0, 1.0)

    def _proof(self) -> float:
        """Return what it costs to prove a mended machine, in cents."""
        return sum(self._rates.of(self._book.checks[name].minutes) for name in PROVING if name in self._book.checks)

    def _repair_minutes(self, repair: Repair) -> Minutes:
        """Return the minutes of a repair with those of its re-check; what it waits for counts once."""
        own = repair.minutes
        if repair.recheck not in self._book.checks:
            return own
        after = self._book.checks[repair.recheck].minutes
        return Minutes(own.hands_on + after.hands_on, own.place + after.place, own.days + after.days)

    def _price(self, mends: Mends) -> float:
        """Return what a repair costs in parts: a new one, or what the owner no longer has."""
        repair = mends.repair
        kind = self._book.kinds.get(repair.part or repair.at)
        if kind is None:
            return 0.0
        if repair.does == REPLACES:
            return float(kind.price_cents)
        return float(kind.worth_cents) if repair.does == LEAVES_OFF else 0.0

    def _damage(self, seen: Foreseen) -> Floats:
        """Return the expected damage of a check by world, in cents, shape (K,)."""
        damage = np.zeros(len(self._worlds.weights))
        for unit, p in seen.harms.items():
            kind = self._book.kinds.get(kind_of(unit.partition(".")[2]))
            if kind is not None:
                whose = unit.partition(".")[0]
                damage = damage + p * float(kind.worth_cents if whose == OWNER else kind.price_cents)
        return damage

    def _opening(self, name: str) -> Opening:
        """Return an opening with what it costs to make and to close, what it uses and what it may disturb."""
        opening = self._book.openings[name]
        hands = opening.minutes_open + opening.minutes_close
        cents = self._rates.of(Minutes(hands, hands))
        cents += self._rates.mishap * sum(chance.p for chance in opening.disturbs.values())
        cents += self._rates.paste * ("paste" in opening.uses)
        return Opening(name, cents, opening.inside, opening.stays)
