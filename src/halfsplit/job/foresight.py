"""What each check would show now, and what each repair would do: the log walked one entry further, with the same parts
that weigh a job, over weighted samples of how things may stand.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from halfsplit.job.acts import ActsMaker, StateActs
from halfsplit.job.asked import entries_of
from halfsplit.job.changes import Course, Moment
from halfsplit.job.conditions import FactsMaker
from halfsplit.job.corrections import apply_corrections
from halfsplit.job.effects import STAGES, Draw, Effects, joint_draw, picture
from halfsplit.job.eyes import INSIDE, OTHER, Eyes, Finding
from halfsplit.job.folded import Folded
from halfsplit.job.looks import STATES, LookMaker
from halfsplit.job.moments import Walker
from halfsplit.job.moves import MoveMaker
from halfsplit.job.readings import ReadingMaker, Weighing
from halfsplit.job.reports import UNTOLD_MINUTES
from halfsplit.job.roots import Plan, plan_roots
from halfsplit.job.strengths import Words
from halfsplit.job.totals import spread_totals
from halfsplit.job.units import OWNER, Gatherer, kind_of, number_of
from halfsplit.model.bench import Check, Repair
from halfsplit.model.book import Book
from halfsplit.model.evidence import NOTHING, Acts, Effect, Evidence, Floats, Ints, SignAsked
from halfsplit.model.job import Entry, Inspect, Job, Measure, RepairDone, Run
from halfsplit.model.machine import Conditions, Setup

P_NUMBER_SLIPS = 0.04
"""How often a number is read on the wrong side of a limit (estimate)."""

MOST_RESULTS = 12
"""Results of one reading that are told apart; the least likely are one."""

MOST_SIGNS = 6
"""Signs of one run that are told apart; the run itself tells how it ended."""

MOST_JOINT_RESULTS = 24
"""Results of one check with several readings that are told apart."""

LEAST_P = 1e-3
"""What the setup and fresh contacts do less often than this is left out of what a check may show."""


@dataclass(frozen=True)
class Worlds:
    """Distinct ways in which things may stand.

    Args:
        states: the state of each root, shape (K, R), in the order of ``evidence.roots``.
        weights: P(world), shape (K,), adding up to 1.
    """

    states: Ints
    weights: Floats


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
        touches: P(the fault does something in the run | root, state), shape (R, states).
    """

    check: Check
    entries: tuple[Entry, ...]
    used: tuple[str, ...]
    results: tuple[tuple[Finding, ...], ...]
    tells: Floats
    powers: bool
    harms: Mapping[str, Floats]
    touches: Floats


@dataclass(frozen=True)
class Mends:
    """What a repair would do.

    Args:
        repair: the repair.
        at: the part or joint that it is done to, with its number.
        goes: root id -> P(the root has no hold of the owner's machine afterwards | state), shape (states,).
        taken_out: the units that it takes out.
    """

    repair: Repair
    at: str
    goes: Mapping[str, Floats]
    taken_out: frozenset[str]


class Foresight:
    """Looks one entry ahead from the end of a log.

    Args:
        job: the job; it must fold.
        book: the fault book.
        folded: the job folded.
        worlds: how things may stand now.
    """

    def __init__(self, job: Job, book: Book, folded: Folded, worlds: Worlds) -> None:
        self._book = book
        self._evidence: Evidence = folded.evidence
        self._gatherer = Gatherer(book, [at for fault in book.faults.values() for at in fault.at if at in book.joints])
        _, log = apply_corrections(job, [])
        self._walker = Walker(job, book, self._gatherer, [])
        self._moments = [self._walker.step(2 * number, entry) for number, entry in enumerate(log, 1)]
        self._moments.append(self._walker.put_back(2 * len(log) + 2))
        self._time = 2 * len(log) + 4
        words = Words(book)
        self._effects = Effects(book)
        self._acts = ActsMaker(self._effects, words)
        self._facts_maker = FactsMaker(book)
        self._looks = LookMaker(self._effects, self._acts, words)
        self._readings = ReadingMaker(self._effects)
        self.worlds = worlds
        self._root = {root.id: number for number, root in enumerate(folded.evidence.roots)}
        self._looked = {(m.entry.what, m.entry.tool, m.stretch) for m in self._moments if isinstance(m.entry, Inspect)}
        self._steps = {check.id: self._walk_check(check) for check in book.checks.values()}
        self._repaired = {repair.id: self._walk_repair(repair) for repair in book.repairs.values()}
        ahead = [moment for steps in self._steps.values() for moment in steps]
        ahead += [moment for places in self._repaired.values() for moment, _ in places.values()]
        course = Course(self._walker.intake, (*self._moments, *ahead), self._walker.standing)
        self._plans = plan_roots(book, course, self._gatherer, folded.facts)
        self._mover = MoveMaker(book, self._plans)

    @property
    def worlds(self) -> Worlds:
        """How things may stand."""
        return self._worlds

    @worlds.setter
    def worlds(self, worlds: Worlds) -> None:
        self._worlds = worlds
        self._present = _Present(worlds.states)
        many = int(worlds.states.max(initial=0)) + 1
        self._p_states = np.stack([worlds.weights @ (worlds.states == state) for state in range(many)], axis=1)

    @property
    def standing(self) -> Setup:
        """The setup of the owner's machine as it was left."""
        return self._walker.standing[OWNER]

    @property
    def open_now(self) -> frozenset[str]:
        """The openings that were made and not yet closed: since the last power-up, or before it."""
        return frozenset(self._walker.made)

    def check(self, check: Check) -> Foreseen | None:
        """Return what a check would show, or None where it cannot be done on this machine as it stands."""
        steps = self._steps[check.id]
        plans, mover = self._plans, self._mover
        moved: dict[str, Floats] = {}
        shows: list[Shows] = []
        harms: dict[str, Floats] = {}
        used: tuple[str, ...] = ()
        powers = False
        touches = np.zeros_like(self._p_states)
        for moment in steps:
            for name, moves in mover.moves([moment], frozenset()).items():
                matrix = moves[0].matrix
                moved[name] = moved[name] @ matrix if name in moved else matrix
            match moment.entry:
                case Run():
                    powers, used = True, moment.together.used
                    shows.append(self._run(check, moment, moment.entry, plans, moved, touches))
                    harms = self._harms(plans, moved)
                case Inspect():
                    shows.append(self._look(moment, moment.entry, plans, moved))
                case Measure():
                    powers = True
                    shows.append(self._number(moment, moment.entry, plans, moved))
                case _:
                    pass
        if not shows:
            return None
        results, tells = _joint(shows, self._worlds.weights)
        return Foreseen(check, tuple(each.entry for each in shows), used, results, tells, powers, harms, touches)

    def repair(self, repair: Repair, number: str = "") -> Mends | None:
        """Return what a repair would do at one place, or None where it cannot be done."""
        at = repair.at + number
        if at not in self._repaired[repair.id]:
            return None
        moment, setup = self._repaired[repair.id][at]
        now = self._gatherer.together(setup).footholds
        before = self._gatherer.together(self.standing).footholds
        moves = self._mover.moves([moment], frozenset())
        goes: dict[str, Floats] = {}
        for plan in self._plans:
            root = self._evidence.roots[self._root[plan.id]] if plan.id in self._root else None
            if root is None or plan.all_footholds.isdisjoint(before):
                continue
            gone = np.array([1.0, *(float(plan.held(state).isdisjoint(now)) for state in plan.states)])
            after = moves[plan.id][0].matrix @ gone if plan.id in moves else gone
            if after[1:].any():
                goes[plan.id] = self._by_own_states(plan, after)
        if not goes:
            return None
        return Mends(repair, at, goes, frozenset(self.standing.slots.values()) - frozenset(setup.slots.values()))

    def numbers(self, at: str) -> tuple[str, ...]:
        """Return the numbers (".1") of a kind of part or joint in the owner's machine; ("",) where there is one."""
        kinds = self._book.joints[at].between if at in self._book.joints else (at,)
        many = next((kind for kind in kinds if self._book.kinds[kind].many), "")
        if not many:
            return ("",)
        return tuple(sorted(number_of(slot) for slot in self.standing.slots if kind_of(slot) == many))

    def _placed(self, entries: Iterable[Entry]) -> Iterable[Entry]:
        """Yield the entries of a check as this machine needs them: one look or number for each of several parts."""
        for entry in entries:
            match entry:
                case Run():
                    yield replace(entry, swaps=self._swaps(entry.swaps))
                case Inspect() | Measure():
                    names = self._book.inspections if isinstance(entry, Inspect) else self._book.measurements
                    at = names[entry.what].at
                    for number in self.numbers(at) if self._is_there(at) else ():
                        yield replace(entry, id=entry.what + number, what=entry.what + number)
                case _:
                    yield entry

    def _swaps(self, swaps: Mapping[str, str]) -> dict[str, str]:
        """Return the swaps that change something: what is not there need not be taken out."""
        filled = self.standing.slots
        return {
            slot: held
            for slot, held in swaps.items()
            if held != "out" or slot in filled or any(kind_of(name) == slot for name in filled)
        }

    def _is_there(self, at: str) -> bool:
        kinds = self._book.joints[at].between if at in self._book.joints else (at,)
        return all(self.standing.has(kind) for kind in kinds)

    def _is_known(self, look: Inspect) -> bool:
        """Return whether the same eyes looked there before, and nothing was done there since."""
        at = self._book.inspections[look.what.partition(".")[0]].at
        number = number_of(look.what)
        worked = self._walker.worked
        stretch = worked.get(at + number, 0) + (worked.get(at, 0) if number else 0)
        return (look.what, look.tool, stretch) in self._looked

    def _walk_check(self, check: Check) -> list[Moment]:
        """Return the moments of a check's entries; none where it cannot be done on this machine as it stands."""
        walker = self._walker.aside()
        steps: list[Moment] = []
        for entry in self._placed(entries_of(check, self._book)):
            if not (isinstance(entry, Inspect) and self._is_known(entry)):
                steps.append(walker.step(self._time + 2 * len(steps), entry))
        return [] if walker.mistakes else steps

    def _walk_repair(self, repair: Repair) -> dict[str, tuple[Moment, Setup]]:
        """Return, for each place at which a repair can be done, its moment and the setup that it leaves."""
        found = {}
        for number in self.numbers(repair.at) if self._is_there(repair.at) else ():
            walker = self._walker.aside()
            moment = walker.step(self._time, RepairDone("repair", do=repair.id, to=repair.at + number))
            if not walker.mistakes:
                found[repair.at + number] = (moment, walker.standing[OWNER])
        return found

    def _by_own_states(self, plan: Plan, values: Floats) -> Floats:
        """Return values by a plan's states as values by the states of its root, which may have fewer."""
        names = {state.name: number for number, state in enumerate(plan.states, 1)}
        states = self._evidence.roots[self._root[plan.id]].states
        return np.array([values[0], *(values[names[name]] if name in names else 0.0 for name in states[1:])])

    def _run(
        self,
        check: Check,
        moment: Moment,
        run: Run,
        plans: Sequence[Plan],
        moved: Mapping[str, Floats],
        touches: Floats,
    ) -> Shows:
        facts = self._facts_maker.facts(
            moment.together, run.conditions, lead_out=moment.lead_out, first_after=moment.first_after
        )
        at_work = moment.together.at_work(self._book.loads[run.conditions.load].rests)
        acts = {plan.id: self._acts.in_run(plan, facts, at_work) for plan in plans}
        asks = self._telling([word for word in check.asks if word in self._book.signs], plans, acts)
        if "monitor" in moment.together.has:  # whoever watches a run sees the monitor
            asks += [picture(output, stage) for output in moment.together.used for stage in STAGES]
        reading = self._readings.reading(run.id, moment.time, facts, Weighing({}, dict.fromkeys(asks, (1.0, 0.0))))
        minutes = UNTOLD_MINUTES if run.conditions.minutes is None else run.conditions.minutes
        eyes = Eyes(self._effects, asks, minutes)
        relevant = 0
        for sign in reading.signs:
            relevant |= 1 << sign.bit | sign.screens
        draws = self._draws(plans, acts, moved, relevant)
        for (root, state), draw in draws.by_state.items():
            if state < touches.shape[1]:
                touches[root, state] = min(1.0, sum(p for p, _ in draw))
        results, tells = self._tell(
            draws, reading.base, reading.signs, lambda stop, visible: {eyes.seen(stop, visible): 1.0}
        )
        return Shows(run, results, tells)

    def _telling(self, signs: Sequence[str], plans: Sequence[Plan], acts: Mapping[str, StateActs | None]) -> list[str]:
        """Return the signs that tell most now: those that the likely faults show or hide most often."""
        mass = dict.fromkeys(signs, 0.0)
        for plan in plans:
            own = acts[plan.id]
            if own is None or plan.id not in self._root:
                continue
            p_states = self._p_states[self._root[plan.id]]
            for state, each in enumerate(own):
                if each is not None and state < len(p_states) and p_states[state] > 0.0:
                    for p, effect in each.outcomes:
                        moved = effect.shown | effect.hidden
                        for sign in signs if moved else ():
                            if moved >> self._effects.bit[sign] & 1:
                                mass[sign] += p * float(p_states[state])
        best = sorted(signs, key=lambda sign: -mass[sign])[:MOST_SIGNS]
        return [sign for sign in signs if sign in best and mass[sign] >= LEAST_P]

    def _look(self, moment: Moment, look: Inspect, plans: Sequence[Plan], moved: Mapping[str, Floats]) -> Shows:
        what = look.what.partition(".")[0]
        weights: dict[str, Mapping[int, Floats | float]] = {}
        for word in self._book.inspections[what].seen:
            reading = self._looks.look_reading([replace(moment, entry=replace(look, seen=word))])
            if reading is not None:
                weights[word] = reading.stop_weights

        def told(stop: int, _: Sequence[bool]) -> dict[Finding, float]:
            p = {word: float(weight.get(stop, 0.0)) for word, weight in weights.items()}
            return {word: each / sum(p.values()) for word, each in p.items()}

        acts = {plan.id: self._looks.look_acts(plan, moment, what) for plan in plans}
        results, tells = self._tell(self._draws(plans, acts, moved, 0), ((1.0, NOTHING),), (), told)
        return Shows(look, results, tells)

    def _number(self, moment: Moment, entry: Measure, plans: Sequence[Plan], moved: Mapping[str, Floats]) -> Shows:
        what = entry.what.partition(".")[0]
        facts = self._facts_maker.facts(moment.together, Conditions(load=entry.load))

        def told(stop: int, _: Sequence[bool]) -> dict[Finding, float]:
            state = STATES[stop] if stop < len(STATES) else INSIDE
            return {state: 1.0} if state == INSIDE else {state: 1.0 - P_NUMBER_SLIPS, INSIDE: P_NUMBER_SLIPS}

        acts = {plan.id: self._looks.number_acts(plan, moment, what, facts) for plan in plans}
        results, tells = self._tell(self._draws(plans, acts, moved, 0), ((1.0, NOTHING),), (), told)
        return Shows(entry, results, tells)

    def _draws(
        self, plans: Sequence[Plan], acts: Mapping[str, StateActs | None], moved: Mapping[str, Floats], relevant: int
    ) -> "_Draws":
        """Return what each state of each root does, after the work that leads there; and what comes of that work."""
        by_state: dict[tuple[int, int], Draw] = {}
        fresh: list[Draw] = []
        for plan in plans:
            own = acts[plan.id]
            if own is None:
                continue
            matrix = moved.get(plan.id)
            draws = [self._cut(each, relevant) for each in own]
            if plan.id not in self._root:
                start = np.array([1.0 - plan.p, *(plan.p * state.share for state in plan.states)])
                fresh.append(_mixed(start if matrix is None else start @ matrix, draws))
                continue
            number = self._root[plan.id]
            names = {name: state for state, name in enumerate(self._evidence.roots[number].states)}
            for place, state in enumerate(plan.states, 1):
                if state.name in names:
                    draw = draws[place] if matrix is None else _mixed(matrix[place], draws)
                    if draw:
                        by_state[number, names[state.name]] = draw
            if matrix is not None and matrix[0, 0] < 1.0:
                fresh.append(_mixed(matrix[0], draws))
        return _Draws(by_state, tuple(draw for draw in fresh if sum(p for p, _ in draw) >= LEAST_P))

    def _cut(self, acts: Acts | None, relevant: int) -> Draw:
        """Return what acts do, with what is not asked for left out."""
        if acts is None:
            return ()
        found: dict[Effect, float] = {}
        for p, effect in acts.outcomes:
            kept = self._effects.effect(effect.stop, effect.shown & relevant, effect.hidden & relevant)
            if kept != NOTHING:
                found[kept] = found.get(kept, 0.0) + p
        return tuple((p, effect) for effect, p in found.items())

    def _tell(
        self,
        draws: "_Draws",
        base: Draw,
        signs: Sequence[SignAsked],
        told: Callable[[int, Sequence[bool]], Mapping[Finding, float]],
    ) -> tuple[tuple[Finding, ...], Floats]:
        """Return the results of a reading and P(result | world), with the least likely results as one.

        Args:
            draws: what the roots do.
            base: what the setup itself does.
            signs: the signs asked for.
            told: from a stop and the signs that are visible, what is told of it, with its chances.
        """
        whole = base
        for draw in draws.fresh:
            whole = tuple((p, effect) for p, effect in joint_draw([whole, draw]) if p >= LEAST_P)
        groups = self._present.group(draws.by_state)
        totals = spread_totals(whole, groups.draws, groups.members, signs)
        rows = [told(int(stop), visible) for stop, visible in zip(totals.stops, totals.visible.tolist(), strict=True)]
        every = {result: number for number, result in enumerate(dict.fromkeys(r for row in rows for r in row))}
        says = np.zeros((len(rows), len(every)))
        for number, row in enumerate(rows):
            for result, p in row.items():
                says[number, every[result]] = p
        p = totals.p @ says
        mass = np.bincount(groups.of, weights=self._worlds.weights, minlength=len(p)) @ p
        keep, merged = _kept(mass, MOST_RESULTS)
        tells = np.column_stack([p[:, keep], p[:, merged].sum(axis=1)]) if len(merged) else p[:, keep]
        results = tuple(every)
        names: tuple[Finding, ...] = tuple(results[n] for n in keep) + ((OTHER,) if len(merged) else ())
        return names, (tells / tells.sum(axis=1, keepdims=True))[groups.of]

    def _harms(self, plans: Sequence[Plan], moved: Mapping[str, Floats]) -> dict[str, Floats]:
        """Return P(a unit is harmed | world) by the work so far."""
        found: dict[str, Floats] = {}
        for plan in plans:
            if plan.id not in self._root or plan.id not in moved or not plan.victims:
                continue
            for unit in plan.victims:
                hit = np.array([0.0, *(float(any(v.unit == unit for v in s.victims)) for s in plan.states)])
                p = np.where(hit > 0, 0.0, moved[plan.id] @ hit)
                if p.any():
                    of_state = self._by_own_states(plan, p)
                    harmed = of_state[self._worlds.states[:, self._root[plan.id]]]
                    found[unit] = 1.0 - (1.0 - found.get(unit, np.zeros(len(harmed)))) * (1.0 - harmed)
        return found


@dataclass(frozen=True)
class _Draws:
    """What each (root, state) does, and what fresh contacts, lent parts and the work itself do in every world."""

    by_state: Mapping[tuple[int, int], Draw]
    fresh: tuple[Draw, ...]


@dataclass(frozen=True)
class _Groups:
    """Worlds in which the same things happen: the group of each world, shape (K,), and the draws of each group."""

    of: Ints
    draws: tuple[Draw, ...]
    members: tuple[tuple[int, ...], ...]


class _Present:
    """The faults that are there in each world, world by world."""

    def __init__(self, states: Ints) -> None:
        world, root = np.nonzero(states)
        self._worlds, self._roots = states.shape
        self._state = states[world, root].astype(np.int64)
        self._root = root.astype(np.int64)
        self._starts = np.searchsorted(world, np.arange(self._worlds))
        self._is_empty = np.bincount(world, minlength=self._worlds) == 0
        self._many = int(states.max(initial=0)) + 1

    def group(self, by_state: Mapping[tuple[int, int], Draw]) -> _Groups:
        """Return the worlds grouped by what happens in them."""
        number: dict[Draw, int] = {}
        table = np.zeros((self._roots, self._many), dtype=np.int64)
        for (root, state), draw in by_state.items():
            if state < self._many:
                table[root, state] = number.setdefault(draw, len(number) + 1)
        draws: tuple[Draw, ...] = tuple(number)
        acting = table[self._root, self._state]
        mark = np.random.default_rng(0).integers(1, 2**62, size=len(draws) + 1, dtype=np.int64)
        mark[0] = 0
        sums = np.zeros(self._worlds, dtype=np.int64)
        if len(acting):
            starts = np.minimum(self._starts, len(acting) - 1)
            sums = np.where(self._is_empty, 0, np.add.reduceat(mark[acting], starts))
        _, first, of = np.unique(sums, return_index=True, return_inverse=True)
        members = []
        for world in first:
            end = self._starts[world + 1] if world + 1 < self._worlds else len(acting)
            here = acting[self._starts[world] : end] if not self._is_empty[world] else acting[:0]
            members.append(tuple(int(n) - 1 for n in here if n))
        return _Groups(of.ravel(), draws, tuple(members))


def _mixed(weights: Floats, draws: Sequence[Draw]) -> Draw:
    """Return the mixture of draws by weights; what is missing to 1 does nothing."""
    found: dict[Effect, float] = {}
    for weight, draw in zip(weights.tolist(), draws, strict=True):
        if weight > 0.0:
            for p, effect in draw:
                found[effect] = found.get(effect, 0.0) + weight * p
    return tuple((p, effect) for effect, p in found.items())


def _kept(mass: Floats, most: int) -> tuple[Ints, Ints]:
    """Return which results to keep, in their order, and which to put together as the least likely."""
    if len(mass) <= most:
        return np.arange(len(mass)), np.arange(0)
    order = np.argsort(-mass, kind="stable")
    return np.sort(order[: most - 1]), np.sort(order[most - 1 :])


def _joint(shows: Sequence[Shows], weights: Floats) -> tuple[tuple[tuple[Finding, ...], ...], Floats]:
    """Return the joint results of several readings of one check, independent in each world."""
    results: list[tuple[Finding, ...]] = [()]
    tells = np.ones((len(weights), 1))
    for each in shows:
        results = [(*before, result) for before in results for result in each.results]
        tells = (tells[:, :, None] * each.tells[:, None, :]).reshape(len(weights), -1)
        keep, merged = _kept(weights @ tells, MOST_JOINT_RESULTS)
        rest = [tells[:, merged].sum(axis=1)] if len(merged) else []
        tells = np.column_stack([tells[:, keep], *rest])
        results = [results[n] for n in keep] + ([(OTHER,) * (len(results[0]))] if len(merged) else [])
    return tuple(results), tells


def _bits(mask: int) -> list[int]:
    return [1 << n for n in range(mask.bit_length()) if mask >> n & 1]
