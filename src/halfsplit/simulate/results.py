"""What a machine came to under a policy, and sums over many machines."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Played:
    """One machine under one policy; sums in cents.

    Args:
        policy: the policy.
        number: the machine's number.
        complaint: its class of complaint.
        cents: what the job cost in all.
        time, parts, damage, end: of that, time and waiting; parts bought; harm done; what was left.
        hands: hands-on minutes.
        replaced, needless: parts bought, and those of them that replaced one with no fault.
        ended: how it ended.
        faults: what was wrong with it that matters.
        left: what was left of that, or was brought in.
        path: what was done.
    """

    policy: str
    number: int
    complaint: str
    cents: float
    time: float
    parts: float
    damage: float
    end: float
    hands: float
    replaced: int
    needless: int
    ended: str
    faults: tuple[str, ...]
    left: tuple[str, ...]
    path: tuple[str, ...]


def of_policy(results: Iterable[Played], policy: str, complaint: str = "") -> tuple[Played, ...]:
    """Return the results of one policy, of one class of complaint or of all."""
    return tuple(each for each in results if each.policy == policy and complaint in ("", each.complaint))


def mean_cents(results: Sequence[Played]) -> float:
    """Return the mean cost of a machine, in cents."""
    return sum(each.cents for each in results) / len(results)


def mean_needless(results: Sequence[Played]) -> float:
    """Return how many needless parts were bought for a machine, on average."""
    return sum(each.needless for each in results) / len(results)
