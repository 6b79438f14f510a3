"""How long the lists, the search and one job take on a bench with 100,000 closed jobs, and what one entry takes.

The jobs are made up: one of three worked-on jobs each, called and told about in words drawn from a few hundred, so
that some words are rare and some are in every job.  Budget: p95 of list, search and opening 200 ms each; 100 ms from a
tap to the entry shown.

Use: ./dev bench store [JOBS] [ADDRESS OF AN EMPTY POSTGRESQL DATABASE]
"""

import random
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from quantile import p95
from sqlalchemy import insert, text

from halfsplit.actions import (
    Bench,
    collect,
    job_view,
    list_closed_jobs,
    list_open_jobs,
    open_job,
    record,
    search_jobs,
    sum_up,
)
from halfsplit.book import shipped_book
from halfsplit.jobfile import parse_job, write_job
from halfsplit.model.job import Job
from halfsplit.store import Store, open_store
from halfsplit.store.tables import JOB, LOG, STATE_CHANGE

JOBS = 100_000
OPEN = 12
ROUNDS = 100
RECORDED = 30
BATCH = 5_000
NOW = datetime(2030, 6, 14, 9, 0, tzinfo=UTC)
EXAMPLES = sorted((Path(__file__).parents[1] / "examples").glob("*.yaml"))
SYLLABLES = (
    "ba",
    "co",
    "du",
    "fe",
    "gi",
    "ha",
    "ju",
    "ka",
    "lo",
    "mi",
    "nu",
    "pe",
    "qua",
    "ri",
    "so",
    "tu",
    "wa",
    "zo",
)


def main() -> None:
    jobs = int(sys.argv[1]) if len(sys.argv) > 1 else JOBS
    url = sys.argv[2] if len(sys.argv) > 2 else ""
    rng = random.Random(1)
    with tempfile.TemporaryDirectory() as name:
        store = open_store(Path(name), url=url)
        bench = Bench(store, shipped_book())
        words = ["".join(rng.choices(SYLLABLES, k=3)) for _ in range(400)]
        models = [worked_on(bench, path) for path in EXAMPLES]
        begin = time.perf_counter()
        fill(store, models, jobs, words, rng)
        filled_s = time.perf_counter() - begin
        last = jobs + len(models)
        asked = [*rng.sample(words, 40), "desktop", "built", "games", words[0][:2], f"built {words[1]}", str(last // 2)]
        figures = {
            "list": times(lambda: (list_open_jobs(bench), list_closed_jobs(bench, before=rng.randint(100, last)))),
            "search": times(lambda: search_jobs(bench, rng.choice(asked))),
            "open": times(lambda: job_view(Bench(store, bench.book), rng.randint(1, last))),
            "fold": times(lambda: job_view(Bench(store, bench.book), rng.randint(1, last)).folded(), 40),
            "weigh": times(lambda: sum_up(Bench(store, bench.book), rng.randint(1, last)), 20),
        }
        number = open_job(bench, "machine: {memory: [8, 8]}", by="AB", now=NOW)
        figures["record"] = times(
            lambda: record(bench, number, "run: {load: games, reached: log_in, stop: none}", by="AB", now=NOW), RECORDED
        )
        size = (Path(name) / "bench.db").stat().st_size / 1e6 if not url else 0.0
        store.close()
    where = "PostgreSQL" if url else f"SQLite, {size:.0f} MB"
    print(f"{jobs:,} closed jobs on {where}, filled in {filled_s:.0f} s; median and p95 in ms")
    for what, taken in figures.items():
        print(f"{what:8} {taken[len(taken) // 2]:7.1f} {p95(taken):7.1f}")
    print("figure:", " ".join(f"{what}_p95_ms={p95(taken):.1f}" for what, taken in figures.items()))


def opened(bench: Bench, path: Path, now: datetime) -> tuple[int, Job]:
    """Return a job with what a job file tells on its log, by its number, and that job file."""
    job, mistakes = parse_job(path.read_text(encoding="utf-8"), bench.book)
    assert job is not None, mistakes
    head, _, rest = write_job(job, bench.book).partition("told:\n")
    statements, _, log = rest.partition("log:\n")
    number = open_job(bench, head, by="AB", now=now)
    told = "\n".join(line.replace("  - ", "  - told: ") for line in statements.splitlines())
    record(bench, number, f"{told}\n{log}", by="AB", now=now)
    return number, job


def worked_on(bench: Bench, path: Path) -> int:
    """Return a job with what a job file tells on its log, summed up and collected."""
    number, _ = opened(bench, path, NOW)
    sum_up(bench, number)
    collect(bench, number, by="AB", now=NOW, person_days=90)
    return number


def fill(store: Store, models: list[int], jobs: int, words: list[str], rng: random.Random) -> None:
    """Fill a store with closed jobs that are like the models but for what they are called and told by."""
    with store.reading() as connection:
        rows = [dict(row) for row in connection.execute(JOB.select().order_by(JOB.c.number)).mappings()]
        logs = [
            [dict(row) for row in connection.execute(LOG.select().where(LOG.c.job == model)).mappings()]
            for model in models
        ]
        found = [
            connection.execute(text("SELECT words FROM job_words WHERE rowid = :n"), {"n": model}).scalar_one()
            for model in models
        ]
    first = len(models) + 1
    for start in range(first, first + jobs, BATCH):
        numbers = range(start, min(start + BATCH, first + jobs))
        named = {number: " ".join(rng.choices(words, k=4)) for number in numbers}
        with store.writing() as connection:
            connection.execute(
                insert(JOB), [{**rows[n % len(rows)], "number": n, "name": f"desktop {named[n]}"} for n in numbers]
            )
            connection.execute(insert(LOG), [{**line, "job": n} for n in numbers for line in logs[n % len(logs)]])
            states = [{"job": n, "state": "collected", "initials": "AB", "at": "2030"} for n in numbers]
            connection.execute(insert(STATE_CHANGE), states)
            connection.execute(
                text("INSERT INTO job_words (rowid, words) VALUES (:n, :words)"),
                [{"n": n, "words": f"{n} desktop {named[n]} {found[n % len(found)]}"} for n in numbers],
            )
    with store.writing() as connection:
        if connection.dialect.name == "postgresql":
            connection.execute(text("SELECT setval(pg_get_serial_sequence('job', 'number'), max(number)) FROM job"))
        connection.execute(
            JOB.update().where(JOB.c.number > first + jobs - OPEN - 1).values(is_open=1, state="on_bench")
        )


def times(act: Callable[[], object], rounds: int = ROUNDS) -> list[float]:
    """Return how long something takes each time, in ms, the shortest first."""
    taken = []
    for _ in range(rounds):
        begin = time.perf_counter()
        act()
        taken.append(1000.0 * (time.perf_counter() - begin))
    return sorted(taken)


if __name__ == "__main__":
    main()
