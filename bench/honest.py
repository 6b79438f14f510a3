"""Whether suspicions are honest: of what is claimed at 70 %, is 70 % so?

Machines are drawn from the prior, kept by class of complaint, and six checks are done on each, drawn at random among
those that the bench could do.  Then each suspicion is set beside what is truly wrong with the machine at that moment.

1. The truth is the very book, nobody slips, and everything that is so of the machine is told: then the claims have to
   hold, or the engine, the fold or the simulator is wrong.
2. The truth is not the book: its numbers are moved within their spreads (a strength word as one draw), a tenth of the
   causes are missing from the book that weighs, a tenth of the owner's statements are wrong and 5 % of the entries.
3. As 2, without wrong entries; then one entry is made to say what it would have shown on another machine of the same
   class of complaint.  The figure is how often a cause that was among the first three suspicions is still there; the
   shares of all jobs stand beside it.

Settings and seeds stand below and were not touched after the first run.
"""

import sys
from collections.abc import Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from math import inf, log

import numpy as np

from halfsplit.simulate import Drawing, Task
from halfsplit.simulate.calibration import (
    Bin,
    Claim,
    brier,
    calibration_error,
    curve,
    error_by_chance,
    excess,
    parts_of_brier,
)
from halfsplit.simulate.judged import Judged, do_again, do_random_checks, judge, with_one_lie

MACHINES, PROCESSES = 200, 2
CHECKS = 6

SAME = Drawing(is_book=True, slips=0.0, taps=0.0)
OTHER = Drawing(is_book=False, missing=0.1, slips=0.1, taps=0.05)
LIED = replace(OTHER, taps=0.0)
SEEDS: Mapping[Drawing, int] = {SAME: 4101, OTHER: 4102, LIED: 4103}
CHECKS_SEED, LIE_SEED, CHANCE_SEED = 1, 2, 3

FLOOR = 0.02
"""Suspicions below this are not looked at in the curve; the Brier score of the same book is of all of them."""

LEAST_P = 1e-4
"""A cause that gets less than this, or that the book does not have, is scored with it."""

FEW = 3
HIGH: Mapping[str, tuple[float, float]] = {
    "a claimed 70 %": (0.65, 0.75),
    "what is claimed at 65 % or more": (0.65, inf),
}
"""Claims by their size: those of about 70 % are few, so all the high ones stand beside them."""

MUCH_LEFT_OUT = 0.1
OTHERS = 20
"""Other machines that are tried for an entry that differs."""


@dataclass(frozen=True)
class Lied:
    """One job without and with a false reading; ``kind`` is that of the entry, "" where none could be made false."""

    straight: Judged
    lied: Judged
    kind: str


def judge_one(machines: int, drawing: Drawing, number: int) -> Judged:
    """Draw a machine, do the checks, and judge its job."""
    drawn = Task(machines, SEEDS[drawing], drawing=drawing).draw(number)
    if drawing.is_book:
        drawn = replace(drawn, job=replace(drawn.job, machine=drawn.whole.machine))
    return judge(do_random_checks(drawn, CHECKS, np.random.default_rng([SEEDS[drawing], number, CHECKS_SEED])))


def judge_lie(machines: int, number: int) -> Lied:
    """Judge a job twice: as it is, and with one false reading."""
    task = Task(machines, SEEDS[LIED], drawing=LIED)
    drawn = task.draw(number)
    bench = do_random_checks(drawn, CHECKS, np.random.default_rng([SEEDS[LIED], number, CHECKS_SEED]))
    rng = np.random.default_rng([SEEDS[LIED], number, LIE_SEED])
    straight = judge(bench)
    for turn in range(1, OTHERS + 1):
        other = do_again(drawn, bench, task.draw(number + turn * len(drawn.book.complaints) * machines).states)
        job, name = with_one_lie(bench.job, other.job, rng)
        if name:
            kind = next(type(entry).__name__.lower() for entry in job.log if entry.id == name)
            return Lied(straight, judge(bench, job), kind)
    return Lied(straight, straight, "")


def claims_of(judged: Sequence[Judged], floor: float = 0.0) -> list[Claim]:
    """Return every suspicion of some jobs that is not below a floor."""
    return [
        Claim(number, p, root in one.there)
        for number, one in enumerate(judged)
        for root, p in one.claims.items()
        if p >= floor
    ]


def leading_of(judged: Sequence[Judged]) -> list[Claim]:
    """Return the first suspicion of each job."""
    first = [
        (number, one, max(one.claims, key=one.claims.__getitem__)) for number, one in enumerate(judged) if one.claims
    ]
    return [Claim(number, one.claims[root], root in one.there) for number, one, root in first]


def log_score(judged: Sequence[Judged], *, known: bool = False) -> float:
    """Return the mean over jobs of the mean log P of their true causes; ``known`` = of those in the book alone."""
    scores = []
    for one in judged:
        p = [p for root, p in one.causes.items() if not (known and root in one.unknown)]
        if p:
            scores.append(sum(log(max(each, LEAST_P)) for each in p) / len(p))
    return sum(scores) / len(scores)


def show_jobs(judged: Sequence[Judged]) -> None:
    """Print what became of the jobs themselves, so that none is passed over in silence."""
    causes = sum(len(one.causes) for one in judged)
    print(
        f"  {len(judged)} jobs; {causes} causes that matter are in the machines,"
        f" {sum(len(one.unknown) for one in judged)} of them not in the book that weighs;"
        f" {sum(not one.causes for one in judged)} machines with none"
    )
    print(
        f"  {sum(one.aside > 0 for one in judged)} jobs of which something was laid aside"
        f" ({sum(one.aside for one in judged)} readings);"
        f" {sum(one.is_lost for one in judged)} without any answer;"
        f" {sum(one.bound_share > MUCH_LEFT_OUT for one in judged)} with more than {MUCH_LEFT_OUT:g} left out at most"
    )


def show_curve(title: str, claims: Sequence[Claim]) -> tuple[Bin, ...]:
    """Print a curve, and return it."""
    bins = curve(claims)
    chance = error_by_chance(claims, np.random.default_rng(CHANCE_SEED))
    print(f"\n  {title}\n    claimed  so    95 % interval   claims  jobs")
    for one in bins:
        holds = "" if one.holds else "   outside"
        print(
            f"    {one.claimed:5.3f}   {one.right:5.3f}   {one.low:5.3f} to {one.high:5.3f}"
            f"  {one.many:6d} {one.jobs:5d}{holds}"
        )
    print(f"    off by {calibration_error(bins):.3f} on average; true claims would be by {chance:.3f} by chance")
    return bins


def show_high(claims: Sequence[Claim]) -> None:
    """Print whether a claimed 70 % is right 70 % of the time, and the same for all high claims."""
    for title, (least, most) in HIGH.items():
        these = [claim for claim in claims if least <= claim.p < most]
        if not these:
            print(f"  {title}: there was none")
            continue
        one = curve(these, (0.0,))[0]
        print(
            f"  {title} ({one.claimed:.3f} on average) is right {one.right:.3f} of the time, interval"
            f" {one.low:.3f} to {one.high:.3f}, {one.many} claims in {one.jobs} jobs:"
            f" {'within' if one.holds else 'NOT within'} it"
        )


def show_same(judged: Sequence[Judged]) -> float:
    """Print the run with the very book, and return its Brier score."""
    claims = claims_of(judged)
    got, parts = brier(claims), parts_of_brier([replace(claim, p=round(claim.p, 2)) for claim in claims])
    so, expected, z = excess(claims)
    print(f"  Brier score {got.score:.5f}; by the claims {got.expected:.5f}; z {got.z:+.2f}")
    print(
        f"  of whole percents: reliability {parts.reliability:.5f} - resolution {parts.resolution:.5f}"
        f" + uncertainty {parts.uncertainty:.5f}"
    )
    print(f"  {so:.0f} suspicions are so; by the claims {expected:.1f}; z {z:+.2f}")
    small = [claim for claim in claims if claim.p < FLOOR]
    so, expected, z = excess(small)
    print(f"  below {FLOOR:g}: {so:.0f} of {len(small)} are so; by the claims {expected:.1f}; z {z:+.2f}")
    return got.score


def show_lies(lied: Sequence[Lied]) -> float:
    """Print what one false reading does, and return how often a cause that was among the first is still there."""
    asked = [one for one in lied if one.kind and one.straight.is_known]
    print(
        f"  {sum(not one.kind for one in lied)} jobs where no entry would have shown anything else;"
        f" {sum(not one.straight.is_known for one in lied)} where the book has none of the causes"
    )
    show_jobs([one.lied for one in asked])
    for kind in ("run", "inspect", "measure"):
        these = [one for one in asked if one.kind == kind]
        print(f"    a false {kind:8s} {shares(these)}")
    print(f"    all              {shares(asked)}")
    return still(asked)


def shares(lied: Sequence[Lied]) -> str:
    """Return how often a cause is among the first suspicions, without the lie and with it."""
    if not lied:
        return "0 jobs"
    had = sum(one.straight.has_cause_within(FEW) for one in lied)
    has = sum(one.lied.has_cause_within(FEW) for one in lied)
    return (
        f"{len(lied):4d} jobs: a cause among the first {FEW} in {had}, with the lie in {has};"
        f" of those that had it there {still(lied):.2f} still have it"
    )


def still(lied: Sequence[Lied]) -> float:
    """Return the share of the jobs with a cause among the first suspicions that have one there with the lie too."""
    had = [one for one in lied if one.straight.has_cause_within(FEW)]
    return sum(one.lied.has_cause_within(FEW) for one in had) / len(had) if had else 0.0


def main() -> None:
    machines, processes = (int(word) for word in (*sys.argv[1:], *(MACHINES, PROCESSES)[len(sys.argv) - 1 :]))
    for title, drawing in (("the very book", SAME), ("another truth", OTHER), ("one lie", LIED)):
        print(f"{title}: seed {SEEDS[drawing]}, {drawing}")
    print(f"{machines} machines each, {CHECKS} random checks; numbers move by their own spreads\n", flush=True)
    with ProcessPoolExecutor(processes) as pool:
        same = list(pool.map(partial(judge_one, machines, SAME), range(machines)))
        print("The truth is the very book")
        show_jobs(same)
        same_brier = show_same(same)
        show_curve(f"every suspicion from {FLOOR:g}", claims_of(same, FLOOR))
        show_curve("the first suspicion", leading_of(same))
        print("\nThe truth is not the book", flush=True)
        other = list(pool.map(partial(judge_one, machines, OTHER), range(machines)))
        show_jobs(other)
        bins = show_curve(f"every suspicion from {FLOOR:g}", claims_of(other, FLOOR))
        show_curve("the first suspicion", leading_of(other))
        print()
        show_high(claims_of(other, FLOOR))
        score = log_score(other)
        print(
            f"  mean log P of the causes {score:.2f}, where the book does not have it log {LEAST_P:g};"
            f" of those in the book {log_score(other, known=True):.2f}"
        )
        print("\nOne false reading", flush=True)
        lied = show_lies(list(pool.map(partial(judge_lie, machines), range(machines))))
    print(
        f"\nfigure: same_book_brier={same_brier:.4f} other_truth_ece={calibration_error(bins):.3f}"
        f" other_truth_log_score={score:.2f} one_lie_first3={lied:.2f}"
    )


if __name__ == "__main__":
    main()
