"""A drawn machine at work: what its runs, looks and numbers show, and what work and power-ups do to it.

Everything is drawn from what the fold of a job makes of the same entry with the truth's book: the setup by the same
walk, what each fault does by the same acts, what becomes of it by the same matrices.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.random import Generator

from halfsplit.job.acts import ActsMaker, StateActs
from halfsplit.job.changes import Course, Moment
from halfsplit.job.conditions import FactsMaker, RunFacts
from halfsplit.job.effects import Draw, Effects
from halfsplit.job.eyes import Eyes
from halfsplit.job.findings import STATES, RunSeen
from halfsplit.job.looks import LookMaker
from halfsplit.job.moments import Walker
from halfsplit.job.moves import MoveMaker
from halfsplit.job.pictures import STAGES, picture
from halfsplit.job.plans import Plans
from halfsplit.job.readings import ReadingMaker, Weighing
from halfsplit.job.reports import UNTOLD_MINUTES
from halfsplit.job.roots import Plan, plan_roots
from halfsplit.job.strengths import Words
from halfsplit.job.units import OWNER, Foothold, Together, gatherer_of
from halfsplit.model.arrays import Floats
from halfsplit.model.book import Book
from halfsplit.model.evidence import NOTHING, Acts, Effect, Reading
from halfsplit.model.job import Entry, Inspect, Job, Measure, RepairDone, Run
from halfsplit.model.ladder import NO_STOP
from halfsplit.model.machine import Conditions, Setup

ABSENT = ""
"""The name of the state of a root that is not there."""

States = Mapping[str, str]
"""Root id -> the name of the state that it is in; what is not named is absent."""


@dataclass(frozen=True)
class Shown:
    """What one run showed.

    Args:
        seen: what could be seen of it.
        sound: what would have been seen without the faults that matter.
        used: the outputs that the monitor was on.
        asks: the signs and pictures that were looked at.
    """

    seen: RunSeen
    sound: RunSeen
    used: tuple[str, ...]
    asks: tuple[str, ...]


class Nature:
    """What the faults of a truth's book do, for one machine.

    Args:
        job: the machine, with all of its facts told.
        book: the truth's book.
        facts: what is so of the machine.
        rng: the source of chance.
    """

    def __init__(self, job: Job, book: Book, facts: Mapping[str, object], rng: Generator) -> None:
        self.book = book
        self.rng = rng
        self.gatherer = gatherer_of(book)
        self.walker = Walker(job, book, self.gatherer, [])
        words = Words(book)
        self.effects = Effects(book)
        self.acts = ActsMaker(self.effects, words)
        self.facts_maker = FactsMaker(book)
        self.looks = LookMaker(self.effects, self.acts, words, are_exact=True)
        self.readings = ReadingMaker(self.effects)
        self._facts = facts
        self.plans = self.plans_of(())

    def plans_of(self, moments: Sequence[Moment]) -> dict[str, Plan]:
        """Return root id -> the root, after what was done so far."""
        course = Course(self.walker.intake, tuple(moments), self.walker.standing)
        return {plan.id: plan for plan in plan_roots(self.book, course, self.gatherer, self._facts)}

    def asked(self, words: Sequence[str], together: Together) -> tuple[str, ...]:
        """Return the signs and pictures that are looked at in a run; whoever sees the monitor sees its pictures."""
        asks = [word for word in words if word in self.book.signs]
        if "monitor" in together.has:
            asks += [picture(output, stage) for output in together.used for stage in STAGES]
        return tuple(asks)

    def question(self, name: str, asks: Sequence[str], facts: RunFacts) -> Reading:
        """Return a run as a reading that asks for signs and pictures, with what the setup itself does."""
        return self.readings.reading(name, 0, facts, Weighing({}, dict.fromkeys(asks, (1.0, 0.0))))

    def own_effect(self, reading: Reading) -> Effect:
        """Draw what the setup itself does in a run."""
        return self.draw(reading.base)

    def effect(self, plan: Plan, state: str, facts: RunFacts, at_work: frozenset[Foothold]) -> Effect:
        """Draw what a root in one state does in a run; ``at_work`` is what is at work in it."""
        return self.draw_acts(plan, state, self.acts.in_run(plan, facts, at_work))

    def draw_acts(self, plan: Plan, state: str, acts: StateActs | None) -> Effect:
        """Draw what a root in one state does, of what each state may do."""
        own: Acts | None = None if acts is None else acts[number_of_state(plan, state)]
        return NOTHING if own is None else self.draw(own.outcomes)

    def draw(self, draw: Draw) -> Effect:
        """Draw one effect; what is missing to 1 does nothing."""
        left = self.rng.random()
        for p, effect in draw:
            left -= p
            if left < 0.0:
                return effect
        return NOTHING


def number_of_state(plan: Plan, name: str) -> int:
    """Return the number of a root's state; harm that there is no room for is left out, 0 = all of it."""
    names = {"": 0} | {state.name: number for number, state in enumerate(plan.states, 1)}
    while name not in names:
        name = name.rpartition("+")[0]
    return names[name]


class World:
    """One machine on the bench, with what is truly wrong with it.

    Args:
        nature: what its faults do.
        states: what is wrong with it at intake.

    Attributes:
        states: what is wrong with it now, with the bench's own parts that were used.
        harmed: the units that were harmed on the bench, in order.
    """

    def __init__(self, nature: Nature, states: States) -> None:
        self._nature = nature
        self._moments: list[Moment] = []
        self.states = dict(states)
        self.harmed: list[str] = []
        self.plans = dict(nature.plans)
        self._known = set(self.plans)
        self._looks: dict[tuple[object, ...], list[Moment]] = {}

    @property
    def standing(self) -> Setup:
        """The setup of the owner's machine as it was left."""
        return self._nature.walker.standing[OWNER]

    @property
    def output(self) -> str:
        """The output that the monitor is on, or ""."""
        return next(iter(self._nature.gatherer.used_outputs(self.standing)), "")

    def can_do(self, entries: Sequence[Entry]) -> bool:
        """Return whether entries can be done on this machine as it stands."""
        walker = self._nature.walker.aside()
        for number, entry in enumerate(entries):
            walker.step(self._time() + 2 * number, entry)
        return not walker.mistakes

    def is_known(self, look: Inspect) -> bool:
        """Return whether the same eyes looked there before, and nothing was done there since."""
        return self._key(self._nature.walker.aside().step(self._time(), look), look) in self._looks

    def run(self, run: Run, words: Sequence[str]) -> Shown:
        """Do a run, and return what it showed; ``words`` are the signs that are looked at."""
        nature = self._nature
        moment = self._step(run)
        together = moment.together
        facts = nature.facts_maker.facts(
            together, run.conditions, lead_out=moment.lead_out, first_after=moment.first_after
        )
        asks = nature.asked(words, together)
        reading = nature.question(run.id, asks, facts)
        sound = total = nature.own_effect(reading)
        at_work = together.at_work(nature.book.loads[run.conditions.load].rests)
        for name, state in self.states.items():
            plan = self.plans[name]
            effect = nature.effect(plan, state, facts, at_work)
            total = total | effect
            sound = sound if plan.matters else sound | effect
        minutes = UNTOLD_MINUTES if run.conditions.minutes is None else run.conditions.minutes
        eyes = Eyes(nature.effects, asks, minutes)
        seen, fine = (eyes.seen(t.stop, [sign.is_visible(t) for sign in reading.signs]) for t in (total, sound))
        return Shown(seen, fine, together.used, asks)

    def look(self, look: Inspect) -> str:
        """Do a look, and return the word for what was seen; what these eyes missed once they miss again."""
        nature = self._nature
        moment = self._step(look)
        what = look.what.partition(".")[0]
        level = NO_STOP
        for name, state in self.states.items():
            acts = nature.looks.look_acts(self.plans[name], moment, what)
            level = min(level, nature.draw_acts(self.plans[name], state, acts).stop)
        before = self._looks.setdefault(self._key(moment, look), [])
        words = nature.book.inspections[what].seen
        weights = np.array([self._p_seen([*before, _saying(moment, look, word)], level) for word in words])
        word = words[int(nature.rng.choice(len(words), p=weights / weights.sum()))]
        before.append(_saying(moment, look, word))
        return word

    def number(self, entry: Measure) -> str:
        """Take a number, and return where it lies: ``absent``, ``low``, ``high`` or "" for inside."""
        nature = self._nature
        moment = self._step(entry)
        facts = nature.facts_maker.facts(moment.together, Conditions(load=entry.load))
        level = NO_STOP
        for name, state in self.states.items():
            acts = nature.looks.number_acts(self.plans[name], moment, entry.what.partition(".")[0], facts)
            level = min(level, nature.draw_acts(self.plans[name], state, acts).stop)
        return STATES[level] if level < len(STATES) else ""

    def do(self, entry: Entry) -> None:
        """Do a repair, or change the setup."""
        self._step(entry)

    def left(self) -> tuple[str, ...]:
        """Return the faults that matter and have a hold of the owner's machine now."""
        now = self._nature.gatherer.together(self.standing).footholds
        return tuple(name for name, held in self._held() if self.plans[name].matters and not held.isdisjoint(now))

    def is_bad(self, unit: str) -> bool:
        """Return whether any fault has a hold of a part itself."""
        return any(unit in held for _, held in self._held())

    def _held(self) -> list[tuple[str, frozenset[object]]]:
        found = []
        for name, state in self.states.items():
            plan = self.plans[name]
            number = number_of_state(plan, state)
            if number and not (plan.fault and plan.fault.is_normal):
                found.append((name, frozenset[object](plan.held(plan.states[number - 1]))))
        return found

    def _time(self) -> int:
        return 2 * len(self._moments) + 2

    def _key(self, moment: Moment, look: Inspect) -> tuple[object, ...]:
        return look.what, look.on, look.tool, moment.looked_at, moment.stretch

    def _p_seen(self, looks: Sequence[Moment], level: int) -> float:
        reading = self._nature.looks.look_reading(looks)
        return 0.0 if reading is None else float(np.asarray(reading.stop_weights[level]))

    def _step(self, entry: Entry) -> Moment:
        """Do one entry: new contacts and lent parts may be bad, and every root moves as its matrix says."""
        nature, rng = self._nature, self._nature.rng
        moment = nature.walker.step(self._time(), entry)
        self._moments.append(moment)
        self.plans = nature.plans_of(self._moments)
        for name in [name for name in self.plans if name not in self._known]:
            plan = self.plans[name]
            if rng.random() < plan.p:
                self.states[name] = plan.states[_pick(rng, [state.share for state in plan.states])].name
        self._known |= self.plans.keys()
        contexts = frozenset({f"repair:{entry.id}"}) if isinstance(entry, RepairDone) else frozenset[str]()
        moves = MoveMaker(nature.book, Plans(self.plans.values())).moves([moment], contexts)
        is_proper = self._is_proper(entry)
        for name in sorted(moves):
            matrix: Floats = moves[name][0].matrix
            self._move(self.plans[name], matrix if matrix.ndim == 2 else matrix[0 if is_proper else 1])
        return moment

    def _is_proper(self, entry: Entry) -> bool:
        repair = self._nature.book.repairs[entry.do] if isinstance(entry, RepairDone) else None
        p = 1.0 if repair is None or repair.p_proper is None else repair.p_proper.p
        return bool(self._nature.rng.random() < p)

    def _move(self, plan: Plan, matrix: Floats) -> None:
        before = self.states.pop(plan.id, ABSENT)
        row = number_of_state(plan, before)
        into = _pick(self._nature.rng, matrix[row].tolist())
        if into:
            state = plan.states[into - 1]
            self.states[plan.id] = state.name
            old = {victim.unit for victim in plan.states[row - 1].victims} if row else set[str]()
            self.harmed += sorted({victim.unit for victim in state.victims} - old)


def _saying(moment: Moment, look: Inspect, word: str) -> Moment:
    return replace(moment, entry=replace(look, seen=word))


def _pick(rng: Generator, weights: Sequence[float]) -> int:
    p = np.asarray(weights, dtype=np.float64)
    return int(rng.choice(len(p), p=p / p.sum()))
