"""The exact engine on drawn jobs: how fast, how much is left out, beside a general-purpose library, how it grows.

Every part runs in a process of its own, so that its memory is its own and what is too large takes nothing else along;
nothing else should run meanwhile.
"""

import json
import os
import resource
import subprocess
import sys
import time
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from drawn_jobs import AS_THE_BOOK_HAS_IT, TYPICAL, draw_job

from halfsplit.infer import Posterior, compile_readings, weigh_readings
from halfsplit.model.arrays import Floats
from halfsplit.model.evidence import Evidence

JOBS = 60
HARD_JOBS = 20
GROWTH_SEEDS = range(5)
RICH = (2, 4, 8, 12, 16, 24)
FAULTS = (50, 100, 300, 1000, 2000)
WARM_UP_SEED = 1000
"""A job that is weighed first and not counted: the app does not start anew for each reading."""

RIVAL_SEEDS = range(5)
RIVAL_RICH = 8
RIVAL_FAULTS = (10, 20, 40, 60, 80, 100, 130, 170, 220, 300)
LIMIT_S = 20.0
LIMIT_BYTES = 2 << 30
"""What one answer may take, of the library and of the engine beside it."""

BUILD_S = 10.0
"""Seconds beside ``LIMIT_S`` for starting Python and writing tables."""

JOBS_BYTES = 8 << 30
GROWTH_S = 18.0
GROWTH_BYTES = 4 << 30
"""What the drawn jobs may take; a job of the growth is also given up after ``GROWTH_S``, drawing included."""

WRITINGS = ("plain", "tree", "chain")
"""As in ``network``, which is not imported here: the library is large."""

REPEATS = 5
QUICK_MS = 500.0


def ids(evidence: Evidence) -> tuple[str, ...]:
    return tuple(reading.id for reading in evidence.readings)


def ask(posterior: Posterior) -> Posterior:
    """Ask all that the app asks after a reading."""
    _ = posterior.p_faults
    posterior.sets(20)
    posterior.samples(2000)
    return posterior


def time_after(evidence: Evidence) -> dict[str, float]:
    """Time a job after its last reading, as in the app: the readings before it are compiled already."""
    before = compile_readings(replace(evidence, readings=evidence.readings[:-1]))
    start = time.process_time()
    ms, posterior = timed(lambda: ask(weigh_readings(compile_readings(evidence, before), ids(evidence))))
    cpu_ms = (time.process_time() - start) * 1e3
    return {"after_ms": ms, "after_cpu_ms": cpu_ms, "bound_share": posterior.bound_share}


def time_both(evidence: Evidence) -> dict[str, float]:
    """Time a job after its last reading, and from nothing."""
    after = time_after(evidence)
    nothing_ms, _ = timed(lambda: ask(weigh_readings(compile_readings(evidence), ids(evidence))))
    return {**after, "nothing_ms": nothing_ms}


def timed(do: Callable[[], Any]) -> tuple[float, Any]:
    start = time.perf_counter()
    found = do()
    return (time.perf_counter() - start) * 1e3, found


# --- parts, each in its own process -------------------------------------------------------------------


def part_jobs(many: int, strengths: Mapping[float, float]) -> dict[str, object]:
    """Time the first jobs; also count the classes of their rich readings."""
    limit_memory(JOBS_BYTES)
    time_both(draw_job(WARM_UP_SEED, strengths=strengths).evidence)
    rows, classes = [], []
    for seed in range(many):
        evidence = draw_job(seed, strengths=strengths).evidence
        rows.append(time_both(evidence))
        rich = [reading for reading in evidence.readings if reading.id.startswith("run ")]
        fields = compile_readings(replace(evidence, readings=tuple(rich))).fields
        classes += [fields[reading.id][0].field.classes for reading in rich]
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return {"rows": rows, "classes": classes, "peak_mb": peak_mb}


def part_growth(rich: int, faults: int, seed: int) -> dict[str, float]:
    """Time a job of one size; beside the rich readings there are always twelve others."""
    limit_memory(GROWTH_BYTES)
    time_after(draw_job(WARM_UP_SEED).evidence)
    return time_after(draw_job(seed, faults=faults, rich=rich, readings=rich + 12).evidence)


def part_of_job(seed: int, faults: int) -> Evidence:
    """Return a drawn job of single runs with some of its 300 faults, the true ones among them."""
    drawn = draw_job(seed, patterns=1 + seed % 2, rich=RIVAL_RICH, readings=RIVAL_RICH + 2, counts=0)
    others = [root.id for root in drawn.evidence.roots if root.id not in drawn.truth]
    kept = {*drawn.truth, *others[: faults - len(drawn.truth)]}
    return replace(drawn.evidence, roots=tuple(root for root in drawn.evidence.roots if root.id in kept))


def part_ours(seed: int, faults: int, limit: int | None) -> dict[str, object]:
    """Weigh a part of a job, its readings compiled before: the median of repeats, where one is quick."""
    evidence = part_of_job(seed, faults)
    compiled = compile_readings(evidence)
    limit_memory(LIMIT_BYTES)

    def answer() -> Floats:
        return weigh_readings(compiled, ids(evidence), limit=limit).p_faults

    ms, p_faults = timed(answer)
    if ms < QUICK_MS:
        ms = float(np.median([timed(answer)[0] for _ in range(REPEATS)]))
    return {"ms": ms, "p": p_faults.tolist()}


def part_rival(seed: int, faults: int, writing: str) -> dict[str, object]:
    """The same by the library, its network written before; the median of repeats, where one is quick."""
    from network import Network  # noqa: PLC0415 - only this process needs the library, which is large

    limit_memory(LIMIT_BYTES)
    network = Network(part_of_job(seed, faults), writing)
    ms, p_faults = timed(network.p_faults)
    if ms < QUICK_MS:
        ms = float(np.median([timed(network.p_faults)[0] for _ in range(REPEATS)]))
    return {"ms": ms, "p": p_faults.tolist()}


def limit_memory(more_bytes: int) -> None:
    """Let this process take so much more than it has."""
    with open("/proc/self/statm", encoding="ascii") as file:
        own_bytes = int(file.read().split()[0]) * resource.getpagesize()
    resource.setrlimit(resource.RLIMIT_AS, (own_bytes + more_bytes, own_bytes + more_bytes))


PARTS = {
    "typical": lambda: part_jobs(JOBS, TYPICAL),
    "hard": lambda: part_jobs(HARD_JOBS, AS_THE_BOOK_HAS_IT),
    "growth": part_growth,
    "ours": lambda seed, faults: part_ours(seed, faults, 0),
    "ours_cut": lambda seed, faults: part_ours(seed, faults, None),
    "rival": part_rival,
}


class FailedPartError(Exception):
    """A part did not come to its end; says why in a few words."""


class LimitReachedError(FailedPartError):
    """A part took more time or memory than it may."""


def run_part(name: str, *args: object, limit_s: float | None = None) -> dict:
    """Run a part in its own process."""
    command = [sys.executable, __file__, json.dumps([name, *args])]
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=limit_s, check=False)
    except subprocess.TimeoutExpired:
        raise LimitReachedError("too long") from None
    if "bad_alloc" in done.stderr or "MemoryError" in done.stderr:
        raise LimitReachedError("too large")
    if done.returncode:
        why = (done.stderr.splitlines() or [f"ended by signal {-done.returncode}"])[-1]
        raise (LimitReachedError if "TooLargeError" in why else FailedPartError)(why)
    return json.loads(done.stdout)


# --- tables -------------------------------------------------------------------------------------------


def column(rows: Iterable[Mapping[str, float]], name: str) -> Floats:
    return np.array([row[name] for row in rows])


def spread(ms: Floats) -> str:
    values = (ms.min(), *np.percentile(ms, [50, 90, 95]), ms.max())
    return "  ".join(
        f"{name} {value:6.0f}" for name, value in zip(("min", "median", "p90", "p95", "max"), values, strict=True)
    )


def show_jobs(title: str, found: dict) -> tuple[float, float]:
    """Print one table of jobs; return the p95 in ms and the p95 of the bound share."""
    rows, classes = found["rows"], found["classes"]
    after, bound = column(rows, "after_ms"), column(rows, "bound_share")
    p95_bound = float(np.percentile(bound, 95))
    print(f"\n{title}: {len(rows)} jobs of 300 faults x 3 patterns, 20 readings, 8 rich failing runs")
    print(f"  after a reading, ms   {spread(after)}   over 150 ms: {(after > 150).sum()} of {len(rows)}")
    print(f"  of it CPU, ms         {spread(column(rows, 'after_cpu_ms'))}")
    print(f"  from nothing, ms      {spread(column(rows, 'nothing_ms'))}")
    print(
        f"  bound share           median {np.median(bound):.4f}  p95 {p95_bound:.4f}  max {bound.max():.4f}"
        f"   at or under 0.01: {(bound <= 0.01).mean():.0%}"
    )
    print(f"  classes of rich runs  min {min(classes)}  median {np.median(classes):.0f}  max {max(classes)}")
    print(f"  peak memory           {found['peak_mb']:.0f} MB", flush=True)
    return float(np.percentile(after, 95)), p95_bound


def show_growth() -> None:
    """Print the growth; where most jobs of a size fail, the others are not tried."""
    print("\nGrowth, median of 5 jobs: after a reading; bound share (and the largest)")
    for rich, faults in [*((rich, 300) for rich in RICH), *((8, faults) for faults in FAULTS)]:
        rows, failures = [], []
        for seed in GROWTH_SEEDS:
            if len(failures) > len(GROWTH_SEEDS) // 2:
                break
            try:
                rows.append(run_part("growth", rich, faults, seed, limit_s=GROWTH_S))
            except FailedPartError as error:
                failures.append(str(error))
        ms = np.median([*column(rows, "after_ms"), *[np.inf] * len(failures)])
        bound = column(rows, "bound_share")
        measured = f"{ms:6.0f} ms   {np.median(bound):.4f} ({bound.max():.4f})" if np.isfinite(ms) else "     -"
        print(
            f"  {faults:5d} faults {rich:3d} rich runs   {measured}   {'; '.join(dict.fromkeys(failures))}", flush=True
        )


def show_rival() -> tuple[float, float]:
    """Print the two side by side; return the ratio of times and the largest difference."""
    print(
        f"\nThe library beside the engine: {RIVAL_RICH} rich failing runs, more and more faults of one job, while some"
        f"\nwriting takes at most {LIMIT_S:.0f} s and {LIMIT_BYTES >> 30} GB; in ms, all that can be written before is."
        "\nThe engine uncut, equal to the library; and as it is used, cut to its bound."
    )
    print("  job  faults    uncut      cut |    plain     tree    chain")
    last: dict[str, list[Row]] = {"best": [], "plain": []}
    errors = [0.0]
    for seed in RIVAL_SEEDS:
        alive = {"uncut", *WRITINGS}
        done: list[Row] = []
        for faults in RIVAL_FAULTS:
            row = compare(seed, faults, alive)
            if row.best_ms is None:
                break
            done.append(row)
            errors.append(row.error)
        last["best"].append(done[-1])
        last["plain"].append([row for row in done if "plain" in row.ms][-1])
    print("  library / engine, on the largest of each job that the library still did:")
    medians = {}
    for writing, rows in last.items():
        for engine in ("uncut", "cut"):
            ratios = [row.ratio(writing, engine) for row in rows]
            medians[writing, engine] = float(np.median(ratios))
            shown = "  ".join(f"{ratio:.3g}" for ratio in ratios)
            print(f"    {writing:5s} writing / {engine:5s}   {shown}   median {medians[writing, engine]:.3g}")
    return medians["best", "uncut"], max(errors)


@dataclass(frozen=True)
class Row:
    """One size of one job.

    Args:
        ms: what answered within its limits ("uncut", "cut" and writings) -> its time.
        error: the largest difference between the uncut engine and a writing.
    """

    ms: Mapping[str, float]
    error: float

    @property
    def best_ms(self) -> float | None:
        """The time of the quickest writing."""
        return min((self.ms[name] for name in WRITINGS if name in self.ms), default=None)

    def ratio(self, writing: str, engine: str) -> float:
        """Return library / engine; an engine that reached a limit counts with ``LIMIT_S``, which flatters it."""
        return (self.best_ms if writing == "best" else self.ms[writing]) / self.ms.get(engine, LIMIT_S * 1e3)


def compare(seed: int, faults: int, alive: set[str]) -> Row:
    """Print one row; what reaches a limit leaves ``alive``."""
    found = {}
    for name in [name for name in WRITINGS if name in alive]:
        found[name] = run_limited("rival", seed, faults, name)
    if any(found.values()):
        found["cut"] = run_limited("ours_cut", seed, faults)
        found["uncut"] = run_limited("ours", seed, faults) if "uncut" in alive else None
    alive.difference_update([name for name, answer in found.items() if answer is None])
    done = {name: answer for name, answer in found.items() if answer is not None}
    cells = [f"{done[name]['ms']:9.1f}" if name in done else "        -" for name in ("uncut", "cut", *WRITINGS)]
    print(f"  {seed:3d}  {faults:6d}{''.join(cells[:2])} |{''.join(cells[2:])}", flush=True)
    error = 0.0
    if "uncut" in done:
        p = np.array(done["uncut"]["p"])
        error = max((float(np.abs(p - done[name]["p"]).max()) for name in WRITINGS if name in done), default=0.0)
    return Row({name: answer["ms"] for name, answer in done.items()}, error)


def run_limited(name: str, *args: object) -> dict | None:
    """Run a part of the comparison; None where one answer took more than ``LIMIT_S`` or ``LIMIT_BYTES``."""
    try:
        done = run_part(name, *args, limit_s=LIMIT_S + BUILD_S)
    except LimitReachedError:
        return None
    return done if done["ms"] <= LIMIT_S * 1e3 else None


def main() -> None:
    start = time.perf_counter()
    print(f"{os.cpu_count()} cores, load before: {os.getloadavg()[0]:.2f}")
    typical = run_part("typical")
    p95_ms, bound_share = show_jobs("typical", typical)
    show_jobs("hard, patterns that act as seldom as in the book", run_part("hard"))
    show_growth()
    ratio, error = show_rival()
    print(f"\n{time.perf_counter() - start:.0f} s in all, load after: {os.getloadavg()[0]:.2f}")
    print(
        f"figure: p95_ms={p95_ms:.0f} bound_share={bound_share:.4f} rival_ratio={ratio:.3g}"
        f" max_error={error:.1e} peak_mb={typical['peak_mb']:.0f}"
    )


if len(sys.argv) > 1:
    name, *args = json.loads(sys.argv[1])
    print(json.dumps(PARTS[name](*args)))
else:
    main()
