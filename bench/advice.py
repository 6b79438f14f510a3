"""The advice held against a good bench routine and simple policies, on drawn machines whose truth is not the book.

    ./dev bench advice [MACHINES] [PROCESSES]

First the generator's settings, then each policy by class of complaint, where the routine wins most and how, the exact
optimum on small models, and how long one ranking takes in the middle of a job of twenty readings.
"""

import os

for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[name] = "1"

import sys  # noqa: E402 - numpy reads the above when it is loaded
import time  # noqa: E402
from collections.abc import Sequence  # noqa: E402
from dataclasses import replace  # noqa: E402
from pathlib import Path  # noqa: E402

import numpy as np  # noqa: E402

sys.path.insert(0, str(Path(__file__).parent))
from optimum import hold  # noqa: E402

from halfsplit.cli.simulate import lines_of  # noqa: E402
from halfsplit.errors import ImpossibleReadingsError  # noqa: E402
from halfsplit.job.advise import advise_on, fold_and_weigh  # noqa: E402
from halfsplit.job.kept import Kept  # noqa: E402
from halfsplit.model.book import Book  # noqa: E402
from halfsplit.model.job import Inspect, Job, Measure, Run  # noqa: E402
from halfsplit.plan import HAND_BACK, REPLACE  # noqa: E402
from halfsplit.plan.rates import Rates  # noqa: E402
from halfsplit.simulate import POLICIES, Played, Task, mean_cents, mean_needless, of_policy, play_all  # noqa: E402
from halfsplit.simulate.benches import Bench  # noqa: E402
from halfsplit.simulate.playing import ADVICE, ROUTINE  # noqa: E402

MACHINES = 400
PROCESSES = 2
SEED = 20_26
"""Frozen before any policy was run."""

OPTIMUM_SEEDS = range(100)
WORST = 5
TIMED_JOBS = 20
READINGS = 20
_EURO = 100.0


def optimum_figures() -> tuple[float, float]:
    """Return the mean and the 95th percentile of advised over best cost on small models, one step ahead."""
    models = [hold(seed) for seed in OPTIMUM_SEEDS]
    ratios = [each.advised[0] / each.best for each in models if each.first[0] not in (HAND_BACK, REPLACE)]
    return float(np.mean(ratios)), float(np.percentile(ratios, 95))


def milliseconds() -> list[float]:
    """Return how long one ranking takes, without the weighing, in the middle of jobs of twenty readings.

    What the advice before the last reading needed is kept, as the app keeps it.
    """
    task = Task(1, SEED + 1)
    found: list[float] = []
    number = 0
    while len(found) < TIMED_JOBS:
        job, book = cut_job(task, number)
        number += 1
        if job is None:
            continue
        kept = Kept(book)
        try:
            before, after = ((each, *fold_and_weigh(each, book)) for each in (replace(job, log=job.log[:-1]), job))
        except ImpossibleReadingsError:
            continue
        advise_on(before[0], book, *before[1:], Rates(), kept=kept)
        begin = time.perf_counter()
        advise_on(after[0], book, *after[1:], Rates(), kept=kept)
        found.append(1000.0 * (time.perf_counter() - begin))
    return found


def cut_job(task: Task, number: int) -> tuple[Job | None, Book]:
    """Return the first half of a job of twenty readings by the routine, with its book; None where it was shorter."""
    bench = Bench(task.draw(number))
    while not bench.ended and _readings(bench.job) < READINGS:
        POLICIES[ROUTINE](bench)
    if _readings(bench.job) < READINGS:
        return None, bench.book
    log = list(bench.job.log)
    while _readings(replace(bench.job, log=tuple(log))) > READINGS // 2:
        log.pop()
    return replace(bench.job, log=tuple(log)), bench.book


def _readings(job: Job) -> int:
    return sum(isinstance(entry, Run | Inspect | Measure) for entry in job.log)


def lost(results: Sequence[Played]) -> list[str]:
    """Return the machines on which the routine was cheapest beside the advice, with both paths."""
    ours = {each.number: each for each in of_policy(results, ADVICE)}
    theirs = of_policy(results, ROUTINE)
    lines = []
    for other in sorted(theirs, key=lambda each: each.cents - ours[each.number].cents)[:WORST]:
        own = ours[other.number]
        lines.append(f"machine {own.number} ({own.complaint}): {', '.join(own.faults) or 'nothing that matters'}")
        for each in (own, other):
            parts = f"time {each.time / _EURO:.0f}, parts {each.parts / _EURO:.0f}, end {each.end / _EURO:.0f}"
            lines.append(f"  {each.policy} {each.cents / _EURO:.0f} ({parts}): {'; '.join(each.path)}")
    return lines


def main() -> None:
    many, processes = (int(word) for word in (*sys.argv[1:], *(MACHINES, PROCESSES)[len(sys.argv) - 1 :]))
    task = Task(many, SEED)
    print(f"{many} machines from seed {SEED}: {task.drawing}", flush=True)
    results = play_all(task, processes=processes)
    print("\n".join(lines_of(results, task.policies)))
    classes = list(dict.fromkeys(each.complaint for each in results))
    by_class = {
        name: mean_cents(of_policy(results, ADVICE, name)) / mean_cents(of_policy(results, ROUTINE, name))
        for name in classes
    }
    print("advice over routine by class: " + ", ".join(f"{name} {ratio:.2f}" for name, ratio in by_class.items()))
    pairs = zip(of_policy(results, ADVICE), of_policy(results, ROUTINE), strict=True)
    gain = np.array([ours.cents - theirs.cents for ours, theirs in pairs]) / _EURO
    print(f"advice minus routine: {gain.mean():.2f} a machine, standard error {gain.std() / len(gain) ** 0.5:.2f}")
    print("\nwhere the routine wins most:")
    print("\n".join(lost(results)), flush=True)
    means = {policy: mean_cents(of_policy(results, policy)) for policy in task.policies}
    simple = min(cents for policy, cents in means.items() if policy not in (ADVICE, ROUTINE))
    needless = {policy: mean_needless(of_policy(results, policy)) for policy in (ADVICE, ROUTINE)}
    ratio, p95 = optimum_figures()
    print(
        f"\nfigure: optimum_ratio={ratio:.4f} optimum_p95={p95:.4f}"
        f" routine_ratio={means[ADVICE] / means[ROUTINE]:.3f} best_simple_ratio={means[ADVICE] / simple:.3f}"
        f" wasted_parts_ratio={needless[ADVICE] / max(needless[ROUTINE], 1e-9):.3f}"
        f" p95_ms={np.percentile(milliseconds(), 95):.0f}"
    )


if __name__ == "__main__":
    main()
