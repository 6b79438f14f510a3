"""Drawn small models for the planner: every set of faults is a world, everything from one seed.

Costs spread over two orders of magnitude; checks look at some faults, miss some and raise false alarms; repairs cure
one fault or a few, not always; openings lie inside one another and may have to be closed for a power-up.
"""

import numpy as np
from numpy.random import Generator

from halfsplit.model.arrays import Bools, Floats
from halfsplit.plan import Action, Opening, Situation
from halfsplit.plan.optimum import every_set

CENTS = (1_00.0, 100_00.0)
"""What actions and openings cost, in cents; in every second model checks and openings are cheap and repairs dear."""

CHEAP = (1_00.0, 20_00.0)
DEAR = (10_00.0, 100_00.0)
ENDS = (50_00.0, 1000_00.0)
"""What a comeback and another machine cost, in cents."""


def draw_situation(seed: int, *, most_faults: int = 7, most_actions: int = 8) -> Situation:
    """Draw a small model."""
    rng = np.random.default_rng([20261126, seed])
    faults = int(rng.integers(2, most_faults + 1))
    sets = every_set(faults)
    cheap, dear = (CENTS, CENTS) if seed % 2 else (CHEAP, DEAR)
    openings = tuple(
        Opening(
            f"opening {n}",
            cents(cheap, rng),
            inside=f"opening {rng.integers(n)}" if n and rng.random() < 0.5 else "",
            stays=bool(rng.random() < 0.5),
        )
        for n in range(rng.integers(0, 4))
    )
    places = ["", *(opening.id for opening in openings)]
    checks = int(rng.integers(1, most_actions - 2))
    repairs = int(rng.integers(2, most_actions - checks + 1))
    actions = [draw_check(f"check {n}", cents(cheap, rng), sets, places, rng) for n in range(checks)]
    actions += [draw_repair(f"repair {n}", cents(dear, rng), n % faults, faults, places, rng) for n in range(repairs)]
    return Situation(
        draw_weights(sets, rng),
        sets,
        tuple(actions),
        comeback=cents(ENDS, rng),
        replacing=cents(ENDS, rng),
        openings=openings,
        open_now=frozenset(opening.id for opening in openings if not opening.inside and rng.random() < 0.1),
    )


def cents(within: tuple[float, float], rng: Generator) -> float:
    return float(np.exp(rng.uniform(*np.log(within))))


def draw_weights(sets: Bools, rng: Generator) -> Floats:
    """One fault at a time, or several that come independently; now and then none at all."""
    faults = sets.shape[1]
    p = rng.dirichlet(np.full(faults, 1.0)) * rng.choice([0.3, 1.0, 2.0])
    p = np.minimum(p, 0.9)
    weights = np.where(sets, p, 1.0 - p).prod(axis=1)
    if rng.random() < 0.4:
        weights = np.where(sets.sum(axis=1) == 1, sets @ p, 0.0)
    weights[0] = weights[1:].sum() * rng.choice([0.0, 0.0, 0.1])
    return weights / weights.sum()


def draw_check(name: str, own: float, sets: Bools, places: list[str], rng: Generator) -> Action:
    faults = sets.shape[1]
    kind = rng.choice(["look", "measure", "run"])
    if kind == "run":  # it stops at the first fault that acts, or at none
        order, acts = rng.permutation(faults)[: rng.integers(1, 4)], rng.choice([0.7, 0.95, 1.0])
        passes = np.ones(len(sets))
        columns = []
        for fault in order:
            columns.append(passes * np.where(sets[:, fault], acts, 0.0))
            passes = passes - columns[-1]
        tells = np.stack([*columns, passes], axis=1)
    else:
        sees = np.where(rng.random(faults) < 0.5, rng.choice([0.6, 0.9, 1.0], faults), 0.0)
        false_alarm = rng.choice([0.0, 0.02, 0.1])
        quiet = (1.0 - false_alarm) * np.where(sets, 1.0 - sees, 1.0).prod(axis=1)
        tells = np.stack([1.0 - quiet, quiet], axis=1)
        if kind == "measure":  # one time in five it cannot be told
            tells = np.concatenate([tells * 0.8, np.full((len(sets), 1), 0.2)], axis=1)
    return Action(name, own, str(rng.choice(places)), powers=kind == "run", tells=tells)


def draw_repair(name: str, own: float, fault: int, faults: int, places: list[str], rng: Generator) -> Action:
    cures = np.where(rng.random(faults) < 0.2, rng.choice([0.3, 0.7, 1.0], faults), 0.0)
    cures[fault] = rng.choice([0.8, 1.0])
    recheck = own * float(rng.uniform(0.1, 0.6)) if rng.random() < 0.5 else 0.0
    return Action(name, own, str(rng.choice(places)), powers=bool(rng.random() < 0.8), cures=cures, recheck=recheck)
