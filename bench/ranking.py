"""How long it takes to rank everything that can be done next, on made-up situations as large as a whole book's.

One thread, CPU time; each situation is ranked once before it is timed.
"""

import resource
import time

import numpy as np
from modest import be_modest
from numpy.random import Generator

from halfsplit.model.arrays import Bools, Floats
from halfsplit.plan import Action, Opening, Situation, rank_actions

SEEDS = range(30)
SAMPLES = 1700
FAULTS = 120
CHECKS = 110
REPAIRS = 110
OPENINGS = 16


def draw_situation(seed: int) -> Situation:
    """Draw a situation: sampled worlds with one fault or a few, checks that see some of them, repairs that cure one."""
    rng = np.random.default_rng([97, seed])
    worlds = draw_worlds(rng)
    openings = tuple(
        Opening(
            f"o{n}",
            float(rng.uniform(50, 2000)),
            inside=f"o{rng.integers(n)}" if n and rng.random() < 0.6 else "",
            stays=bool(rng.random() < 0.7),
        )
        for n in range(OPENINGS)
    )
    actions = [draw_check(n, worlds, rng) for n in range(CHECKS)]
    for n in range(REPAIRS):
        cures = np.zeros(FAULTS)
        cures[n % FAULTS] = rng.uniform(0.7, 1.0)
        cures[rng.integers(FAULTS, size=rng.integers(0, 3))] = rng.uniform(0.1, 0.6)
        cents = float(rng.uniform(200, 20_000))
        actions.append(Action(f"r{n}", cents, place(rng), True, cures=cures, recheck=0.2 * cents))
    weights = rng.exponential(size=len(worlds))
    return Situation(
        weights / weights.sum(),
        worlds,
        tuple(actions),
        comeback=15_000.0,
        replacing=45_000.0,
        openings=openings,
        shows=rng.uniform(0.8, 1.0, FAULTS),
    )


def draw_worlds(rng: Generator) -> Bools:
    """Draw distinct sets of faults, one fault in half of them; some come ten times as often as others."""
    p = rng.lognormal(sigma=1.5, size=FAULTS)
    worlds = np.zeros((SAMPLES, FAULTS), dtype=bool)
    for row in worlds:
        row[rng.choice(FAULTS, size=rng.choice([1, 1, 2, 2, 3, 4]), replace=False, p=p / p.sum())] = True
    return np.unique(worlds, axis=0)


def draw_check(number: int, worlds: Bools, rng: Generator) -> Action:
    """Draw a check with 3 to 8 results: each fault that it sees pulls towards one of them."""
    results = int(rng.integers(3, 9))
    pull = np.where(rng.random(FAULTS) < 0.15, rng.uniform(1.0, 4.0, FAULTS), 0.0)
    towards = np.eye(results)[rng.integers(1, results, FAULTS)]
    score = worlds @ (pull[:, None] * towards)
    tells: Floats = np.exp(score + 3.0 * (np.arange(results) == 0))
    tells /= tells.sum(axis=1, keepdims=True)
    damage = rng.uniform(0, 50) * (worlds @ (rng.random(FAULTS) < 0.05))
    return Action(
        f"c{number}", float(rng.uniform(20, 2000)) + damage, place(rng), bool(rng.random() < 0.4), tells=tells
    )


def place(rng: Generator) -> str:
    return f"o{rng.integers(OPENINGS)}" if rng.random() < 0.6 else ""


def milliseconds(situation: Situation, **how: int) -> float:
    rank_actions(situation, **how)
    begin = time.process_time()
    rank_actions(situation, **how)
    return 1000.0 * (time.process_time() - begin)


def main() -> None:
    situations = [draw_situation(seed) for seed in SEEDS]
    worlds = np.median([len(situation.weights) for situation in situations])
    print(
        f"{len(situations)} situations of about {worlds:.0f} worlds, {FAULTS} faults, {CHECKS} checks,"
        f" {REPAIRS} repairs"
    )
    p95 = {}
    for name, how in (("one step", {}), ("two steps, best 6", {"depth": 2, "width": 6})):
        ms = np.array([milliseconds(situation, **how) for situation in situations])
        p95[name] = float(np.percentile(ms, 95))
        print(f"  {name:18s}  median {np.median(ms):5.0f} ms   p95 {p95[name]:5.0f} ms   max {ms.max():5.0f} ms")
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"figure: ranking_p95_ms={p95['one step']:.0f} two_steps_p95_ms={p95['two steps, best 6']:.0f}"
        f" ranking_peak_mb={peak_mb:.0f}"
    )


if __name__ == "__main__":
    be_modest()
    main()
