"""The slow honest twin of the exact engine: literal enumeration in exact fractions.

Every joint value of the contexts, every start state of every root, every path through every move, and
for each run every joint draw of effects.  Nothing is merged, masked or dropped that could be told
apart; nothing here comes from the engine.  Only the nouns of ``halfsplit.model.evidence`` are shared.

Three things keep it usable.  Readings are independent once states and contexts are given, so a
reading's runs are enumerated on their own; equal questions are answered once; and a root's paths are
told apart only by its state in the readings that it acts in and at the end.  Fit for about five roots
with three states and five readings.
"""

from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import product
from math import prod

import numpy as np

from halfsplit.model.arrays import Floats
from halfsplit.model.evidence import NOTHING, Acts, Effect, Evidence, Reading, Root, SignAsked

Values = dict[str, int]
"""Context id -> number of its value."""

States = tuple[int, ...]
"""One state for each root, in the order of the evidence."""

ROUNDING = Fraction(1, 10**12)
"""A rest smaller than this is what is left of decimal numbers that add up to 1."""


@dataclass(frozen=True)
class Enumeration:
    """All that the readings say, as exact fractions.

    Args:
        evidence: the question.
        joint: P(these context values, these final states and all readings); only positive entries.
    """

    evidence: Evidence
    joint: dict[tuple[States, States], Fraction]

    @cached_property
    def p_readings(self) -> Fraction:
        return sum(self.joint.values(), Fraction(0))

    def p(self, is_so: Callable[[States], bool]) -> Fraction:
        """P(the final states are so | all readings)."""
        return sum((p for (_, states), p in self.joint.items() if is_so(states)), Fraction(0)) / self.p_readings

    def p_states(self, root_id: str) -> tuple[Fraction, ...]:
        place = self._place(root_id)
        total = [Fraction(0)] * len(self.evidence.roots[place].states)
        for states, p in self.final_states().items():
            total[states[place]] += p
        return tuple(total)

    def p_now(self, root_id: str) -> Fraction:
        place = self._place(root_id)
        return self.p(lambda states: states[place] != 0)

    def p_held(self, thing: str) -> Fraction:
        def is_held(states: States) -> bool:
            return any(
                root.held and thing in root.held[state] for root, state in zip(self.evidence.roots, states, strict=True)
            )

        return self.p(is_held)

    def final_states(self) -> dict[States, Fraction]:
        """P(final states | all readings)."""
        total: defaultdict[States, Fraction] = defaultdict(Fraction)
        for (_, states), p in self.joint.items():
            total[states] += p / self.p_readings
        return dict(total)

    def sets(self, n: int, least: Fraction = Fraction(2, 100)) -> tuple[tuple[frozenset[str], Fraction], ...]:
        """The n likeliest sets of faults present now, among the faults with ``p_now`` >= ``least``."""
        named = [(place, root.id) for place, root in enumerate(self.evidence.roots) if self.p_now(root.id) >= least]
        total: defaultdict[frozenset[str], Fraction] = defaultdict(Fraction)
        for states, p in self.final_states().items():
            total[frozenset(name for place, name in named if states[place] != 0)] += p
        return tuple(sorted(total.items(), key=lambda pair: pair[1], reverse=True)[:n])

    def context(self, context_id: str) -> tuple[Fraction, ...]:
        ids = [context.id for context in self.evidence.contexts]
        place = ids.index(context_id)
        return tuple(
            sum((p for (values, _), p in self.joint.items() if values[place] == value), Fraction(0)) / self.p_readings
            for value in range(len(self.evidence.contexts[place].values))
        )

    def _place(self, root_id: str) -> int:
        return [root.id for root in self.evidence.roots].index(root_id)


def enumerate_evidence(evidence: Evidence) -> Enumeration:
    """Weigh every way in which the log can have gone."""
    joint: defaultdict[tuple[States, States], Fraction] = defaultdict(Fraction)
    p_of_run: dict[tuple[str, States, States], Fraction] = {}
    for numbers in product(*(range(len(context.values)) for context in evidence.contexts)):
        values = {context.id: number for context, number in zip(evidence.contexts, numbers, strict=True)}
        p_values = prod(
            (Fraction(context.p[number]) for context, number in zip(evidence.contexts, numbers, strict=True)),
            start=Fraction(1),
        )
        for walks in product(*(paths(root, evidence.readings, values) for root in evidence.roots)):
            p = p_values * prod((p_path for _, _, p_path in walks), start=Fraction(1))
            for place, reading in enumerate(evidence.readings):
                if p == 0:
                    break
                states = tuple(seen[place] for seen, _, _ in walks)
                question = (reading.id, states, tuple(values[name] for name in reading.given))
                if question not in p_of_run:
                    p_of_run[question] = p_report(evidence.roots, reading, states, values)
                p *= p_of_run[question] ** reading.count
            if p > 0:
                joint[numbers, tuple(final for _, final, _ in walks)] += p
    return Enumeration(evidence, dict(joint))


def paths(root: Root, readings: tuple[Reading, ...], values: Values) -> list[tuple[States, int, Fraction]]:
    """Every path of one root: its state in each reading, its final state, and the path's probability.

    In a reading that it does not act in, its state is written as 0.
    """
    start = at(root.start, root.given, values, own_axes=1)
    walks: list[tuple[States, Fraction]] = [((state,), Fraction(float(p))) for state, p in enumerate(start)]
    for move in root.moves:
        matrix = at(move.matrix, move.given, values, own_axes=2)
        walks = [
            ((*walk, state), p * Fraction(float(matrix[walk[-1], state])))
            for walk, p in walks
            for state in range(len(root.states))
        ]
    total: defaultdict[tuple[States, int], Fraction] = defaultdict(Fraction)
    for walk, p in walks:
        if p > 0:
            seen = tuple(
                walk[sum(move.time <= reading.time for move in root.moves)] if reading.id in root.acts else 0
                for reading in readings
            )
            total[seen, walk[-1]] += p
    return [(seen, final, p) for (seen, final), p in total.items()]


def p_report(roots: tuple[Root, ...], reading: Reading, states: States, values: Values) -> Fraction:
    """P(one run of this reading gives this report | states, contexts): a sum over every joint draw."""
    draws = [[(Fraction(p), effect) for p, effect in reading.base if p > 0]]
    for root, state in zip(roots, states, strict=True):
        if reading.id in root.acts:
            draws.append(list(outcomes(root.acts[reading.id][state])))
    return sum(
        (
            prod((p for p, _ in draw), start=Fraction(1)) * weight_of([effect for _, effect in draw], reading, values)
            for draw in product(*draws)
        ),
        Fraction(0),
    )


def outcomes(acts: Acts | None) -> Iterator[tuple[Fraction, Effect]]:
    """What one root may do to one run, "nothing" included."""
    rest = Fraction(1)
    for p, effect in acts.outcomes if acts else ():
        rest -= Fraction(p)
        if p > 0:
            yield Fraction(p), effect
    if rest > ROUNDING:
        yield rest, NOTHING


def weight_of(effects: list[Effect], reading: Reading, values: Values) -> Fraction:
    """P(this report | these effects together)."""
    stop = min(effect.stop for effect in effects)
    weight = number(reading.stop_weights.get(stop, reading.other_stops), reading.given, values)
    for sign in reading.signs:
        is_visible = can_be_seen(sign, effects)
        weight *= number(sign.if_visible if is_visible else sign.if_not, reading.given, values)
    p_void = Fraction(reading.p_void)
    return (1 - p_void) * weight + p_void * Fraction(reading.if_void)


def can_be_seen(sign: SignAsked, effects: list[Effect]) -> bool:
    """The sign is lit, and if it is seen on a screen, one of its screens is lit as well."""
    if not is_lit(sign.bit, sign.needs_stop, effects):
        return False
    if sign.screens == 0:
        return True
    needs = dict(sign.screen_needs)
    screens = [bit for bit in range(sign.screens.bit_length()) if sign.screens >> bit & 1]
    return any(is_lit(bit, needs[bit], effects) for bit in screens)


def is_lit(bit: int, needs_stop: int, effects: list[Effect]) -> bool:
    """Somebody shows it, nobody hides it, and nothing stops the run before it."""
    shown = any(effect.shown >> bit & 1 for effect in effects)
    hidden = any(effect.hidden >> bit & 1 for effect in effects)
    stopped_before = any(effect.stop < needs_stop for effect in effects)
    return shown and not hidden and not stopped_before


def at(array: Floats, given: tuple[str, ...], values: Values, *, own_axes: int) -> Floats:
    """The part of an array that belongs to these context values."""
    part: Floats = np.asarray(array)[tuple(values[name] for name in given)]
    assert part.ndim == own_axes
    return part


def number(weight: Floats | float, given: tuple[str, ...], values: Values) -> Fraction:
    """A weight under these context values; a plain number is the same under all."""
    if np.ndim(weight) == 0:
        return Fraction(float(weight))
    return Fraction(float(at(np.asarray(weight), given, values, own_axes=0)))
