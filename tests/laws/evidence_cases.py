"""Drawn evidence: a small world with two to four true faults, and truthful reports of its runs.

The reports are drawn from the model, so the readings are always possible.  Everything comes from one
seed: the same seed gives the same case for ever.
"""

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from hypothesis import settings
from hypothesis import strategies as st
from numpy.random import Generator

from halfsplit.model.arrays import Floats
from halfsplit.model.evidence import Acts, Context, Effect, Evidence, Move, Reading, Root, SignAsked
from halfsplit.model.ladder import NO_STOP

SEEDS = st.integers(min_value=0, max_value=2**32 - 1)
"""Law tests draw a seed; the case is made from it."""

STEADY_RUNS = settings(derandomize=True, deadline=None, max_examples=40)
"""The same cases at each run of the tests."""

LAST_STOP = 5
CHANCES = (0.005, 0.03, 0.1, 0.3, 0.5, 0.8, 0.97)
THINGS = ("board", "supply", "card", "card-board")


@dataclass(frozen=True)
class Size:
    """How large the drawn cases are; each pair is least and most.

    Args:
        roots: how many faults.
        patterns: how many present states for each fault.
        readings: how many reports.
        contexts: how many shared variables.
        moves: how many log entries move something; each moves one or two roots.
        p_touched: how often a root acts in a reading at all.
        p_repeated: how often a reading is of two or three equal runs.
        is_steady: every effect is certain, and every report is hard.
        p_void: how often a report may be void.
    """

    roots: tuple[int, int] = (2, 5)
    patterns: tuple[int, int] = (1, 2)
    readings: tuple[int, int] = (2, 5)
    contexts: tuple[int, int] = (0, 2)
    moves: tuple[int, int] = (0, 3)
    p_touched: float = 0.8
    p_repeated: float = 0.3
    is_steady: bool = False
    p_void: float = 0.3


SMALL = Size()
"""Small enough to enumerate."""

FEW = Size(roots=(2, 4), readings=(2, 4))
"""Small enough for a law that asks many questions of each case."""

JOB = Size((8, 14), (1, 3), (5, 8), (0, 1), (1, 4), p_touched=0.3, p_repeated=0.1, p_void=0.0)
"""Too large to enumerate; the engine still does it without pruning."""

RICH_JOB = Size((8, 14), (1, 3), (6, 10), (0, 1), (1, 4), p_touched=0.6, p_void=0.0)
"""The engine has to prune."""

STEADY = Size(moves=(0, 1), is_steady=True, p_void=0.0)
"""Every run shows the same."""


@dataclass(frozen=True)
class Sign:
    """One sign of the drawn world: its bit, the stop that it needs, its screens as bits."""

    bit: int
    needs_stop: int
    screens: tuple[int, ...] = ()


@dataclass(frozen=True)
class Case:
    """Evidence, and what was true when it was drawn.

    Args:
        evidence: the question.
        final_states: the true state of each root at the end.
        context_values: the true value of each context.
    """

    evidence: Evidence
    final_states: tuple[int, ...]
    context_values: tuple[int, ...]


@dataclass(frozen=True)
class World:
    """What a case is drawn in.

    Args:
        rng: where every draw comes from.
        size: how large.
        contexts: the shared variables.
        truth: context id -> the number of its true value.
        signs: all signs that there are.
    """

    rng: Generator
    size: Size
    contexts: tuple[Context, ...]
    truth: dict[str, int]
    signs: list[Sign]


def draw_case(seed: int, size: Size = SMALL) -> Case:
    """Draw a world, let it run, and report what it showed."""
    rng = np.random.default_rng(seed)
    contexts = draw_contexts(rng, size)
    truth = {context.id: int(rng.choice(len(context.p), p=context.p)) for context in contexts}
    world = World(rng, size, contexts, truth, draw_signs(rng))
    times = np.cumsum(rng.integers(0, 2, size=between(rng, size.readings))).tolist()
    blank = [Reading(f"reading{place}", time, draw_base(world)) for place, time in enumerate(times)]
    roots = tuple(draw_root(world, f"fault{place}", blank) for place in range(between(rng, size.roots)))
    roots = draw_moves(world, roots, times[-1])

    paths = [draw_path(world, root, start) for root, start in zip(roots, draw_start(world, roots), strict=True)]
    readings = []
    for reading in blank:
        states = [path_state(root, path, reading.time) for root, path in zip(roots, paths, strict=True)]
        runs = between(rng, (2, 3)) if is_so(rng, world.size.p_repeated) else 1
        totals = [draw_total(rng, roots, states, reading) for _ in range(runs)]
        readings.append(draw_report(world, reading, totals))
    return Case(
        Evidence(contexts, roots, tuple(readings), {"rarely": 0.5, "often": 0.7}),
        tuple(path[-1] for path in paths),
        tuple(truth.values()),
    )


def between(rng: Generator, least_and_most: tuple[int, int]) -> int:
    return int(rng.integers(least_and_most[0], least_and_most[1] + 1))


def chance(rng: Generator) -> float:
    return float(rng.choice(CHANCES))


def is_so(rng: Generator, p: float) -> bool:
    return bool(rng.random() < p)


def some(rng: Generator, things: Iterable[int], most: int) -> list[int]:
    listed = list(things)
    return sorted(rng.choice(listed, size=min(between(rng, (0, most)), len(listed)), replace=False).tolist())


def mask(bits: Iterable[int]) -> int:
    return sum(1 << bit for bit in bits)


def shares(rng: Generator, parts: int) -> Floats:
    """Positive shares in sixty-fourths, so that they add up to exactly 1."""
    cuts = np.sort(rng.choice(np.arange(1, 64), size=parts - 1, replace=False))
    return np.diff(np.concatenate([[0], cuts, [64]])) / 64


# --- the world ---------------------------------------------------------------------------------------


def draw_contexts(rng: Generator, size: Size) -> tuple[Context, ...]:
    contexts = []
    for place in range(between(rng, size.contexts)):
        p = shares(rng, between(rng, (2, 3)))
        contexts.append(
            Context(f"context{place}", tuple(f"value{value}" for value in range(len(p))), tuple(p.tolist()))
        )
    return tuple(contexts)


def some_contexts(rng: Generator, contexts: tuple[Context, ...], p: float) -> tuple[Context, ...]:
    """Each context with probability p, in any order."""
    return tuple(contexts[place] for place in rng.permutation(len(contexts)) if is_so(rng, p))


def for_each_value(given: tuple[Context, ...], draw: Callable[[], Floats | float]) -> Floats:
    """One drawn array for each joint value of some contexts."""
    shape = [len(context.values) for context in given]
    drawn = [np.asarray(draw()) for _ in range(math.prod(shape))]
    return np.array(drawn).reshape(*shape, *drawn[0].shape)


def draw_signs(rng: Generator) -> list[Sign]:
    """Two pictures, and a few signs of which some are seen only on a picture."""
    bits = rng.choice(30, size=between(rng, (4, 6)), replace=False).tolist()
    pictures = [Sign(bit, int(rng.integers(1, 4))) for bit in bits[:2]]
    others = [
        Sign(
            bit,
            int(rng.integers(0, LAST_STOP)),
            tuple(bits[: between(rng, (1, 2))]) if is_so(rng, 0.4) else (),
        )
        for bit in bits[2:]
    ]
    return pictures + others


def draw_effect(rng: Generator, signs: list[Sign]) -> Effect:
    bits = [sign.bit for sign in signs]
    return Effect(
        int(rng.integers(0, LAST_STOP + 1)) if is_so(rng, 0.4) else NO_STOP,
        mask(some(rng, bits, 2)),
        mask(some(rng, bits, 2)) if is_so(rng, 0.5) else 0,
    )


def draw_base(world: World) -> tuple[tuple[float, Effect], ...]:
    """The signs that are on by default, and now and then a leak."""
    rng, signs = world.rng, world.signs
    on = Effect(shown=mask(sign.bit for sign in signs if is_so(rng, 0.5)))
    if world.size.is_steady or is_so(rng, 0.5):
        return ((1.0, on),)
    leak = 1 / 8 if is_so(rng, 0.5) else 1 / 256
    parts = shares(rng, between(rng, (1, 2)))
    return ((1 - leak, on), *((float(leak * part), on | draw_effect(rng, signs)) for part in parts))


def draw_acts(world: World) -> Acts:
    rng, signs = world.rng, world.signs
    if world.size.is_steady or is_so(rng, 0.3):
        return Acts(((1.0, draw_effect(rng, signs)),), "always")
    q = 1.0 if is_so(rng, 0.3) else chance(rng)
    parts = shares(rng, between(rng, (1, 3)))
    return Acts(tuple((float(q * part), draw_effect(rng, signs)) for part in parts), "often")


def draw_root(world: World, name: str, readings: list[Reading]) -> Root:
    rng = world.rng
    patterns = between(rng, world.size.patterns)

    def start() -> Floats:
        present = chance(rng) * shares(rng, patterns)
        if patterns > 1 and is_so(rng, 0.3):
            present[-1] = 0  # a state that only a move can reach
        return np.array([1 - present.sum(), *present])

    def in_state(state: int) -> Acts | None:
        if is_so(rng, 0.9 if state == 0 else 0.2):
            return None
        return draw_acts(world)

    given = some_contexts(rng, world.contexts, 0.4)
    held = (frozenset(), *(frozenset(THINGS[i] for i in some(rng, range(4), 2)) for _ in range(patterns)))
    return Root(
        id=name,
        states=("absent", *(f"pattern{state}" for state in range(1, patterns + 1))),
        start=for_each_value(given, start),
        acts={
            reading.id: tuple(in_state(state) for state in range(patterns + 1))
            for reading in readings
            if is_so(rng, world.size.p_touched)
        },
        given=tuple(context.id for context in given),
        word="rarely",
        held=() if is_so(rng, 0.2) else held,
    )


def draw_matrix(rng: Generator, states: int) -> Floats:
    """One way in which a log entry can change a root."""
    patterns = states - 1
    kind = rng.choice(["reseat", "cure", "disturb", "replace", "harm"])
    matrix = np.eye(states)
    if kind == "reseat":  # gone, or back in any pattern, or worked loose
        s, r = chance(rng), chance(rng)
        matrix[1:, 0], matrix[1:, 1:] = s, (1 - s) / patterns
        matrix[0, 0], matrix[0, 1:] = 1 - r, r / patterns
    elif kind == "cure":
        s = 1.0 if is_so(rng, 0.3) else chance(rng)
        matrix[1:, 0] = s
        matrix[1:, 1:] *= 1 - s
    elif kind == "disturb":
        r = chance(rng)
        matrix[0, 0], matrix[0, 1:] = 1 - r, r * shares(rng, patterns)
    elif kind == "replace":  # another part: what it is now has nothing to do with what was
        r = chance(rng)
        matrix[:, 0], matrix[:, 1:] = 1 - r, r * shares(rng, patterns)
    else:  # the last pattern is the harm that the others may do
        p = chance(rng)
        matrix[1:-1] *= 1 - p
        matrix[1:-1, -1] += p
    return matrix


def draw_moves(world: World, roots: tuple[Root, ...], last_time: int) -> tuple[Root, ...]:
    rng, contexts = world.rng, world.contexts
    moves: dict[int, list[Move]] = {}
    for time in sorted(rng.integers(0, last_time + 2, size=between(rng, world.size.moves)).tolist()):
        for place in rng.choice(len(roots), size=between(rng, (1, 2)), replace=False).tolist():
            given = some_contexts(rng, contexts, 0.5)
            matrix = for_each_value(given, partial(draw_matrix, rng, len(roots[place].states)))
            moves.setdefault(place, []).append(Move(time, matrix, tuple(context.id for context in given)))
    return tuple(replace(root, moves=tuple(moves.get(place, ()))) for place, root in enumerate(roots))


# --- what happened in it -----------------------------------------------------------------------------


def draw_start(world: World, roots: tuple[Root, ...]) -> list[int]:
    """Two to four faults are there, in a pattern that they can start with."""
    rng = world.rng
    faults = rng.choice(len(roots), size=min(between(rng, (2, 4)), len(roots)), replace=False).tolist()
    states = [0] * len(roots)
    for place in faults:
        start = roots[place].start[tuple(world.truth[name] for name in roots[place].given)].copy()
        start[0] = 0
        states[place] = int(rng.choice(len(start), p=start / start.sum()))
    return states


def draw_path(world: World, root: Root, start: int) -> list[int]:
    """The state at the start and after each move."""
    path = [start]
    for move in root.moves:
        row = move.matrix[tuple(world.truth[name] for name in move.given)][path[-1]]
        path.append(int(world.rng.choice(len(row), p=row / row.sum())))
    return path


def path_state(root: Root, path: list[int], time: int) -> int:
    return path[sum(move.time <= time for move in root.moves)]


def draw_total(rng: Generator, roots: tuple[Root, ...], states: list[int], reading: Reading) -> Effect:
    total = draw_outcome(rng, reading.base)
    for root, state in zip(roots, states, strict=True):
        acts = root.acts.get(reading.id, (None,) * len(root.states))[state]
        if acts is not None:
            total |= draw_outcome(rng, acts.outcomes)
    return total


def draw_outcome(rng: Generator, pairs: tuple[tuple[float, Effect], ...]) -> Effect:
    left = rng.random()
    for p, effect in pairs:
        left -= p
        if left < 0:
            return effect
    return Effect()


def shows(total: Effect, sign: Sign, signs: list[Sign]) -> bool:
    needs = {other.bit: other.needs_stop for other in signs}

    def is_on(bit: int) -> bool:
        return bool((total.shown & ~total.hidden) >> bit & 1) and total.stop >= needs[bit]

    return is_on(sign.bit) and (not sign.screens or any(is_on(screen) for screen in sign.screens))


def draw_report(world: World, reading: Reading, totals: list[Effect]) -> Reading:
    """Report what all these runs showed alike; some signs are left unasked, some reports are unsure."""
    rng, signs = world.rng, world.signs
    given = () if world.size.is_steady else some_contexts(rng, world.contexts, 0.4)
    true_place = tuple(world.truth[context.id] for context in given)

    def weights() -> tuple[Floats | float, Floats | float]:
        """P(this word | it is so) and P(this word | it is not so)."""
        if world.size.is_steady or is_so(rng, 0.5):
            return 1.0, 0.0
        if not given or is_so(rng, 0.4):
            return 0.95, float(rng.choice((0.05, 0.3)))
        right = for_each_value(given, lambda: rng.choice((1.0, 0.9, 0.5, 0.0)))
        right[true_place] = max(right[true_place], 0.5)
        return right, for_each_value(given, lambda: rng.choice((0.0, 0.1, 0.5)))

    asked = []
    needs = {sign.bit: sign.needs_stop for sign in signs}
    for sign in signs:
        visible = {shows(total, sign, signs) for total in totals}
        if len(visible) == 1 and is_so(rng, 0.6):
            right, wrong = weights()
            if_visible, if_not = (right, wrong) if visible == {True} else (wrong, right)
            asked.append(
                SignAsked(
                    sign.bit,
                    sign.needs_stop,
                    if_visible,
                    if_not,
                    mask(sign.screens),
                    tuple((screen, needs[screen]) for screen in sign.screens),
                )
            )
    stop_weights: dict[int, Floats | float] = {}
    other_stops: Floats | float = 1.0
    if is_so(rng, 0.7):
        right, wrong = weights()
        stops = [total.stop for total in totals]
        first = min(stops) - int(rng.integers(0, 2))
        last = max(stops) + int(rng.integers(0, 2))
        if is_so(rng, 0.2):  # "it got at least that far"
            stop_weights, other_stops = dict.fromkeys(range(first), wrong), right
        else:
            named = [stop for stop in (*range(LAST_STOP + 1), NO_STOP) if first <= stop <= last]
            stop_weights, other_stops = dict.fromkeys(named, right), wrong
    p_void, if_void = (0.02, 0.1) if world.size.p_void and is_so(rng, world.size.p_void) else (0.0, 0.0)
    return replace(
        reading,
        stop_weights=stop_weights,
        other_stops=other_stops,
        signs=tuple(asked),
        count=len(totals),
        p_void=p_void,
        if_void=if_void,
        given=tuple(context.id for context in given),
    )
