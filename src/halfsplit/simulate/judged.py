"""A drawn machine after random checks: what its job then claims, beside what is truly wrong with it.

The checks are drawn among those that the bench could do, whatever they would be worth, and all that they ask for is
entered.  So no policy chooses what is seen.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from numpy.random import Generator

from halfsplit.errors import ImpossibleReadingsError
from halfsplit.job.doubted import laid_aside, weigh_folded
from halfsplit.job.fold import MOST_MACHINES, fold_job
from halfsplit.model.job import Entry, Inspect, Job, Measure, Run
from halfsplit.model.rates import Rates
from halfsplit.simulate.benches import Bench
from halfsplit.simulate.machines import Drawn
from halfsplit.simulate.worlds import States


@dataclass(frozen=True)
class Judged:
    """What one job claims.

    Args:
        claims: root -> P(it is there now), for each suspicion as the job sheet has it; none where it is lost.
        there: the suspicions that are truly there now.
        causes: the faults that matter and are truly in the machine now -> P(it is there now); 0 where the book of
            the job does not have it.
        unknown: those of the causes that the book of the job does not have.
        aside: readings that were laid aside, as nothing was found that shows them with the rest.
        is_lost: whether nothing was found that may have shown it all.
        bound_share: what was left out of the answer at most.
    """

    claims: Mapping[str, float]
    there: frozenset[str]
    causes: Mapping[str, float]
    unknown: frozenset[str]
    aside: int = 0
    is_lost: bool = False
    bound_share: float = 0.0

    @property
    def is_known(self) -> bool:
        """Whether a cause is there that the book of the job has."""
        return len(self.causes) > len(self.unknown)

    def has_cause_within(self, many: int) -> bool:
        """Return whether a true cause is among the first suspicions."""
        first = sorted(self.claims, key=lambda root: (-self.claims[root], root))[:many]
        return not self.causes.keys().isdisjoint(first)


def do_random_checks(drawn: Drawn, many: int, rng: Generator) -> Bench:
    """Return a bench on which so many different checks were done, or as many as there are to do."""
    bench = Bench(drawn, Rates())
    done: set[str] = set()
    while len(done) < many:
        left = [name for name in bench.book.checks if name not in done]
        name = next((each for each in rng.permutation(left).tolist() if bench.entries(bench.book.checks[each])), "")
        if not name:
            break
        bench.check(name, bench.book.checks[name].asks)
        done.add(name)
    return bench


def do_again(drawn: Drawn, bench: Bench, states: States) -> Bench:
    """Return the same checks done on the same machine with something else wrong with it."""
    known = drawn.world().plans
    other = {
        name: state for name, state in states.items() if name in known and state in {s.name for s in known[name].states}
    }
    again = Bench(replace(drawn, states=other), Rates())
    for found in bench.found:
        again.check(found.check, bench.book.checks[found.check].asks)
    return again


def with_one_lie(job: Job, other: Job, rng: Generator) -> tuple[Job, str]:
    """Return a job with one entry that says what another machine showed, and the entry's id; "" where none differs.

    Args:
        job: the job.
        other: the same checks, done on another machine.
        rng: which of the entries that differ.
    """
    shown = {entry.id: entry for entry in other.log}
    differ = [
        entry.id
        for entry in job.log
        if isinstance(entry, Run | Inspect | Measure)
        and type(shown.get(entry.id)) is type(entry)
        and _told(entry) != _told(shown[entry.id])
    ]
    if not differ:
        return job, ""
    name = str(rng.choice(differ))
    return replace(
        job, log=tuple(_saying(entry, shown[name]) if entry.id == name else entry for entry in job.log)
    ), name


def judge(bench: Bench, job: Job | None = None) -> Judged:
    """Return what a job claims now.

    Args:
        bench: the bench, with what is truly wrong.
        job: the job as it was entered; None = the bench's own.
    """
    job = bench.job if job is None else job
    folded = fold_job(job, bench.book)
    causes = bench.world.left()
    roots = [root.id for root in folded.evidence.roots]
    unknown = frozenset(root for root in causes if root not in roots)
    try:
        posterior = weigh_folded(folded).posterior
    except ImpossibleReadingsError:
        return Judged({}, frozenset(), dict.fromkeys(causes, 0.0), unknown, is_lost=True)
    p_now = dict(zip(roots, posterior.p_faults.tolist(), strict=True))
    claims = {}
    for root, note in folded.roots.items():
        fault = bench.book.faults.get(note.fault)
        if fault is not None and note.in_machine and not (fault.is_normal and fault.base.p > MOST_MACHINES):
            claims[root] = p_now[root]
    return Judged(
        claims,
        frozenset(claims.keys() & bench.world.states.keys()),
        {root: p_now.get(root, 0.0) for root in causes},
        unknown,
        len(laid_aside(folded, posterior)),
        bound_share=posterior.bound_share,
    )


def _told(entry: Entry) -> object:
    """Return what an entry told."""
    return entry.value if isinstance(entry, Measure) else entry.seen if isinstance(entry, Run | Inspect) else None


def _saying(entry: Entry, other: Entry) -> Entry:
    """Return an entry that tells what another one of its kind told."""
    match entry, other:
        case Run(), Run():
            return replace(entry, seen=other.seen)
        case Inspect(), Inspect():
            return replace(entry, seen=other.seen)
        case Measure(), Measure():
            return replace(entry, value=other.value)
    return entry
