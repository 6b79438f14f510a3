"""What each check would show now, and what each repair would do: the log walked one entry further, with the same parts
that weigh a job, over weighted samples of how things may stand.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from halfsplit.job.act_tables import ActTable
from halfsplit.job.asked import numbers_at
from halfsplit.job.cells import Present
from halfsplit.job.changes import Course, Moment, Repaired
from halfsplit.job.corrections import apply_corrections
from halfsplit.job.effects import STAGES, picture
from halfsplit.job.eyes import INSIDE, OTHER, Finding
from halfsplit.job.folded import Folded
from halfsplit.job.kept import ByPlan, Kept, Key, composed
from halfsplit.job.looks import STATES
from halfsplit.job.moments import Walker
from halfsplit.job.readings import Weighing
from halfsplit.job.reports import UNTOLD_MINUTES
from halfsplit.job.roots import Plan
from halfsplit.job.units import OWNER, Foothold, kind_of, number_of
from halfsplit.job.views import RunView, ScaleView, split
from halfsplit.job.work import Work
from halfsplit.job.worlds import Worlds
from halfsplit.job.wrong_taps import P_MISNOTED
from halfsplit.model.bench import Check, Repair
from halfsplit.model.evidence import NO_STOP, Floats
from halfsplit.model.job import Entry, Inspect, Job, Measure, Run
from halfsplit.model.machine import Conditions, Setup

LEAST_MUDDLED = 0.02
"""A fault at least so likely is worth a word where a check's own work may change it ..."""

LEAST_CHANGED = 0.05
"""... with at least this chance."""

MOST_SIGNS = 6
"""Signs of one run that are told apart; the run itself tells how it ended."""

REPLACES = "replace"
"""What a repair does that fits another part."""

OURS = (OWNER, "new")
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
        goes: root id -> P(the root has no hold of the owner's machine afterwards | state), shape (states,).
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
        _, log = apply_corrections(job, [])
        self._walker = Walker(job, self._book, kept.gatherer, [])
        self._moments = [self._walker.step(2 * number, entry) for number, entry in enumerate(log, 1)]
        self._moments.append(self._walker.put_back(2 * len(log) + 2))
        self._roots = kept.roots(folded.evidence)
        self._looked = {
            (m.entry.what, m.entry.tool if isinstance(m.entry, Inspect) else m.entry.load, m.stretch)
            for m in self._moments
            if isinstance(m.entry, Inspect | Measure)
        }
        walks = kept.walks(self._walker, folded.facts)
        self._steps = {check.id: walks.check(check, self._is_known) for check in self._book.checks.values()}
        self._repaired = {repair.id: walks.repair(repair) for repair in self._book.repairs.values()}
        self._again = walks.again
        ahead = [self._again, *(moment for steps in self._steps.values() for moment in steps)]
        ahead += [moment for places in self._repaired.values() for moment, _ in places.values()]
        course = Course(self._walker.intake, (*self._moments, *ahead), self._walker.standing)
        self._plans = kept.plans(course, folded.facts, job.shelf)
        self._placed = kept.placed(self._plans, self._roots)
        self.worlds = worlds
        self._by_name = {id(plan): plan for plan in self._plans}
        self._present_footholds = kept.gatherer.together(self.standing).footholds
        self._at: dict[Foothold, list[Plan]] = {}
        for plan in self._plans:
            for foothold in plan.all_footholds:
                self._at.setdefault(foothold, []).append(plan)

    @property
    def worlds(self) -> Worlds:
        """How things may stand."""
        return self._worlds

    @worlds.setter
    def worlds(self, worlds: Worlds) -> None:
        self._worlds = worlds
        self._present = Present(worlds.states, worlds.weights, self._placed)

    @property
    def p_states(self) -> Floats:
        """P(root is in this state), shape (R, states)."""
        return self._present.p_states

    @property
    def standing(self) -> Setup:
        """The setup of the owner's machine as it was left."""
        return self._walker.standing[OWNER]

    @property
    def waiting(self) -> dict[str, str]:
        """The roots of the owner's parts that lie aside while one of the bench's is in their place: root -> slot."""
        intake, filled = self._walker.intake[OWNER].slots, self.standing.slots
        aside = {unit: slot for slot, unit in intake.items() if filled.get(slot, unit).partition(".")[0] not in OURS}
        return {
            plan.id: aside[unit]
            for unit in sorted(aside)
            for plan in self._at.get(unit, ())
            if plan.id in self._roots.number and not plan.all_footholds & self._present_footholds
        }

    @property
    def open_now(self) -> frozenset[str]:
        """The openings that were made and not yet closed: since the last power-up, or before it."""
        return frozenset(self._walker.made)

    def asked(self, check: Check) -> tuple[Entry, ...]:
        """Return the entries of a check that show something, with no result yet; () where it cannot be done."""
        entries = [moment.entry for moment in self._steps[check.id]]
        return tuple(each for each in entries if isinstance(each, Run | Inspect | Measure))

    def check(self, check: Check) -> Foreseen | None:
        """Return what a check would show, or None where it cannot be done on this machine as it stands."""
        shows: list[Shows] = []
        harms: dict[str, Floats] = {}
        used: tuple[str, ...] = ()
        powers = False
        touches = None
        keys: list[Key] = []
        changes: list[ByPlan[Floats]] = []
        for moment in self._steps[check.id]:
            for change in moment.changes:
                key, moves = self._kept.moves(self._plans, change, moment.together)
                keys.append(key)
                changes.append(moves)
            match moment.entry:
                case Run():
                    powers, used = True, moment.together.used
                    view = self._run(check.asks, moment, moment.entry, tuple(keys), changes)
                    shows.append(Shows(moment.entry, *view.tell(self._present)))
                    touches = view.touches
                    harms = self._kept.work(self._plans, self._roots, tuple(keys), changes).p_harmed(
                        self._worlds.states
                    )
                case Inspect():
                    scale = self._look(moment, moment.entry, tuple(keys), changes)
                    shows.append(Shows(moment.entry, *scale.tell(self._present)))
                case Measure():
                    powers = True
                    scale = self._number(moment, moment.entry, tuple(keys), changes)
                    shows.append(Shows(moment.entry, *scale.tell(self._present)))
                case _:
                    pass
        if not shows:
            return None
        results, tells = _joint(shows, self._worlds.weights)
        entries = tuple(each.entry for each in shows)
        muddles: tuple[str, ...] = ()
        if touches:
            muddles = self._muddles(self._kept.work(self._plans, self._roots, tuple(keys), changes))
        return Foreseen(check, entries, used, results, tells, powers, harms, touches, muddles)

    def again(self) -> tuple[tuple[Finding, ...], Floats]:
        """Return what it would show if the machine were started once more as it stands, and P(result | world)."""
        found = [self._kept.moves(self._plans, change, self._again.together) for change in self._again.changes]
        run, keys = Run("again"), tuple(key for key, _ in found)
        return self._run((), self._again, run, keys, [moves for _, moves in found]).tell(self._present)

    def repair(self, repair: Repair, number: str = "") -> Mends | None:
        """Return what a repair would do at one place, or None where it cannot be done."""
        at = repair.at + number
        if at not in self._repaired[repair.id]:
            return None
        moment, setup = self._repaired[repair.id][at]
        now = self._kept.gatherer.together(setup).footholds
        before = self._present_footholds
        moves = composed([self._kept.moves(self._plans, change, moment.together)[1] for change in moment.changes])
        names = {id(plan) for foothold in before - now for plan in self._at.get(foothold, ())}
        goes: dict[str, Floats] = {}
        for name in sorted(
            names | moves.keys(), key=lambda name: self._by_name[name].id if name in self._by_name else ""
        ):
            plan = self._by_name.get(name)
            if plan is None or plan.id not in self._roots.number or plan.all_footholds.isdisjoint(before):
                continue
            gone = np.array([1.0, *(float(plan.held(state).isdisjoint(now)) for state in plan.states)])
            after = moves[name] @ gone if name in moves else gone
            if after[1:].any():
                goes[plan.id] = self._roots.of(plan, after)
        if repair.does == REPLACES:  # the part that lies aside is then not put back
            goes |= {
                name: np.where(np.arange(self._roots.states) > 0, 1.0, 0.0)
                for name, slot in self.waiting.items()
                if kind_of(slot) == repair.at and number_of(slot) in ("", number)
            }
        if not goes:
            return None
        taken_out = frozenset(self.standing.slots.values()) - frozenset(setup.slots.values())
        return Mends(repair, at, goes, taken_out, self._brings(moment))

    def _brings(self, moment: Moment) -> float:
        """Return how many new faults that matter a repair itself is expected to bring."""
        found = 0.0
        for change in moment.changes:
            if isinstance(change, Repaired):
                for plan, matrix in self._kept.moves(self._plans, change, moment.together)[1].values():
                    if plan.matters and id(plan) in self._by_name:
                        number = self._roots.number.get(plan.id)
                        absent = plan.p if number is None else float(self._present.p_states[number, 0])
                        found += absent * (1.0 - float(matrix[0, 0]))
        return found

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

    def _run(
        self, words: Sequence[str], moment: Moment, run: Run, keys: tuple[Key, ...], changes: Sequence[ByPlan[Floats]]
    ) -> RunView:
        kept, said = self._kept, run.conditions
        facts = kept.facts.facts(moment.together, said, lead_out=moment.lead_out, first_after=moment.first_after)
        key, acts = kept.in_run(self._plans, facts, moment.together, said.load)
        asks = self._telling([word for word in words if word in self._book.signs], acts)
        if "monitor" in moment.together.has:  # whoever watches a run sees the monitor
            asks += [picture(output, stage) for output in moment.together.used for stage in STAGES]
        minutes = UNTOLD_MINUTES if said.minutes is None else said.minutes
        whole_key = (key, keys, tuple(asks), minutes)
        if whole_key not in kept.runs:
            weighing = Weighing({}, dict.fromkeys(asks, (1.0, 0.0)))
            reading = kept.readings.reading(run.id, moment.time, facts, weighing)
            eyes = kept.eyes(tuple(asks), minutes)
            kept.runs[whole_key] = RunView(kept.cells, kept.numbers, reading.base, reading.signs, eyes)
        view = kept.runs[whole_key]
        view.place(acts, lambda: composed(changes), self._placed)
        return view

    def _telling(self, signs: Sequence[str], acts: ActTable) -> list[str]:
        """Return the signs that tell most now: those that the likely faults show or hide most often."""
        if len(signs) <= MOST_SIGNS:
            return list(signs)
        _, shown, hidden = self._kept.numbers.tables()
        mass = np.bincount(acts.effect, acts.p * self._present.p_cell_of(acts.cell), len(shown))
        bits = [self._kept.effects.bit[sign] for sign in signs]
        of_sign = dict(zip(signs, mass @ ((shown | hidden)[:, bits] > 0), strict=True))
        best = sorted(signs, key=lambda sign: -of_sign[sign])[:MOST_SIGNS]
        return [sign for sign in signs if sign in best]

    def _look(
        self, moment: Moment, look: Inspect, keys: tuple[Key, ...], changes: Sequence[ByPlan[Floats]]
    ) -> ScaleView:
        kept, what = self._kept, look.what.partition(".")[0]
        key, acts = kept.in_look(self._plans, moment, what)
        whole_key = ("look", key, look.tool, keys)
        if whole_key not in kept.scales:
            words = self._book.inspections[what].seen
            weights = []
            for word in words:
                reading = kept.looks.look_reading([replace(moment, entry=replace(look, seen=word))])
                weights.append({} if reading is None else dict(reading.stop_weights))
            levels = [*sorted({stop for each in weights for stop in each} - {NO_STOP}), NO_STOP]
            says = np.array([[float(each.get(level, 0.0)) for each in weights] for level in levels])
            says /= says.sum(axis=1, keepdims=True)
            kept.scales[whole_key] = ScaleView(kept.cells, kept.numbers, words, says)
        view = kept.scales[whole_key]
        view.place(acts, lambda: composed(changes), self._placed)
        return view

    def _number(
        self, moment: Moment, entry: Measure, keys: tuple[Key, ...], changes: Sequence[ByPlan[Floats]]
    ) -> ScaleView:
        kept, what = self._kept, entry.what.partition(".")[0]
        facts = kept.facts.facts(moment.together, Conditions(load=entry.load))
        key, acts = kept.of_number(self._plans, moment, what, facts)
        whole_key = ("number", key, keys)
        if whole_key not in kept.scales:
            says = np.eye(len(STATES) + 1) * (1.0 - P_MISNOTED)
            says[:, -1] += P_MISNOTED
            kept.scales[whole_key] = ScaleView(kept.cells, kept.numbers, (*STATES, INSIDE), says)
        view = kept.scales[whole_key]
        view.place(acts, lambda: composed(changes), self._placed)
        return view

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
        keep, merged = split(mass.ravel(), MOST_JOINT_RESULTS)
        results = [(*results[n // many], each.results[n % many]) for n in keep.tolist()]
        tells = tells[:, keep // many] * each.tells[:, keep % many]
        if len(merged):
            rest = np.maximum(0.0, 1.0 - tells.sum(axis=1))
            tells = np.column_stack([tells, rest])
            results.append((OTHER,) * len(results[0]))
    return tuple(results), tells
