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
from dataclasses import replace
from typing import Any

import numpy as np
from drawn_jobs import AS_THE_BOOK_HAS_IT, TYPICAL, draw_job

from halfsplit.infer import Posterior, compile_readings, weigh_readings
from halfsplit.model.evidence import Evidence, Floats

JOBS = 60
HARD_JOBS = 20
GROWTH_SEEDS = range(5)
RICH = (2, 4, 8, 12, 16, 24)
FAULTS = (50, 100, 300, 1000, 2000)
WARM_UP_SEED = 1000
"""A job that is weighed first and not counted: the app does not start anew for each reading."""

RIVAL_SEEDS = range(5)
RIVAL_RICH = 8
RIVAL_FAULTS = (10, 20, 30, 40, 60, 80, 100, 130, 160, 200, 250, 300)
LIMIT_S = 20.0
LIMIT_BYTES = 2 << 30
"""What one answer may take, of the library and of the engine beside it."""

BUILD_S = 10.0
"""Seconds beside ``LIMIT_S`` for starting Python and writing tables."""

JOBS_BYTES = 8 << 30
GROWTH_S = 30.0
GROWTH_BYTES = 4 << 30
"""What the drawn jobs may take; a job of the growth is also given up after ``GROWTH_S``, drawing included."""

WRITINGS = ("plain", "tree", "chain")
"""As in ``network``, which is not imported here: the library is large."""

REPEATS = 5
QUICK_MS = 500.0


def ids(evidence: Evidence) -> tuple[str, ...]:
    return tuple(reading.id for reading in evidence.readings)


def time_job(evidence: Evidence) -> dict[str, float]:
    """Time one job after its last reading, as the app asks, and from nothing, in ms."""
    before = compile_readings(replace(evidence, readings=evidence.readings[:-1]))

    def ask(posterior: Posterior) -> Posterior:
        _ = posterior.p_faults
        posterior.sets(20)
        posterior.samples(2000)
        return posterior

    after_ms, posterior = timed(lambda: ask(weigh_readings(compile_readings(evidence, before), ids(evidence))))
    nothing_ms, _ = timed(lambda: ask(weigh_readings(compile_readings(evidence), ids(evidence))))
    return {"after_ms": after_ms, "nothing_ms": nothing_ms, "bound_share": posterior.bound_share}


def timed(do: Callable[[], Any]) -> tuple[float, Any]:
    start = time.perf_counter()
    found = do()
    return (time.perf_counter() - start) * 1e3, found


# --- parts, each in its own process -------------------------------------------------------------------


def part_jobs(many: int, strengths: Mapping[float, float]) -> dict[str, object]:
    """Time the first jobs; also count the classes of their rich readings."""
    limit_memory(JOBS_BYTES)
    time_job(draw_job(WARM_UP_SEED, strengths=strengths).evidence)
    rows = [time_job(draw_job(seed, strengths=strengths).evidence) for seed in range(many)]
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    classes = []
    for seed in range(many):
        evidence = draw_job(seed, strengths=strengths).evidence
        rich = [reading for reading in evidence.readings if reading.id.startswith("run ")]
        fields = compile_readings(replace(evidence, readings=tuple(rich))).fields
        classes += [fields[reading.id][0].field.classes for reading in rich]
    return {"rows": rows, "classes": classes, "peak_mb": peak_mb}


def part_growth(rich: int, faults: int, seed: int) -> dict[str, float]:
    """Time a job of one size; beside the rich readings there are always twelve others."""
    limit_memory(GROWTH_BYTES)
    time_job(draw_job(WARM_UP_SEED).evidence)
    return time_job(draw_job(seed, faults=faults, rich=rich, readings=rich + 12).evidence)


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


def run_part(name: str, *args: object, limit_s: float | None = None) -> dict | list | None:
    """Run a part in its own process; None when it took more time or memory than it may."""
    command = [sys.executable, __file__, json.dumps([name, *args])]
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=limit_s, check=False)
    except subprocess.TimeoutExpired:
        return None
    if done.returncode == 0:
        return json.loads(done.stdout)
    if limit_s is not None and ("bad_alloc" in done.stderr or "MemoryError" in done.stderr):
        return None
    raise SystemExit(f"the part {name} {args} failed:\n{done.stderr}")


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
    print(f"  from nothing, ms      {spread(column(rows, 'nothing_ms'))}")
    print(
        f"  bound share           median {np.median(bound):.4f}  p95 {p95_bound:.4f}  max {bound.max():.4f}"
        f"   at or under 0.01: {(bound <= 0.01).mean():.0%}"
    )
    print(f"  classes of rich runs  min {min(classes)}  median {np.median(classes):.0f}  max {max(classes)}")
    print(f"  peak memory           {found['peak_mb']:.0f} MB", flush=True)
    return float(np.percentile(after, 95)), p95_bound


def show_growth() -> None:
    print("\nGrowth, median of 5 jobs: ms after a reading, bound share (and the largest), ms from nothing")
    for rich, faults in [*((rich, 300) for rich in RICH), *((8, faults) for faults in FAULTS)]:
        found = [run_part("growth", rich, faults, seed, limit_s=GROWTH_S) for seed in GROWTH_SEEDS]
        rows = [row for row in found if row is not None]
        given_up = len(found) - len(rows)
        after_ms, nothing_ms = (
            np.median([*column(rows, name), *[np.inf] * given_up]) for name in ("after_ms", "nothing_ms")
        )
        bound = [*column(rows, "bound_share"), *[np.inf] * given_up]
        print(
            f"  {faults:5d} faults {rich:3d} rich runs   {after_ms:6.0f} ms   {np.median(bound):.4f} ({max(bound):.4f})"
            f"   {nothing_ms:6.0f} ms" + (f"   given up: {given_up}" if given_up else ""),
            flush=True,
        )


def show_rival() -> tuple[float, float]:
    """Print the two side by side; return the ratio of times and the largest difference."""
    print(
        f"\nThe library beside the engine, uncut: {RIVAL_RICH} rich failing runs, more and more faults of one job,"
        f"\nwhile some writing takes at most {LIMIT_S:.0f} s and {LIMIT_BYTES >> 30} GB; ms with all written before"
    )
    print("  job  faults    uncut      cut |    plain     tree    chain | best / uncut")
    ratios, plain_ratios, errors = [], [], [0.0]
    for seed in RIVAL_SEEDS:
        alive = set(WRITINGS)
        largest = plain_largest = None
        for faults in RIVAL_FAULTS:
            row = compare(seed, faults, alive)
            if not alive:
                break
            errors.append(row["error"])
            largest = row
            plain_largest = row if "plain" in alive else plain_largest
        ratios.append(largest["best_ms"] / largest["uncut_ms"])
        plain_ratios.append(plain_largest["plain_ms"] / plain_largest["uncut_ms"])
    print("  library / engine, on the largest that the library still did of each job:")
    for writing, found in (("best writing ", ratios), ("plain writing", plain_ratios)):
        print(f"    {writing}  {'  '.join(f'{ratio:.3g}' for ratio in found)}   median {np.median(found):.3g}")
    return float(np.median(ratios)), max(errors)


def compare(seed: int, faults: int, alive: set[str]) -> dict[str, float]:
    """Print one row; writings that fail leave ``alive``."""
    uncut = run_limited("ours", seed, faults)
    cut = run_limited("ours_cut", seed, faults)
    found = {}
    for writing in sorted(alive):
        done = run_limited("rival", seed, faults, writing)
        if done is None:
            alive.discard(writing)
        else:
            found[writing] = done
    best_ms = min((done["ms"] for done in found.values()), default=np.inf)
    uncut_ms = uncut["ms"] if uncut else LIMIT_S * 1e3
    cells = [f"{done['ms']:9.1f}" if done else "        -" for done in (uncut, cut, *map(found.get, WRITINGS))]
    ratio = f"{best_ms / uncut_ms:9.3g}" if found else "        -"
    print(f"  {seed:3d}  {faults:6d}{''.join(cells[:2])} |{''.join(cells[2:])} |{ratio}", flush=True)
    differences = [np.abs(np.array(done["p"]) - uncut["p"]).max() for done in found.values()] if uncut else []
    return {
        "best_ms": best_ms,
        "plain_ms": found["plain"]["ms"] if "plain" in found else np.inf,
        "uncut_ms": uncut_ms,
        "error": float(max(differences, default=0.0)),
    }


def run_limited(name: str, *args: object) -> dict | None:
    """Run a part of the comparison; None where one answer took more than ``LIMIT_S`` or ``LIMIT_BYTES``."""
    done = run_part(name, *args, limit_s=LIMIT_S + BUILD_S)
    return done if done and done["ms"] <= LIMIT_S * 1e3 else None


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
