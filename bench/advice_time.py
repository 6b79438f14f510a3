"""How long one advice takes on the shipped book: cold, and after the last entry of a job that was ranked before it.

The three examples and drawn jobs of 20 readings.  One thread, CPU time.  "Advice" is all but the fold and the weighing;
these are told beside it.
"""

import time
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

import numpy as np
from modest import be_modest

from halfsplit.book import shipped_book
from halfsplit.infer import compile_readings, weigh_compiled
from halfsplit.job.advise import ANSWER_PAIRS, ANSWER_TARGET, advise_on
from halfsplit.job.fold import fold_job
from halfsplit.job.kept import Kept
from halfsplit.jobfile.parse import load_job
from halfsplit.model.book import Book
from halfsplit.model.job import Inspect, Job, Run, Seen
from halfsplit.model.rates import Rates

EXAMPLES = Path(__file__).parents[1] / "examples"
SEEDS = range(4)
READINGS = 20
LAST = 6
"""The entries at the end of each job before which and after which it is ranked."""


def draw_job(seed: int, book: Book) -> Job:
    """Draw a job of 20 readings on a machine that fails in some runs: runs, looks at places and numbers in turn."""
    rng = np.random.default_rng([41, seed])
    single = {kind.id for kind in book.kinds.values() if kind.default and not kind.many}
    looks = [
        each
        for each in book.inspections.values()
        if each.at in book.joints and single.issuperset(book.joints[each.at].between)
    ]
    log: list[Run | Inspect] = []
    for n in range(READINGS):
        if n % 2 == 0:
            ran = rng.random() < 0.7
            log.append(Run(f"run_{n}", seen=Seen(reached="log_in", stayed=True) if ran else Seen(not_reached="log_in")))
        else:
            look = looks[int(rng.integers(len(looks)))]
            log.append(Inspect(f"look_{n}", what=look.id, tool="torch", seen=look.seen[-1]))
    return Job(f"drawn {seed}", machine={"kind": "built", "age_years": 5.0}, log=tuple(log))


def jobs(book: Book) -> Iterable[Job]:
    for path in sorted(EXAMPLES.glob("*.yaml")):
        job, _ = load_job(path, book)
        assert job is not None, path
        yield job
    for seed in SEEDS:
        yield draw_job(seed, book)


def milliseconds(job: Job, book: Book, kept: Kept) -> tuple[float, float]:
    """Return the time of the fold and the weighing, and that of the advice."""
    begin = time.process_time()
    folded = fold_job(job, book)
    posterior = weigh_compiled(compile_readings(folded.evidence), limit=ANSWER_PAIRS, target=ANSWER_TARGET)
    weighed = time.process_time()
    advise_on(job, book, folded, posterior, Rates(), kept=kept)
    return 1000.0 * (weighed - begin), 1000.0 * (time.process_time() - weighed)


def main() -> None:
    book = shipped_book()
    print(f"{len(book.faults)} faults, {len(book.checks)} checks, {len(book.repairs)} repairs")
    cold, warm, fold = [], [], []
    for job in jobs(book):
        kept, many = Kept(book), len(job.log)
        cold.append(milliseconds(replace(job, log=job.log[: max(0, many - LAST)]), book, kept)[1])
        own = []
        for end in range(max(1, many - LAST + 1), many + 1):
            before, advice = milliseconds(replace(job, log=job.log[:end]), book, kept)
            own.append(advice)
            fold.append(before)
        warm += own
        print(
            f"  {job.name:28s} cold {cold[-1]:5.0f} ms   warm median {np.median(own):5.0f} ms   max {max(own):5.0f} ms"
        )
    print(f"fold and weigh, median {np.median(fold):.0f} ms, p95 {np.percentile(fold, 95):.0f} ms")
    print(f"figure: cold_ms={np.median(cold):.0f} warm_p95_ms={np.percentile(warm, 95):.0f}")


if __name__ == "__main__":
    be_modest()
    main()
