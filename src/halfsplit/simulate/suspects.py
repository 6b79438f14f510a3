"""What a job comes to for a policy that plans nothing: how suspect each fault is, and which repairs there are."""

from dataclasses import dataclass

from halfsplit.errors import ImpossibleReadingsError
from halfsplit.job.advise import fold_and_weigh
from halfsplit.job.doubted import laid_aside
from halfsplit.job.units import kind_of
from halfsplit.model.bench import Repair
from halfsplit.model.faults import Fault
from halfsplit.simulate.benches import Bench

LEAST_P = 0.01
"""Faults less suspect than this are not thought of."""


@dataclass(frozen=True)
class Suspect:
    """A fault that matters and may be in the machine; with the number of its place (".2") and its suspicion."""

    fault: Fault
    number: str
    p: float


@dataclass(frozen=True)
class Option:
    """A repair at one place.

    Args:
        repair: the repair.
        at: the part or joint, with its number.
        p: the suspicion of all that it may cure, each times the chance that it does.
        best: the largest single one of these.
        cents: what it costs: time, with the openings, and the part.
    """

    repair: Repair
    at: str
    p: float
    best: float
    cents: float


def suspects_of(bench: Bench) -> tuple[Suspect, ...]:
    """Return the suspects, the likeliest first; readings that were laid aside are withdrawn."""
    try:
        folded, posterior = fold_and_weigh(bench.job, bench.book)
    except ImpossibleReadingsError:
        return ()
    bench.withdraw(entry for name in laid_aside(folded, posterior) for entry in folded.entries[name])
    found = []
    for root, p in zip(folded.evidence.roots, posterior.p_faults.tolist(), strict=True):
        note = folded.roots[root.id]
        fault = bench.book.faults.get(note.fault)
        if fault is not None and note.in_machine and note.matters and not fault.is_normal and p >= LEAST_P:
            place = root.id.partition("@")[2].partition(":")[0]
            found.append(Suspect(fault, f".{place.partition('.')[2]}" if "." in place else "", p))
    return tuple(sorted(found, key=lambda each: (-each.p, each.fault.id, each.number)))


def options_of(bench: Bench, suspects: tuple[Suspect, ...], done: frozenset[str]) -> tuple[Option, ...]:
    """Return the repairs that may cure a suspect and were not yet done."""
    chances: dict[tuple[str, str], list[float]] = {}
    for suspect in suspects:
        for cure in suspect.fault.cures:
            repair = bench.book.repairs.get(cure.repair)
            if repair is None:
                continue
            proper = repair.p_proper.p if repair.p_proper is not None else 1.0
            for at in bench.places(repair):
                number = at.removeprefix(repair.at)
                if f"{repair.id}@{at}" not in done and (not number or suspect.number in ("", number)):
                    chances.setdefault((repair.id, at), []).append(suspect.p * cure.goes.p * proper)
    return tuple(
        Option(bench.book.repairs[name], at, sum(p), max(p), bench.cost(name)) for (name, at), p in chances.items()
    )


def part_suspicions(bench: Bench, suspects: tuple[Suspect, ...]) -> dict[str, float]:
    """Return part (with its number) -> the suspicion that it is bad itself, up to 1."""
    found: dict[str, float] = {}
    for suspect in suspects:
        for at in suspect.fault.at:
            if at in bench.book.kinds:
                part = kind_of(at) + (suspect.number if bench.book.kinds[at].many else "")
                found[part] = min(1.0, found.get(part, 0.0) + suspect.p)
    return found
