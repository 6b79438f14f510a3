"""The advice held against a good bench routine and simple policies, on drawn machines whose truth is not the book.

    ./dev bench advice [MACHINES] [PROCESSES] [FILE]
    ./dev bench advice times

First the generator's settings, then each policy by class of complaint, where the routine wins most and how, the exact
optimum on small models, and how long one ranking takes in the middle of a job of twenty readings.  The advice and the
routine play all machines, the simple policies and a long search (``search.py``) the first of them.  What was played is
kept in FILE, and is not played again when the same is asked with the same file; a file holds for one state of the
program.  The second way tells the times alone.
"""

import sys
import time
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
from modest import be_modest
from optimum import hold
from played import play_wanted
from search import FIRSTS, PLACES, SEARCH
from yardstick import yardstick

from halfsplit.cli.simulate import lines_of
from halfsplit.errors import ImpossibleReadingsError
from halfsplit.job.advise import Adviser, advise_on, fold_and_weigh
from halfsplit.job.kept import Kept
from halfsplit.model.arrays import Floats
from halfsplit.model.book import Book
from halfsplit.model.job import Inspect, Job, Measure, Run
from halfsplit.model.rates import Rates
from halfsplit.plan import HAND_BACK, REPLACE
from halfsplit.simulate import POLICIES, Played, Task, mean_cents, mean_needless, of_policy
from halfsplit.simulate.benches import Bench
from halfsplit.simulate.playing import ADVICE, ROUTINE, spare_the_collector

MACHINES = 400
FIRST = 60
"""Machines that the simple policies and the long search play as well."""
PROCESSES = 2
SEED = 20_26
"""Frozen before any policy was run."""

OPTIMUM_SEEDS = range(100)
WORST = 5
TIMES = 2_000
"""How often the machines are drawn anew for an interval."""

TIMED_JOBS = 20
READINGS = 20
_EURO = 100.0


def optimum_figures() -> tuple[float, float]:
    """Return the mean and the 95th percentile of advised over best cost on small models, one step ahead."""
    models = [hold(seed) for seed in OPTIMUM_SEEDS]
    ratios = [each.advised[0] / each.best for each in models if each.first[0] not in (HAND_BACK, REPLACE)]
    return float(np.mean(ratios)), float(np.percentile(ratios, 95))


def milliseconds() -> tuple[list[float], list[float]]:
    """Return how long a ranking of all checks and repairs takes in the middle of jobs of twenty readings.

    Without the weighing.  Then the same with what follows: the reasons, and what each result of the best would mean.
    What the advice before the last reading needed is kept, as the app keeps it; and as in its process that ranks Python
    does not look through the book for what is gone.
    """
    spare_the_collector()
    task = Task(1, SEED + 1)
    ranked: list[float] = []
    told: list[float] = []
    number = 0
    while len(ranked) < TIMED_JOBS:
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
        adviser = Adviser(after[0], book, *after[1:], Rates(), kept)
        ranked.append(1000.0 * (time.perf_counter() - begin))
        adviser.advice("", None)
        told.append(1000.0 * (time.perf_counter() - begin))
    return ranked, told


def tell_times() -> float:
    """Tell how long a ranking takes, and return the 95th percentile, in ms."""
    ranked, told = milliseconds()
    print(yardstick())
    for what, each in (("a ranking", ranked), ("with its reasons", told)):
        median, p95 = np.percentile(each, [50, 95])
        print(f"{what:<18} mean {np.mean(each):5.0f}   median {median:5.0f}   p95 {p95:5.0f} ms   of {len(each)}")
    return float(np.percentile(ranked, 95))


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


def ratio(ours: Sequence[Played], theirs: Sequence[Played]) -> tuple[float, float, float]:
    """Return what one policy costs over another on the same machines, with its interval."""
    return over(cents_of(ours), cents_of(theirs))


def closed(ours: Sequence[Played], simple: Sequence[Played], search: Sequence[Played]) -> tuple[float, float, float]:
    """Return how much of the gap between a simple policy and the search is closed, with its interval."""
    return over(cents_of(simple) - cents_of(ours), cents_of(simple) - cents_of(search))


def cents_of(results: Sequence[Played]) -> Floats:
    """Return what each machine cost, in cents."""
    return np.array([each.cents for each in results])


def over(one: Floats, other: Floats) -> tuple[float, float, float]:
    """Return the sum of one over that of another, with a 95 % interval by drawing the machines anew."""
    again = np.random.default_rng(SEED).integers(len(one), size=(TIMES, len(one)))
    low, high = np.percentile(one[again].sum(axis=1) / other[again].sum(axis=1), (2.5, 97.5))
    return float(one.sum() / other.sum()), float(low), float(high)


def show(results: Sequence[Played]) -> None:
    """Print what each policy came to, and the advice over the routine by class of complaint."""
    print("\n".join(lines_of(results, list(dict.fromkeys(each.policy for each in results)))))
    for name in ("", *dict.fromkeys(each.complaint for each in results)):
        ours, theirs = (of_policy(results, policy, name) for policy in (ADVICE, ROUTINE))
        found, low, high = ratio(ours, theirs)
        parts = ", ".join(f"{mean_needless(each):.2f}" for each in (ours, theirs))
        of = f"{name or 'all'} ({len(ours)})"
        print(f"advice over routine, {of}: {found:.2f} ({low:.2f} to {high:.2f}); needless parts {parts}")


def main() -> None:
    words = sys.argv[1:]
    if words == ["times"]:
        print(f"figure: p95_ms={tell_times():.0f}")
        return
    many, processes = (int(word) for word in (*words[:2], *(MACHINES, PROCESSES)[len(words[:2]) :]))
    file = Path(words[2]) if len(words) > 2 else None
    task = Task(many, SEED)
    print(f"{many} machines from seed {SEED}: {task.drawing}", flush=True)
    simple = [policy for policy in POLICIES if policy not in (ADVICE, ROUTINE)]
    wanted = [(policy, number) for number in range(many) for policy in (ADVICE, ROUTINE)]
    wanted += [(policy, number) for number in range(min(many, FIRST)) for policy in (*simple, SEARCH)]
    results = play_wanted(task, wanted, processes=processes, file=file)
    all_of_them = [each for each in results if each.policy in (ADVICE, ROUTINE)]
    show(all_of_them)
    first = [each for each in results if each.number < FIRST]
    print(
        f"\nthe first {min(many, FIRST)} of them, with a search of {FIRSTS} first steps and {PLACES} places after each:"
    )
    show(first)
    print("\nwhere the routine wins most:")
    print("\n".join(lost(all_of_them)), flush=True)
    best = min((of_policy(first, policy) for policy in simple), key=mean_cents)
    part, low, high = closed(*(of_policy(first, policy) for policy in (ADVICE, best[0].policy, SEARCH)))
    print(f"of the gap between {best[0].policy} and the search the advice closes {part:.2f} ({low:.2f} to {high:.2f})")
    needless = [mean_needless(of_policy(all_of_them, policy)) for policy in (ADVICE, ROUTINE)]
    optimum_ratio, optimum_p95 = optimum_figures()
    p95_ms = tell_times()
    print(
        f"\nfigure: optimum_ratio={optimum_ratio:.4f} optimum_p95={optimum_p95:.4f}"
        f" routine_ratio={ratio(*(of_policy(all_of_them, policy) for policy in (ADVICE, ROUTINE)))[0]:.3f}"
        f" best_simple_ratio={ratio(of_policy(first, ADVICE), best)[0]:.3f}"
        f" wasted_parts_ratio={needless[0] / max(needless[1], 1e-9):.3f}"
        f" p95_ms={p95_ms:.0f}"
    )


if __name__ == "__main__":
    be_modest()
    main()
