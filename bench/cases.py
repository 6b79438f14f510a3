"""Real cases weighed up to the line that names their cause: is the cause among the first suspicions?

The cases in ``tests/cases`` are retold from public write-ups; ``docs/cases.md`` says how they were written down.
Each is weighed as far as its cut, and once more by the owner's story alone.  Beside them stands the baseline: the
commonest causes of its complaint class, whatever the case.  Reported, never a gate, and never a source of rates:
write-ups over-report what is odd.
"""

import sys
from collections.abc import Collection, Iterable, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from math import isfinite, log
from pathlib import Path

import yaml

from halfsplit.book import shipped_book
from halfsplit.errors import ImpossibleReadingsError
from halfsplit.infer import weigh as weigh_answer
from halfsplit.job.fold import MOST_MACHINES, fold_job
from halfsplit.job.units import OWNER, kind_of
from halfsplit.jobfile import load_job
from halfsplit.model.book import Book
from halfsplit.model.job import Job

CASES = Path(__file__).parents[1] / "tests" / "cases"

LEAST_P = 1e-4
"""A cause that gets less than this, or that the book does not know, is scored with it."""

FIRST, FEW, MORE = 1, 3, 5
"""How many suspicions are looked at."""

MUCH_LEFT_OUT = 0.1
"""A bound share above this is told with the case."""

PROCESSES = 2
CLASSES = ("nothing_happens", "lights_no_picture", "picture_then_stops", "starts_misbehaves", "slow_noisy_other")


@dataclass(frozen=True)
class Case:
    """One line of the index.

    Args:
        id: the case; its job file has the same name.
        is_confirmed: whether whoever had the machine saw the cause cured.
        complaint: the complaint class.
        cut: the id of the first entry that is not weighed, or "end".
        causes: for each told cause that is there at the cut, the faults of the book that say it; none = unknown to it.
    """

    id: str
    is_confirmed: bool
    complaint: str
    cut: str
    causes: tuple[frozenset[str], ...]

    @property
    def faults(self) -> frozenset[str]:
        """All faults that say any of its causes."""
        return frozenset().union(*self.causes)


@dataclass(frozen=True)
class Weighed:
    """What was suspected.

    Args:
        faults: fault id -> P(it is there), the likeliest first.
        parts: kind of part or joint -> P(some fault has hold of it), the likeliest first.
        causes: P(at least one of its faults), for each cause of the case.
        bound_share: what was left out of the answer at most.
    """

    faults: Mapping[str, float]
    parts: Mapping[str, float]
    causes: tuple[float, ...]
    bound_share: float = 0.0

    @property
    def log_score(self) -> float:
        """The mean over the causes of log P(cause)."""
        return sum(log(max(p, LEAST_P)) for p in self.causes) / len(self.causes)


@dataclass(frozen=True)
class Scored:
    """One case beside its story alone and its baseline."""

    case: Case
    whole: Weighed
    story: Weighed
    baseline: Weighed


NOTHING = Weighed({}, {}, (0.0,))
"""Readings that the book takes to be impossible together, or all but: no suspicion at all."""


def read_index() -> tuple[Case, ...]:
    """Return the cases of the index, in its order."""
    rows = yaml.safe_load((CASES / "cases.yaml").read_text(encoding="utf-8"))
    return tuple(
        Case(
            row["id"],
            row["confidence"] == "confirmed",
            row["class"],
            row["cut"],
            tuple(frozenset(faults) for faults in row["causes"]),
        )
        for row in rows
    )


def until_cut(job: Job, cut: str) -> Job:
    """Return the job as it stood before the entry ``cut``."""
    ids = [entry.id for entry in job.log]
    return replace(job, log=job.log[: len(ids) if cut == "end" else ids.index(cut)])


def weigh(job: Job, causes: Sequence[Collection[str]], book: Book) -> Weighed:
    """Weigh a job; of a fault at several places, and of several parts of a kind, the likeliest counts."""
    folded = fold_job(job, book)
    try:
        posterior = weigh_answer(folded.evidence)
    except ImpossibleReadingsError:
        return NOTHING
    if not isfinite(posterior.log_p):
        return replace(NOTHING, bound_share=posterior.bound_share)
    p_now = {root.id: float(p) for root, p in zip(posterior.evidence.roots, posterior.p_faults, strict=True)}
    kinds = {unit: kind_of(slot) for slot, unit in folded.setups[OWNER].slots.items()}
    roots: dict[str, list[str]] = {}
    things: dict[str, set[str]] = {}
    for root, note in folded.roots.items():
        fault = book.faults.get(note.fault)
        if fault is not None and note.in_machine and not (fault.is_normal and fault.base.p > MOST_MACHINES):
            roots.setdefault(fault.id, []).append(root)
            for thing in note.things:
                kind = kinds.get(thing) or thing.partition(".")[0]
                if kind in book.kinds or kind in book.joints:
                    things.setdefault(kind, set()).add(thing)
    held = posterior.p_all_held(tuple({thing for group in things.values() for thing in group}))
    return Weighed(
        by_p({fault: max(p_now[root] for root in group) for fault, group in roots.items()}),
        by_p({kind: max(held[thing] for thing in group) for kind, group in things.items()}),
        tuple(posterior.p_any([root for fault in cause for root in roots.get(fault, ())]) for cause in causes),
        posterior.bound_share,
    )


def by_p(suspicions: Mapping[str, float]) -> dict[str, float]:
    """Return suspicions sorted, the strongest first."""
    return dict(sorted(suspicions.items(), key=lambda item: (-item[1], item[0])))


def score(case: Case) -> Scored:
    """Weigh a case up to its cut, by its story, and by its class alone, with nothing known of its machine."""
    book = shipped_book()
    job, mistakes = load_job(CASES / f"{case.id}.yaml", book)
    if job is None:
        raise SystemExit("\n".join(map(str, mistakes)))
    return Scored(
        case,
        weigh(until_cut(job, case.cut), case.causes, book),
        weigh(replace(job, log=()), case.causes, book),
        weigh(Job(complaint=case.complaint), case.causes, book),
    )


def place_of(wanted: Collection[str], suspicions: Iterable[str]) -> int | None:
    """Return the place, from 1, of the first suspicion that is wanted."""
    return next((place for place, name in enumerate(suspicions, 1) if name in wanted), None)


def share_within(many: int, places: Sequence[int | None]) -> float:
    """Return the share of places that are among the first."""
    return sum(place is not None and place <= many for place in places) / len(places)


@dataclass(frozen=True)
class Figures:
    """Shares of cases with a cause among the first suspicions, by fault and by part, and the mean log score."""

    fault: tuple[float, ...]
    part: tuple[float, ...]
    log_score: float


def figures(cases: Sequence[Scored], way: str, book: Book) -> Figures:
    """Return the figures of one way of weighing: "whole", "story" or "baseline"."""
    weighed: list[Weighed] = [getattr(scored, way) for scored in cases]
    by_fault = [place_of(s.case.faults, w.faults) for s, w in zip(cases, weighed, strict=True)]
    by_part = [place_of(parts_of(s.case, book), w.parts) for s, w in zip(cases, weighed, strict=True)]
    return Figures(
        tuple(share_within(many, by_fault) for many in (FIRST, FEW, MORE)),
        tuple(share_within(many, by_part) for many in (FIRST, FEW, MORE)),
        sum(w.log_score for w in weighed) / len(weighed),
    )


def parts_of(case: Case, book: Book) -> frozenset[str]:
    """Return the parts and joints that its causes may have hold of."""
    return frozenset(at for fault in case.faults for at in book.faults[fault].at)


def found_of_several(cases: Sequence[Scored], way: str) -> tuple[int, int]:
    """Return how many causes are among the five most suspected, and of how many, where a case has several."""
    found = of = 0
    for scored in cases:
        if len(scored.case.causes) > 1:
            most = list(getattr(scored, way).faults)[:MORE]
            found += sum(not cause.isdisjoint(most) for cause in scored.case.causes)
            of += len(scored.case.causes)
    return found, of


def show_cases(cases: Sequence[Scored], book: Book) -> None:
    """Print each case on one line."""
    print("Each case: place of its cause among faults and among parts, P(cause), what led instead")
    for scored in cases:
        whole, case = scored.whole, scored.case
        place = place_of(case.faults, whole.faults)
        part = place_of(parts_of(case, book), whole.parts)
        told = "  ".join(f"{p:.3f}" for p in whole.causes)
        led = [] if place == 1 else [f"{name} {p:.2f}" for name, p in list(whole.faults.items())[:2]]
        if whole.bound_share > MUCH_LEFT_OUT:
            led.append(f"(up to {whole.bound_share:.2f} left out to be fast)")
        sure = " " if case.is_confirmed else "?"
        print(
            f"  {case.id}{sure} {case.complaint:18s} {place or '-':>3} {part or '-':>3}   {told:14s}  {', '.join(led)}"
        )


def show_figures(title: str, cases: Sequence[Scored], book: Book) -> None:
    """Print one table."""
    print(f"\n{title}: {len(cases)} cases")
    print(
        "                       fault: first  in 3   in 5    part: first  in 3   in 5    log score   of several causes"
    )
    for way, name in (("whole", "weighed to the cut"), ("story", "by the story alone"), ("baseline", "by the class")):
        got = figures(cases, way, book)
        found, of = found_of_several(cases, way)
        shares = "   ".join("  ".join(f"{share:5.2f}" for share in shares) for shares in (got.fault, got.part))
        print(f"  {name:27s} {shares}       {got.log_score:6.2f}      {found} of {of}")


def show_classes(cases: Sequence[Scored], book: Book) -> None:
    """Print the figures by complaint class."""
    print("\nBy class: cases, cause first, in the first three (and by the class alone)")
    for complaint in CLASSES:
        of_class = [scored for scored in cases if scored.case.complaint == complaint]
        if of_class:
            got, common = figures(of_class, "whole", book), figures(of_class, "baseline", book)
            print(
                f"  {complaint:18s} {len(of_class):3d}   {got.fault[0]:.2f}  {got.fault[1]:.2f}"
                f"   ({common.fault[0]:.2f}  {common.fault[1]:.2f})"
            )


def main() -> None:
    wanted = set(sys.argv[1:])
    index = [case for case in read_index() if not wanted or case.id in wanted]
    book = shipped_book()
    with ProcessPoolExecutor(PROCESSES) as pool:
        cases = list(pool.map(score, index))
    confirmed = [scored for scored in cases if scored.case.is_confirmed]
    show_cases(cases, book)
    if len(confirmed) < len(cases):
        show_figures("Likely causes too", cases, book)
    if not confirmed:
        return
    show_figures("Confirmed causes", confirmed, book)
    show_classes(confirmed, book)
    got, common = figures(confirmed, "whole", book), figures(confirmed, "baseline", book)
    print(
        f"\nfigure: n={len(confirmed)} first={got.fault[0]:.2f} first3={got.fault[1]:.2f} part_first3={got.part[1]:.2f}"
        f" log_score={got.log_score:.2f} baseline_log_score={common.log_score:.2f}"
    )


if __name__ == "__main__":
    main()
