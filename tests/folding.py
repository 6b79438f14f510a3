"""Jobs for tests: written as a job file tells them, folded with the shipped book, and weighed."""

from dataclasses import dataclass

from halfsplit.book import shipped_book
from halfsplit.infer import Posterior, weigh
from halfsplit.job.fold import fold_job
from halfsplit.job.folded import Folded
from halfsplit.jobfile import parse_job
from halfsplit.model.evidence import Reading, Root
from halfsplit.model.job import Job

BOOK = shipped_book()


def job_of(*log: str, machine: str = "{}", told: str = "[]", complaint: str = "") -> Job:
    lines = [f"machine: {machine}", f"told: {told}", "log:" if log else "log: []", *(f"  - {entry}" for entry in log)]
    if complaint:
        lines.append(f"complaint: {complaint}")
    job, mistakes = parse_job("\n".join(lines), BOOK)
    assert job is not None, mistakes
    return job


def fold(*log: str, machine: str = "{}", told: str = "[]", complaint: str = "") -> Folded:
    return fold_job(job_of(*log, machine=machine, told=told, complaint=complaint), BOOK)


@dataclass(frozen=True)
class Suspicions:
    """What a job comes to."""

    folded: Folded
    posterior: Posterior

    def __getitem__(self, root: str) -> float:
        return self.posterior.p_now(root)

    def held(self, thing: str) -> float:
        return self.posterior.p_held(thing)


def weigh_log(*log: str, machine: str = "{}", told: str = "[]", complaint: str = "") -> Suspicions:
    folded = fold(*log, machine=machine, told=told, complaint=complaint)
    return Suspicions(folded, weigh(folded.evidence))


def total(weighed: Suspicions, *roots: str) -> float:
    """Return the sum of suspicions of roots; each must be one of the job's."""
    return sum(weighed[root] for root in roots)


def total_anywhere(weighed: Suspicions, *faults: str) -> float:
    """Return the sum of suspicions of faults, or roots, at all the places that they may have in the owner's machine."""
    names = [root.id for root in weighed.folded.evidence.roots]
    return sum(weighed[name] for name in names if name in faults or name.partition("@")[0] in faults)


def root(folded: Folded, name: str) -> Root:
    return next(each for each in folded.evidence.roots if each.id == name)


def reading(folded: Folded, name: str) -> Reading:
    return next(each for each in folded.evidence.readings if each.id == name)


def roots(folded: Folded) -> set[str]:
    return {each.id for each in folded.evidence.roots}
