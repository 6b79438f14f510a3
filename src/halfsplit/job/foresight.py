"""What each check would show now, and what each repair would do: the log walked one entry further, with the same parts
that weigh a job, over weighted samples of how things may stand.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from halfsplit.job.asked import numbers_at
from halfsplit.job.asks import AskedRun, AskedScale, Asks
from halfsplit.job.cells import Present
from halfsplit.job.changes import Course, Moment
from halfsplit.job.findings import OTHER, Finding
from halfsplit.job.folded import Folded
from halfsplit.job.kept import Kept
from halfsplit.job.mended import Brought, Hold, Mended, Mender
from halfsplit.job.results import kept_of
from halfsplit.job.run_views import learn
from halfsplit.job.scale_views import ScaleView, tell_scales
from halfsplit.job.units import NEW, OWNER, kind_of, number_of
from halfsplit.job.work import Work
from halfsplit.job.worlds import Worlds
from halfsplit.model.arrays import Floats
from halfsplit.model.bench import REPLACES, Check, Repair
from halfsplit.model.job import Entry, Inspect, Job, Measure, Run
from halfsplit.model.machine import Setup

LEAST_MUDDLED = 0.02
"""A fault at least so likely is worth a word where a check's own work may change it ..."""

LEAST_CHANGED = 0.05
"""... with at least this chance."""

OURS = (OWNER, NEW)
"""Whose units stay in the owner's machine for good."""

MOST_JOINT_RESULTS = 24
"""Results of one check with several readings that are told apart."""


@dataclass(frozen=True)
class Shows:
    """What one entry would show.

    Args:
        entry: the entry, with no result yet.
        results: what may be told.
        tells: P(result | world), shape (K, S).
    """

    entry: Entry
    results: tuple[Finding, ...]
    tells: Floats


@dataclass(frozen=True)
class Foreseen:
    """What a check would show.

    Args:
        check: the check.
        entries: the entries that it makes, with no result yet.
        used: the outputs that the monitor is on in its run.
        results: for each joint result what each entry shows; the last may be the least likely ones together, ().
        tells: P(result | world), shape (K, S).
        powers: whether the machine is powered up.
        harms: unit -> P(it is harmed | world), shape (K,).
        touches: P(the fault does something in the run | root, state), shape (R, states); None without a run.
        muddles: the roots that the work for it may well change by itself, likeliest first.
    """

    check: Check
    entries: tuple[Entry, ...]
    used: tuple[str, ...]
    results: tuple[tuple[Finding, ...], ...]
    tells: Floats
    powers: bool
    harms: Mapping[str, Floats]
    touches: Callable[[], Floats] | None
    muddles: tuple[str, ...]


@dataclass(frozen=True)
class Mends:
    """What a repair would do.

    Args:
        repair: the repair.
        at: the part or joint that it is done to, with its number.
        goes: as in ``Mended``.
        taken_out: the units that it takes out.
        brings: how many new faults that matter the work itself is expected to bring; what opening the machine
            disturbs is not among them.
    """

    repair: Repair
    at: str
    goes: Mapping[str, Floats]
    taken_out: frozenset[str]
    brings: float


class Foresight:
    """Looks one entry ahead from the end of a log.

    Args:
        job: the job; it must fold.
        folded: the job folded.
        worlds: how things may stand now.
        kept: what was worked out before, of the same book.
    """

    def __init__(self, job: Job, folded: Folded, worlds: Worlds, kept: Kept) -> None:
        kept.make_room()
        self._kept = kept
        self._book = kept.book
        self._facts = folded.facts
        trail = kept.trail(job)
        self._walker = trail.walker.aside()
        self._moments = [*trail.moments, self._walker.put_back(2 * len(trail.moments) + 2)]
        self._roots = kept.roots(folded.evidence)
        self._looked = {
            (m.entry.what, m.entry.tool if isinstance(m.entry, Inspect) else m.entry.load, m.stretch)
            for m in self._moments
            if isinstance(m.entry, Inspect | Measure)
        }
        self._walks = walks = kept.walks(self._walker, folded.facts)
        self._steps = {check.id: walks.check(check, self._is_known) for check in self._book.checks.values()}
        self._repaired = {repair.id: walks.repair(repair) for repair in self._book.repairs.values()}
        ahead = [walks.again, *(moment for steps in self._steps.values() for moment in steps)]
        ahead += [moment for places in self._repaired.values() for moment, _ in places.values()]
        course = Course(self._walker.intake, (*self._moments, *ahead), self._walker.standing)
        self._plans = kept.plans(course, folded.facts, job.shelf)
        self._placed = kept.placed(self._plans, self._roots)
        self.worlds = worlds
        self._present_footholds = kept.gatherer.together(self.standing).footholds
        self.waiting = self._aside()

    @property
    def worlds(self) -> Worlds:
        """How things may stand."""
        return self._worlds

    @worlds.setter
    def worlds(self, worlds: Worlds) -> None:
        self._worlds = worlds
        self._present = Present(worlds.states, worlds.weights, self._placed)
        self._told: dict[ScaleView, tuple[tuple[Finding, ...], Floats]] = {}
        self._harmed: dict[int, Mapping[str, Floats]] = {}  # by the identity of work, which many checks share
        self._muddled: dict[int, tuple[str, ...]] = {}

    @property
    def p_states(self) -> Floats:
        """P(root is in this state), shape (R, states)."""
        return self._present.p_states

    @property
    def standing(self) -> Setup:
        """The setup of the owner's machine as it was left."""
        return self._walker.standing[OWNER]

    def _aside(self) -> dict[str, str]:
        """Return the roots of the owner's parts that lie aside while one of the bench's is there: root -> slot."""
        intake, filled = self._walker.intake[OWNER].slots, self.standing.slots
        aside = {unit: slot for slot, unit in intake.items() if filled.get(slot, unit).partition(".")[0] not in OURS}
        return {
            plan.id: aside[unit]
            for unit in sorted(aside)
            for plan in self._plans
            if unit in plan.all_footholds
            and plan.id in self._roots.number
            and not plan.all_footholds & self._present_footholds
        }

    @property
    def open_now(self) -> frozenset[str]:
        """The openings that were made and not yet closed: since the last power-up, or before it."""
        return frozenset(self._walker.made)

    def asked(self, check: Check) -> tuple[Entry, ...]:
        """Return the entries of a check that show something, with no result yet; () where it cannot be done."""
        entries = [moment.entry for moment in self._steps[check.id]]
        return tuple(each for each in entries if isinstance(each, Run | Inspect | Measure))

    def make_ready(self, checks: Iterable[Check]) -> None:
        """Work out what the readings of several checks come to; together is faster than one by one."""
        asks = []
        for check in checks:
            asks.append(self._asks(check.id, check.asks, self._steps[check.id]))
            self._kept.pause()
        every, maker = [each for asked in asks for each in asked.readings], self._kept.asks
        views = []
        for each in every:
            if isinstance(each, AskedRun):
                views.append(maker.run_view(each, self._present))
                self._kept.pause()
        learn(views, self._present)
        self._kept.pause()
        self._tell(maker.scale_view(each, self._present) for each in every if isinstance(each, AskedScale))

    def check(self, check: Check) -> Foreseen | None:
        """Return what a check would show, or None where it cannot be done on this machine as it stands."""
        asks = self._asks(check.id, check.asks, self._steps[check.id])
        if not asks.readings:
            return None
        results, tells = _joint([self._shows(each) for each in asks.readings], self._worlds.weights)
        entries, run = tuple(each.entry for each in asks.readings), asks.run
        if run is None:
            return Foreseen(check, entries, (), results, tells, asks.powers, {}, None, ())
        if id(run.work) not in self._harmed:
            self._harmed[id(run.work)] = run.work.p_harmed(self._worlds.states)
        if id(asks.work) not in self._muddled:
            self._muddled[id(asks.work)] = self._muddles(asks.work)
        harms, muddles = self._harmed[id(run.work)], self._muddled[id(asks.work)]

        def touches() -> Floats:
            return self._kept.asks.run_view(run, self._present).touches()

        return Foreseen(check, entries, run.moment.together.used, results, tells, asks.powers, harms, touches, muddles)

    def again(self) -> tuple[tuple[Finding, ...], Floats]:
        """Return what it would show if the machine were started once more as it stands, and P(result | world)."""
        asks = self._asks("", (), (self._walks.again,))
        shows = self._shows(asks.readings[0])
        return shows.results, shows.tells

    def _asks(self, check: str, signs: Sequence[str], steps: tuple[Moment, ...]) -> Asks:
        """Return what a check asks; steps are objects of the walks, and stay as long as these."""
        key = (check, tuple(map(id, steps)), id(self._plans), id(self._roots))
        if key not in self._walks.asks:
            self._walks.asks[key] = self._kept.asks.asks(signs, steps, self._plans, self._placed)
        return self._walks.asks[key]

    def _shows(self, asked: AskedRun | AskedScale) -> Shows:
        maker = self._kept.asks
        if isinstance(asked, AskedRun):
            return Shows(asked.entry, *maker.run_view(asked, self._present).tell(self._present))
        view = maker.scale_view(asked, self._present)
        self._tell([view])
        return Shows(asked.entry, *self._told[view])

    def _tell(self, views: Iterable[ScaleView]) -> None:
        """Work out what looks and numbers come to, as far as it is not known yet."""
        new = [view for view in dict.fromkeys(views) if view not in self._told]
        self._told |= zip(new, tell_scales(new, self._present), strict=True)

    def repair(self, repair: Repair, number: str = "") -> Mends | None:
        """Return what a repair would do at one place, or None where it cannot be done."""
        at = repair.at + number
        if at not in self._repaired[repair.id]:
            return None
        moment, setup = self._repaired[repair.id][at]
        mended = self._mended(moment, setup)
        goes = dict(mended.goes)
        if repair.does == REPLACES:  # the part that lies aside is then not put back
            goes |= {
                name: np.where(np.arange(self._roots.states) > 0, 1.0, 0.0)
                for name, slot in self.waiting.items()
                if kind_of(slot) == repair.at and number_of(slot) in ("", number)
            }
        if not goes:
            return None
        taken_out = frozenset(self.standing.slots.values()) - frozenset(setup.slots.values())
        return Mends(repair, at, goes, taken_out, sum(map(self._p_brought, mended.brings)))

    def holds(self, root: str) -> tuple[Hold, ...]:
        """Return the holds of a root that may have harmed something in the machine, its own first; none of others."""
        return self._mender.holds.get(root, ())

    def _mended(self, moment: Moment, setup: Setup) -> Mended:
        """Return what a repair leaves; its moment is an object of the walks, and stays as long as these."""
        key = (id(moment), id(self._plans), id(self._roots))
        if key not in self._walks.mended:
            now = self._kept.gatherer.together(setup).footholds
            self._walks.mended[key] = self._mender.by(moment, now)
        return self._walks.mended[key]

    @cached_property
    def _mender(self) -> Mender:
        return Mender(self._plans, self._roots, self._kept.doings, self._present_footholds)

    def _p_brought(self, brought: Brought) -> float:
        """Return how likely a repair itself brings a fault that is absent now."""
        absent = 1.0 - brought.p if brought.root is None else float(self.p_states[brought.root, 0])
        return absent * brought.comes

    def numbers(self, at: str) -> tuple[str, ...]:
        """Return the numbers (".1") of a kind of part or joint in the owner's machine; ("",) where there is one."""
        return numbers_at(at, self.standing, self._book)

    def _is_known(self, look: Inspect | Measure) -> bool:
        """Return whether the same eyes looked there before, or it was measured, and nothing was done there since."""
        names = self._book.inspections if isinstance(look, Inspect) else self._book.measurements
        at = names[look.what.partition(".")[0]].at
        number = number_of(look.what)
        worked = self._walker.worked
        stretch = worked.get(at + number, 0) + (worked.get(at, 0) if number else 0)
        return (look.what, look.tool if isinstance(look, Inspect) else look.load, stretch) in self._looked

    def _muddles(self, work: Work) -> tuple[str, ...]:
        """Return the roots, likely enough to be there, that the work so far may well have changed."""
        p = self._present.p_states[work.moved, 1:]
        there, changed = p.sum(axis=1), (p * (1.0 - work.stays[:, 1:])).sum(axis=1)
        found = np.flatnonzero((there >= LEAST_MUDDLED) & (changed >= LEAST_CHANGED * there))
        names = self._roots.ids
        return tuple(name for _, name in sorted((-float(there[n]), names[work.moved[n]]) for n in found.tolist()))


def _joint(shows: Sequence[Shows], weights: Floats) -> tuple[tuple[tuple[Finding, ...], ...], Floats]:
    """Return the joint results of several readings of one check, independent in each world."""
    results: list[tuple[Finding, ...]] = [(result,) for result in shows[0].results]
    tells = shows[0].tells
    for each in shows[1:]:
        mass = (tells * weights[:, None]).T @ each.tells
        many = mass.shape[1]
        keep = kept_of(mass.ravel(), MOST_JOINT_RESULTS)
        results = [(*results[n // many], each.results[n % many]) for n in keep.tolist()]
        tells = tells[:, keep // many] * each.tells[:, keep % many]
        if len(keep) < mass.size:
            rest = np.maximum(0.0, 1.0 - tells.sum(axis=1))
            tells = np.column_stack([tells, rest])
            results.append((OTHER,) * len(results[0]))
    return tuple(results), tells
