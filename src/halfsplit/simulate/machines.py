"""Machines drawn from a truth: kind, age and parts, what is wrong with them, the complaint and the story told.

A machine of a class of complaint is drawn by rejection: faults from the prior of the fold, with the events that are
true, one run at home, and kept as often as an owner puts that run into the class.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import prod
from types import MappingProxyType

import numpy as np
from numpy.random import Generator

from halfsplit.job.complaints import CLASSES
from halfsplit.job.fold import MOST_MACHINES
from halfsplit.job.machine import AGE, OWN_PICTURE, THERE, facts_of, share_of
from halfsplit.job.occurrence import events_told, start_of
from halfsplit.job.roots import Plan
from halfsplit.job.told import IN_USE_MINUTES, HomeReader, HomeRun
from halfsplit.job.units import OWNER
from halfsplit.model.arrays import Floats
from halfsplit.model.book import Book
from halfsplit.model.evidence import Effect
from halfsplit.model.job import NO, YES, Job, OwnedPart, Seen, Told
from halfsplit.model.machine import Conditions
from halfsplit.simulate.truths import forget_causes, move_book, tell_with_slips
from halfsplit.simulate.worlds import Nature, States, World


@dataclass(frozen=True)
class Drawing:
    """How machines are drawn; every number is an estimate.

    Args:
        is_book: whether the truth is the book itself: no number moved, no cause missing.
        missing: the share of the causes that the policies' book does not have.
        slips: the share of the owner's statements that are wrong, events too.
        taps: the share of the bench's own entries with something wrong in them.
        events: the mean number of events told.
        years: mean age in years; ages are gamma distributed with shape 2.
    """

    is_book: bool = False
    missing: float = 0.1
    slips: float = 0.1
    taps: float = 0.05
    events: float = 0.7
    years: float = 5.0


SETTINGS = Drawing()

PARTS: Mapping[str, float] = MappingProxyType(
    {"card": 0.6, "radio": 0.4, "optical": 0.2, "lighting": 0.15, "add_on_card": 0.1, "usb_device": 0.5}
)
"""Kind of part that a machine may have or lack -> the share that has it (estimates)."""

ASKED: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "nothing_happens": ("fans_turn", "power_light", "burnt_smell"),
        "lights_no_picture": ("fans_turn", "self_test_beep", "other_beeps"),
        "picture_then_stops": ("error_screen", "no_boot_drive_message", "start_loop"),
        "starts_misbehaves": ("artefacts", "error_screen", "fans_loud_under_load"),
        "slow_noisy_other": ("slow", "fan_rattles", "hangs_for_seconds"),
    }
)
"""Class of complaint -> the signs that every owner is asked about at the counter."""

IN_USE_LOAD = "all"
"""What a machine was busy with when it misbehaved at home."""

MOST_EVENTS = 3
MOST_TRIES = 200_000
_AGE_SHAPE = 2.0
_PARTS_BY_FACT = {("cooling", "liquid"): "pump", ("mount", "on_riser"): "riser"}


@dataclass(frozen=True)
class Drawn:
    """A drawn machine.

    Args:
        job: the job as it was taken in: what is seen at the counter, and what was told.
        book: the fault book of the policies.
        whole: the machine with everything that is so of it.
        truth: the truth's book.
        states: root id -> the state of each fault that is there at intake.
        seed: of everything that happens to it on the bench.
        taps: the share of the bench's own entries with something wrong in them.
    """

    job: Job
    book: Book
    whole: Job
    truth: Book
    states: States
    seed: tuple[int, ...]
    taps: float

    def world(self) -> World:
        """Return the machine on the bench; the same each time, whatever was done to it before."""
        rng = np.random.default_rng(self.seed)
        return World(Nature(self.whole, self.truth, facts_of(self.whole, self.truth, []), rng), self.states)


def draw_machine(book: Book, complaint: str, seed: Sequence[int], drawing: Drawing = SETTINGS) -> Drawn:
    """Draw a machine that is brought in with a class of complaint.

    Args:
        book: the shipped fault book.
        complaint: the class.
        seed: the seed of this machine.
        drawing: how machines are drawn.

    Returns:
        The same machine for the same arguments.
    """
    rng = np.random.default_rng([*seed, 0])
    truth = tell_with_slips(book if drawing.is_book else move_book(book, rng), drawing.slips)
    known = truth if drawing.is_book else forget_causes(book, drawing.missing, rng)
    whole, at_counter = _machine(book, drawing, rng)
    events = _events(book, drawing, rng)
    drawer = _Drawer(replace(whole, told=events, complaint=complaint), truth, rng)
    states, run = drawer.brought_in(complaint)
    told = (*events, *drawer.statements(complaint, run, drawing.slips))
    job = replace(at_counter, complaint=complaint, told=told)
    return Drawn(job, known, whole, truth, states, (*seed, 1), drawing.taps)


def _machine(book: Book, drawing: Drawing, rng: Generator) -> tuple[Job, Job]:
    """Return a machine with all that is so of it, and as it is seen at the counter."""
    facts: dict[str, object] = {}
    for fact in book.facts.values():
        if fact.values:
            by_value = fact.shares(facts)  # a fact stands after those that move its shares
            shares = np.array([*by_value.values()])
            facts[fact.id] = [*by_value][int(rng.choice(len(shares), p=shares / shares.sum()))]
    facts[AGE] = round(float(rng.gamma(_AGE_SHAPE, drawing.years / _AGE_SHAPE)), 1)
    has = {kind: bool(rng.random() < share) for kind, share in PARTS.items()}
    has |= {kind: facts.get(fact) == value for (fact, value), kind in _PARTS_BY_FACT.items()}
    has["riser"] = has["riser"] and has["card"]
    has = {
        kind: there and share_of(book.kinds[kind].only, facts, book) > 0.0
        for kind, there in has.items()
        if kind in book.kinds
    }
    if not has.get("card", True) and OWN_PICTURE in facts:  # nobody owns a machine that never had a picture
        facts[OWN_PICTURE] = THERE
    parts = tuple(OwnedPart(kind) for kind, there in has.items() if there and not book.kinds[kind].default)
    missing = tuple(kind for kind, there in has.items() if not there)
    whole = Job("drawn", MappingProxyType(facts), parts, missing)
    asked = {fact for check in book.checks.values() for fact in check.only}
    asked |= {fact for repair in book.repairs.values() for fact in repair.only}
    seen = {name: value for name, value in facts.items() if name in {"kind", AGE, OWN_PICTURE} | asked}
    return whole, replace(whole, machine=MappingProxyType(seen))


def _events(book: Book, drawing: Drawing, rng: Generator) -> tuple[Told, ...]:
    many = min(MOST_EVENTS, int(rng.poisson(drawing.events)))
    names = sorted(rng.choice(sorted(book.events), size=many, replace=False).tolist())
    return tuple(Told(f"told_{number}", event=name) for number, name in enumerate(names, 1))


class _Drawer:
    """Draws what is wrong with one machine, and its run at home.

    Args:
        job: the machine, with the events told and the class of complaint.
        book: the truth's book.
        rng: the source of chance.
    """

    def __init__(self, job: Job, book: Book, rng: Generator) -> None:
        self._book = book
        self._rng = rng
        facts = facts_of(job, book, [])
        self._nature = Nature(job, book, facts, rng)
        self._home = self._nature.gatherer.together(self._nature.walker.intake[OWNER])
        self._events = events_told(job.told, book)
        self._plans = [plan for plan in self._nature.plans.values() if plan.at_intake]
        names = frozenset(event.context for event in self._events)
        self._starts = [start_of(plan, self._events, names, facts, book) for plan in self._plans]
        in_use = CLASSES[job.complaint].in_use
        self._conditions = Conditions(load=IN_USE_LOAD, minutes=IN_USE_MINUTES) if in_use else Conditions()
        self._run = self._class_run(job.complaint)
        self._question = self._nature.question("home", self._asks(job.complaint), self._run.facts)

    def brought_in(self, complaint: str) -> tuple[States, Effect]:
        """Return what is wrong with a machine of this class, and what its run at home came to."""
        for _ in range(MOST_TRIES):
            states = self._states()
            if not any(_is_reason(self._nature.plans[name]) for name in states):
                continue
            total = self._nature.own_effect(self._question)
            for name, state in states.items():
                plan = self._nature.plans[name]
                total = total | self._nature.effect(plan, state, self._run.facts, self._home.footholds)
            if self._rng.random() < self._p_class(total):
                return MappingProxyType(states), total
        raise AssertionError(f"no machine of class {complaint} in {MOST_TRIES} tries")

    def statements(self, complaint: str, total: Effect, slips: float) -> tuple[Told, ...]:
        """Return what the owner answers when asked about the run at home."""
        found = []
        signs = [sign for sign in self._question.signs if sign.bit in self._bits(complaint)]
        for number, (name, sign) in enumerate(zip(self._signs(complaint), signs, strict=True), 1):
            is_so = sign.is_visible(total) != bool(self._rng.random() < slips)
            seen = Seen(signs=MappingProxyType({name: YES if is_so else NO}))
            found.append(Told(f"said_{number}", seen=seen, conditions=self._conditions))
        return tuple(found)

    def _signs(self, complaint: str) -> tuple[str, ...]:
        return tuple(name for name in ASKED[complaint] if name in self._book.signs)

    def _bits(self, complaint: str) -> set[int]:
        return {self._nature.effects.bit[name] for name in self._signs(complaint)}

    def _asks(self, complaint: str) -> tuple[str, ...]:
        """Return the signs that are asked about, and the pictures that the class speaks of."""
        return self._nature.asked(self._signs(complaint), self._home)

    def _class_run(self, complaint: str) -> HomeRun:
        """Return the reading that the class alone is, of the run that the statements are of."""
        reader = HomeReader(self._nature.effects, self._nature.facts_maker, self._home)
        told = (Told("said_0", seen=Seen(), conditions=self._conditions),)
        return reader.home_runs(told, complaint)[0]

    def _p_class(self, total: Effect) -> float:
        """Return how often an owner puts a run into the class, up to a factor."""
        reading = self._run.reading
        stop = reading.stop_weights.get(total.stop, reading.other_stops)
        signs = (sign.if_visible if sign.is_visible(total) else sign.if_not for sign in reading.signs)
        return prod(float(np.asarray(weight).flat[0]) for weight in (stop, *signs))

    def _states(self) -> dict[str, str]:
        """Draw the events that are true and the faults that are there."""
        is_false = {event.context: int(self._rng.random() >= event.p) for event in self._events}
        draws = self._rng.random(len(self._plans))
        states = {}
        for plan, (start, given), draw in zip(self._plans, self._starts, draws.tolist(), strict=True):
            row: Floats = start[tuple(is_false[name] for name in given)]
            if draw >= row[0]:
                state = int(np.searchsorted(np.cumsum(row), draw, side="right"))
                states[plan.id] = plan.states[min(state, len(plan.states)) - 1].name
        return states


def _is_reason(plan: Plan) -> bool:
    """Return whether a machine may be brought in because of a root: what most machines have is none."""
    return not (plan.fault is not None and plan.fault.is_normal and plan.fault.base.p > MOST_MACHINES)
