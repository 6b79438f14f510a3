"""A job as a situation for the planner: how things may stand, and what checks and repairs cost and do.

Everything is worked out with the parts that weigh the job: what a check would show in each world, what a repair would
take away, what a power-up may harm.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from halfsplit.infer import Posterior
from halfsplit.job.advised import PROVE, PROVING
from halfsplit.job.done import Done
from halfsplit.job.findings import Finding
from halfsplit.job.folded import Folded
from halfsplit.job.foresight import Foreseen, Foresight, Mends
from halfsplit.job.kept import Kept
from halfsplit.job.lines import title_of_slot
from halfsplit.job.machine import age_of, is_offered, share_of
from halfsplit.job.mended import Hold
from halfsplit.job.openings import OpeningsOf
from halfsplit.job.reached import Reached
from halfsplit.job.units import OWNER, kind_of_unit
from halfsplit.job.worlds import SAMPLES, Worlds, closed_under, sampled
from halfsplit.model.arrays import Bools, Floats, Ints
from halfsplit.model.bench import LEAVES_OFF, REFERS, REPLACES, Check, Minutes, Repair
from halfsplit.model.book import Book
from halfsplit.model.job import Job
from halfsplit.model.rates import Rates
from halfsplit.plan import Action, Opening, Situation, Thumb

LEAST_SUSPECTED = 1e-3
"""Repairs are thought of for faults at least this likely."""

ASKS = "ask"

_NOT_YET, _MENDABLE = 1, 2
"""States of a part that was harmed: another one would be harmed as well as long as the cause is there, or not."""

_TINY = 1e-12


@dataclass(frozen=True)
class Outlook:
    """A job as a situation, and what its actions are.

    Args:
        situation: for the planner.
        foreseen: action id -> the check.
        mends: action id -> the repair.
        after: repair's action id -> the world that each world becomes when it works, by its place in ``ends``.
        ends: which faults are there in the worlds and in those that repairs make of them; the K worlds come first.
        proof: what it costs to prove a mended machine, in cents.
        due: what is left of that as it is now: runs that it passed since the last work on it are not done again.
        due_runs: the runs of the proof that are left.
        faults: ids of roots, and of parts that they harmed, in the order of the situation's faults.
        titles: what these are called.
        minutes: action id -> its own minutes.
        price: action id -> money for parts, in cents.
        risk: action id -> expected damage of a check, and the faults that a repair itself brings, in cents.
        chain: action id -> the openings that it needs, the outermost first.
        again: P(result | world) if the machine were started once more as it stands, shape (K, S).
        waits: a check that waits for a repair, for the machine does not get so far now -> P(it gets so far | world),
            shape (K,).
        starts: the checks that start it, and so show that as well.
    """

    situation: Situation
    foreseen: Mapping[str, Foreseen]
    mends: Mapping[str, Mends]
    after: Mapping[str, Ints]
    ends: Bools
    proof: float
    due: float
    due_runs: tuple[str, ...]
    faults: tuple[str, ...]
    titles: tuple[str, ...]
    minutes: Mapping[str, Minutes]
    price: Mapping[str, float]
    risk: Mapping[str, float]
    chain: Mapping[str, tuple[str, ...]]
    again: Floats
    starts: frozenset[str]
    waits: Mapping[str, Floats]

    def thumb(self) -> Thumb:
        """Return its rule of thumb."""
        return Thumb(
            self.situation,
            self.after,
            ends=self.ends,
            proof=self.proof,
            due=self.due,
            proves=PROVE,
            again=self.again,
            starts=self.starts,
        )


def look_out(
    job: Job,
    folded: Folded,
    posterior: Posterior,
    rates: Rates,
    kept: Kept,
    *,
    steps: int | None = None,
    samples: int = SAMPLES,
) -> Outlook:
    """Return a weighed job as a situation for the planner.

    Args:
        job: the job.
        folded: the job folded.
        posterior: the job weighed.
        rates: what time and mishaps cost.
        kept: what was worked out before, of the same book.
        steps: how many repairs one after another are thought through; None = any number, and then what checks show
            is told of the worlds that repairs make as well.
        samples: how many samples of how things may stand are looked at.
    """
    return _Outlook(job, folded, sampled(posterior, samples), rates, kept, steps).whole()


def price_of(repair: Repair, book: Book) -> int:
    """Return what is paid for parts in a repair, in cents.

    What is referred to others is not mended for nothing: it is taken to cost what a new one does (estimate).
    """
    kind = book.kinds.get(repair.part or repair.at)
    return kind.price_cents if kind is not None and repair.does in (REPLACES, REFERS) else 0


def loss_of(repair: Repair, book: Book) -> int:
    """Return the worth of what the owner does without after a repair, in cents."""
    kind = book.kinds.get(repair.part or repair.at)
    return kind.worth_cents if kind is not None and repair.does == LEAVES_OFF else 0


class _Outlook:
    """All that is shared by the actions of one job."""

    def __init__(self, job: Job, folded: Folded, worlds: Worlds, rates: Rates, kept: Kept, steps: int | None) -> None:
        self._book = book = kept.book
        self._folded = folded
        self._rates = rates
        self._steps = steps
        self._openings = OpeningsOf(book)
        self._done = Done(job)
        self._reached = Reached(job, book)
        self._age = age_of(folded.facts)
        self._pause = kept.pause
        self._foresight = Foresight(job, folded, worlds, kept)
        self._pause()
        self._p_states = self._foresight.p_states
        roots = folded.evidence.roots
        there = worlds.states > 0
        waiting = self._foresight.waiting
        suspected = [
            number
            for number, root in enumerate(roots)
            if (folded.roots[root.id].in_machine or root.id in waiting)
            and folded.roots[root.id].fault
            and folded.roots[root.id].matters
            and not book.faults[folded.roots[root.id].fault].is_normal
            and there[:, number].any()
        ]
        self._holds = [hold for number in suspected for hold in self._holds_of(number, roots[number].id)]
        number_of = {roots[number].id: number for number in suspected}
        self._columns = np.array([number_of[hold.root] for hold in self._holds], dtype=np.int64)
        self._ids = tuple(hold.id for hold in self._holds)
        self._place = {name: place for place, name in enumerate(self._ids)}
        masks = np.array([hold.there for hold in self._holds]).reshape(len(self._holds), -1)
        self._p_there = (self._p_states[self._columns] * masks)[:, 1:]
        self._mends = {f"{found.repair.id}@{found.at}": found for found in self._repairs()}
        apart, self._apart = self._worlds_apart(worlds)
        goes = {name: self._takes(found) for name, found in self._mends.items()}
        states, self._after = closed_under(goes, apart, self._apart, steps=steps)
        self._ends = states[:, self._apart] > 0
        if steps is None:
            made = states[len(worlds.weights) :, : len(roots)]
            none = np.zeros(len(made))
            worlds = Worlds(np.concatenate([worlds.states, made]), np.concatenate([worlds.weights, none]))
            self._foresight.worlds = worlds
        self._worlds = worlds
        self._has = self._ends[: len(worlds.weights)]

    def _holds_of(self, number: int, root: str) -> tuple[Hold, ...]:
        """Return the holds of a suspected root; one that is aside, and is to be put back, counts as there."""
        states = np.arange(self._p_states.shape[1])
        whole = Hold(root, root, "", "", np.where(states > 0, 1.0, 0.0), np.zeros(len(states)))
        own, *harm = self._foresight.holds(root) or (whole,)
        likely = [hold for hold in harm if float(self._p_states[number] @ hold.there) > 0.0]
        return whole if root in self._foresight.waiting else own, *likely

    def _worlds_apart(self, worlds: Worlds) -> tuple[Worlds, Ints]:
        """Return the worlds with what was harmed in columns of its own, and the column of each hold, shape (F,).

        A root that harmed something and the part that it harmed are mended one by one.
        """
        states, columns = [worlds.states.copy()], self._columns.copy()
        for place, (root, hold) in enumerate(zip(self._columns, self._holds, strict=True)):
            is_there = hold.there[worlds.states[:, root]] > 0.0
            if hold.unit:
                is_killed_again = (hold.again[worlds.states[:, root]] > 0.0) & (self._steps is not None)
                columns[place] = worlds.states.shape[1] + len(states) - 1
                states.append(np.where(is_there, np.where(is_killed_again, _NOT_YET, _MENDABLE), 0)[:, None])
            else:
                states[0][:, root] = np.where(is_there, states[0][:, root], 0)
        return Worlds(np.concatenate(states, axis=1), worlds.weights), columns

    def _takes(self, mends: Mends) -> dict[int, Floats]:
        """Return the columns of the suspected holds that a repair may take away -> P(it goes | state of the column)."""
        found = {}
        for name, by_state in mends.goes.items():
            if name in self._place:
                place = self._place[name]
                is_mendable = np.where(np.arange(len(by_state)) == _MENDABLE, self._mean(place, by_state), 0.0)
                found[int(self._apart[place])] = is_mendable if self._holds[place].unit else by_state
        return found

    def whole(self) -> Outlook:
        """Return the outlook."""
        checks = [check for check in self._book.checks.values() if self._is_due(check) and self._can_be_done(check)]
        self._pause()
        self._foresight.make_ready(checks)
        self._pause()
        seen_in = {check.id: self._foresight.check(check) for check in checks}
        foreseen = {name: seen for name, seen in seen_in.items() if seen is not None}
        self._pause()
        shows_in_proof = self._shows_in_proof(foreseen)
        shows, seen_bad = self._shows(shows_in_proof), self._seen_bad(shows_in_proof)
        open_runs = [n for n in PROVING if n in foreseen and not self._done.is_passed(foreseen[n].entries)]
        foreseen = {name: seen for name, seen in foreseen.items() if not self._done.is_read(seen.entries)}
        waits = {name for name, seen in foreseen.items() if not self._reached.may_get_to(seen.check.needs)}
        if self._steps is not None:
            foreseen = {name: seen for name, seen in foreseen.items() if name not in waits}
        starts_again, again = self._foresight.again()
        mends = self._mends
        minutes = {name: seen.check.minutes for name, seen in foreseen.items()}
        proving = [self._book.checks[name].minutes for name in open_runs]
        minutes[PROVE] = Minutes(sum(each.hands_on for each in proving), sum(each.place for each in proving))
        minutes |= {name: self._repair_minutes(found.repair) for name, found in mends.items()}
        price = dict.fromkeys((*foreseen, PROVE), 0.0)
        price |= {name: float(price_of(found.repair, self._book)) for name, found in mends.items()}
        harms = {id(seen.harms): seen.harms for seen in foreseen.values()}
        damage_of = {harm: self._damage(of) for harm, of in harms.items()}
        damage = {name: damage_of[id(seen.harms)] for name, seen in foreseen.items()}
        brought = {name: self._rates.mishap * found.brings for name, found in mends.items()}
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
                self._rates.of(minutes[name]) + price[name] + loss_of(found.repair, self._book) + brought[name],
                chain[name][-1] if chain[name] else "",
                powers=True,
                cures=self._cures(found),
            )
            for name, found in mends.items()
        ]
        due = self._proof(open_runs)
        if open_runs:
            actions.append(Action(PROVE, due, "", powers=True, tells=np.stack([1.0 - seen_bad, seen_bad], axis=1)))
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
        risk |= {**brought, PROVE: 0.0}
        chain[PROVE] = ()
        return Outlook(
            situation,
            foreseen,
            mends,
            self._after,
            self._ends,
            self._proof(PROVING),
            due,
            tuple(open_runs),
            self._ids,
            tuple(map(self._title, self._holds)),
            minutes,
            price,
            risk,
            chain,
            again,
            frozenset(name for name, seen in foreseen.items() if seen.touches is not None and seen.check.host == OWNER),
            {
                name: again @ self._gets_to(starts_again, foreseen[name].check.needs)
                for name in sorted(waits & foreseen.keys())
            },
        )

    def _title(self, hold: Hold) -> str:
        root = self._folded.roots[hold.root].title
        if not hold.unit:
            return root
        slot = hold.unit.partition(".")[2]
        return f"{title_of_slot(slot, self._book)} harmed by: {root}"

    def _gets_to(self, starts: Sequence[Finding], rung: str) -> Floats:
        """Return of each result of a start whether the machine gets to a rung in it, 1 or 0, shape (S,)."""
        return np.array([float(self._reached.gets_to(told, rung)) for told in starts])

    def _is_due(self, check: Check) -> bool:
        """Return whether a check would show anything that was not read since the last work, or belongs to the proof."""
        return check.id in PROVING or not self._done.is_read(self._foresight.asked(check))

    def _can_be_done(self, check: Check) -> bool:
        """Return whether a check is done at the bench, on a machine like this one that gets so far, with the shelf.

        Those that prove a mended machine are foreseen in any case: its proof is reckoned by them.  So are all where
        what repairs make of the machine is thought through: it may get further then.
        """
        is_thought_of = self._steps is None or check.id in PROVING or self._reached.may_get_to(check.needs)
        if check.kind == ASKS or not is_thought_of:
            return False
        return is_offered(check, self._folded.facts, self._book)

    def _repairs(self) -> list[Mends]:
        """Return the repairs that may cure a fault that is likely enough."""
        p = self._p_there.sum(axis=1)
        likely = {name for name, each in zip(self._ids, p.tolist(), strict=True) if each >= LEAST_SUSPECTED}
        faults = {hold.fault or self._folded.roots[hold.root].fault for hold in self._holds if hold.id in likely}
        named = {cure.repair for fault in faults for cure in self._book.faults[fault].cures}
        found = []
        for repair in self._book.repairs.values():
            if repair.id not in named or share_of(repair.only, self._folded.facts, self._book) <= 0.0:
                continue
            for number in self._foresight.numbers(repair.at):
                if self._done.is_repaired(repair, repair.at + number):
                    continue
                mends = self._foresight.repair(repair, number)
                if mends is not None and not likely.isdisjoint(mends.goes):
                    found.append(mends)
        return found

    def _cures(self, mends: Mends) -> Floats:
        """Return P(fault goes | it is there), shape (F,)."""
        cures = np.zeros(len(self._ids))
        for name, by_state in mends.goes.items():
            if name in self._place:
                cures[self._place[name]] = self._mean(self._place[name], by_state)
        return np.clip(cures, 0.0, 1.0)

    def _mean(self, place: int, by_state: Floats) -> float:
        """Return the mean of a value by state over the worlds in which a fault is there."""
        p = self._p_there[place]
        return float(p @ by_state[1:] / max(p.sum(), _TINY))

    def _shows_in_proof(self, foreseen: Mapping[str, Foreseen]) -> Floats | None:
        """Return P(the fault does something while the machine is proved | root, state), or None where no run can be."""
        proving = [foreseen[name].touches for name in PROVING if name in foreseen]
        hidden = [1.0 - touches() for touches in proving if touches is not None]
        return np.asarray(1.0 - np.prod(hidden, axis=0)) if hidden else None

    def _shows(self, by_state: Floats | None) -> Floats:
        """Return P(a fault shows while the machine is proved | it is there), shape (F,)."""
        shows = np.ones(len(self._ids))
        if by_state is not None:
            for place, root in enumerate(self._columns):
                shows[place] = self._mean(place, by_state[root])
        return np.clip(shows, 0.0, 1.0)

    def _seen_bad(self, by_state: Floats | None) -> Floats:
        """Return P(something wrong shows while the machine is proved | world), shape (K,).

        The bench's own bad parts show as well; what is only normal does not count.
        """
        if by_state is None:
            return np.zeros(len(self._worlds.weights))
        counts = np.array([self._counts(root.id) for root in self._folded.evidence.roots])
        stays = np.where(counts[:, None], 1.0 - by_state, 1.0)
        stays[:, 0] = 1.0
        columns = np.arange(stays.shape[0])
        return np.asarray(1.0 - stays[columns, self._worlds.states].prod(axis=1))

    def _counts(self, root: str) -> bool:
        rooted = self._folded.roots[root]
        return rooted.matters and not (rooted.fault and self._book.faults[rooted.fault].is_normal)

    def _proof(self, runs: Sequence[str]) -> float:
        """Return what it costs to prove a mended machine by some of its runs, in cents."""
        return sum(self._rates.of(self._book.checks[name].minutes) for name in runs if name in self._book.checks)

    def _repair_minutes(self, repair: Repair) -> Minutes:
        """Return the minutes of a repair with those of its re-check; what it waits for counts once."""
        own = repair.minutes
        if repair.recheck not in self._book.checks:
            return own
        after = self._book.checks[repair.recheck].minutes
        return Minutes(own.hands_on + after.hands_on, own.place + after.place, own.days + after.days)

    def _damage(self, harms: Mapping[str, Floats]) -> Floats:
        """Return the expected damage of a check that harms units so by world, in cents, shape (K,)."""
        damage = np.zeros(len(self._worlds.weights))
        for unit, p in harms.items():
            kind = self._book.kinds.get(kind_of_unit(unit, self._book))
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
