"""Simple policies: repairs one after the other in some order, and swaps of the most suspected part."""

from collections.abc import Callable
from types import MappingProxyType

from halfsplit.job.advised import FIRST
from halfsplit.simulate.benches import Bench
from halfsplit.simulate.suspects import Option, options_of, part_suspicions, suspects_of

LEAST_CURE = 0.02
"""What cures less likely than this is not tried."""

MOST_REPAIRS = 12
"""After so many repairs in vain the machine is handed back."""

SWAPS = MappingProxyType(
    {"supply": "hooked_up_supply", "memory": "shelf_memory", "card": "shelf_card", "drive": "drive_in_bench"}
)
"""Kind of part -> the check that tries one of the shelf in its place."""


def likeliest_first(bench: Bench) -> None:
    """Do one step: the repair that most likely cures the likeliest fault."""
    _repair_by(bench, lambda option: (option.best, -option.cents))


def cheapest_first(bench: Bench) -> None:
    """Do one step: the cheapest of all repairs that may cure something."""
    _repair_by(bench, lambda option: (-option.cents, option.best))


def p_over_c(bench: Bench) -> None:
    """Do one step: the repair that cures most for its cost, and no check."""
    _repair_by(bench, lambda option: (option.p / option.cents, option.p))


def swap_the_suspect(bench: Bench) -> None:
    """Do one step: try another part in the place of the most suspected one, and replace it where that helps."""
    if not _is_met(bench):
        return
    parts = part_suspicions(bench, suspects_of(bench))
    for part in sorted(parts, key=lambda name: (-parts[name], name)):
        kind = part.partition(".")[0]
        replacing = bench.replacing.get(kind)
        if replacing is None or f"{replacing}@{part}" in bench.done or parts[part] < LEAST_CURE:
            continue
        if part not in bench.places(bench.book.repairs[replacing]):
            continue
        bench.done.add(f"{replacing}@{part}")
        swap = SWAPS.get(kind)
        if swap is not None and (tried := bench.check(swap)) is not None and not tried.is_fine:
            return
        _mend(bench, replacing, part)
        return
    bench.hand_back()


def _repair_by(bench: Bench, worth: Callable[[Option], tuple[float, float]]) -> None:
    """Do one step: the repair that is worth most, with its re-check, and the proof where that was fine."""
    if not _is_met(bench):
        return
    options = [o for o in options_of(bench, suspects_of(bench), frozenset(bench.done)) if o.p >= LEAST_CURE]
    if not options or len(bench.done) >= MOST_REPAIRS:
        bench.hand_back()
        return
    best = max(options, key=lambda option: (*worth(option), option.repair.id, option.at))
    _mend(bench, best.repair.id, best.at)


def _is_met(bench: Bench) -> bool:
    """Do what every job begins with; return whether it was done before."""
    if not bench.path:
        bench.clear_power()
        bench.check(FIRST)
        return False
    return True


def _mend(bench: Bench, name: str, at: str) -> None:
    bench.done.add(f"{name}@{at}")
    found = bench.repair(name, at)
    if found is None or found.is_fine:
        bench.prove()
