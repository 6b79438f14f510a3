"""How honest claims are: each a probability beside whether it was so, several of them about one job.

Claims about one job hang together, so whatever is said of many of them is said with the jobs as the units: z scores
add up by job, and an interval is that of as many claims as they are worth.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

EDGES = (0.0, 0.05, 0.15, 0.25, 0.35, 0.45, 0.55, 0.65, 0.75, 0.85, 0.95)
"""Where the bins of claims begin: around whole tens of percents."""

Z_95 = 1.959964
"""The normal deviate of a 95 % interval."""

DRAWS = 200
"""Draws of what chance alone makes of honest claims."""


@dataclass(frozen=True)
class Claim:
    """A probability that was claimed for something about one job, and whether it was so."""

    job: int
    p: float
    is_so: bool


@dataclass(frozen=True)
class Bin:
    """Claims of about the same size.

    Args:
        claimed: their mean.
        right: the share of them that were so.
        low, high: the 95 % interval of that share, with the jobs as units.
        many: claims.
        jobs: jobs that they are about.
    """

    claimed: float
    right: float
    low: float
    high: float
    many: int
    jobs: int

    @property
    def holds(self) -> bool:
        """Whether what was claimed lies within the interval of what was so."""
        return self.low <= self.claimed <= self.high


@dataclass(frozen=True)
class Brier:
    """The Brier score of claims: the mean of (so - p)^2 (Brier 1950, of one of the two classes).

    Args:
        score: as it came out.
        expected: the mean of p (1 - p), which it is on average where the claims are true.
        z: the difference over its standard error, added up by job; 0 where nothing can differ.
    """

    score: float
    expected: float
    z: float


@dataclass(frozen=True)
class Parts:
    """What a Brier score is made of: reliability - resolution + uncertainty (Murphy 1973)."""

    reliability: float
    resolution: float
    uncertainty: float


def brier(claims: Sequence[Claim]) -> Brier:
    """Return the Brier score of claims, beside what it is if they are true.

    The sum over a job of (so - p)^2 - p (1 - p) has mean 0 under the claims (Spiegelhalter 1986); its variance is
    taken from the jobs, because what is claimed about one job is not independent.
    """
    p, so, job = _columns(claims)
    off = (so - p) ** 2 - p * (1.0 - p)
    return Brier(float(((so - p) ** 2).mean()), float((p * (1.0 - p)).mean()), _z(off, job))


def excess(claims: Sequence[Claim]) -> tuple[float, float, float]:
    """Return how many things were so, how many were to be expected by the claims, and the z score by job."""
    p, so, job = _columns(claims)
    return float(so.sum()), float(p.sum()), _z(so - p, job)


def parts_of_brier(claims: Sequence[Claim]) -> Parts:
    """Return the parts of a Brier score, over groups of equal claims: exact for claims as they are written."""
    p, so, _ = _columns(claims)
    base = float(so.mean())
    values, group = np.unique(p, return_inverse=True)
    many = np.bincount(group)
    right = np.bincount(group, so) / many
    share = many / many.sum()
    return Parts(
        float((share * (values - right) ** 2).sum()), float((share * (right - base) ** 2).sum()), base * (1.0 - base)
    )


def curve(claims: Sequence[Claim], edges: Sequence[float] = EDGES) -> tuple[Bin, ...]:
    """Return claims in bins of their size; a bin without any is left out.

    Args:
        claims: the claims.
        edges: where the bins begin, in order; the last one ends with 1.
    """
    p, so, job = _columns(claims)
    place = np.searchsorted(np.asarray(edges), p, side="right") - 1
    return tuple(_bin(p[place == n], so[place == n], job[place == n]) for n in np.unique(place))


def interval(right: float, many: float) -> tuple[float, float]:
    """Return Wilson's 95 % interval (1927) of a share.

    Args:
        right: the share that was found.
        many: how many independent cases it was found in; any number above 0.
    """
    z2 = Z_95 * Z_95
    middle = (right + z2 / (2.0 * many)) / (1.0 + z2 / many)
    half = Z_95 * (right * (1.0 - right) / many + z2 / (4.0 * many * many)) ** 0.5 / (1.0 + z2 / many)
    return max(0.0, middle - half), min(1.0, middle + half)


def worth(so: NDArray[np.float64], job: NDArray[np.int64]) -> float:
    """Return how many independent claims some claims are worth, because several are about one job.

    Args:
        so: shape (claims,), 1 where it was so.
        job: shape (claims,), the job that each is about.

    Returns:
        Their number over the design effect (Kish 1965), by the variance of a ratio over whole jobs; never more than
        their number.  The number of jobs where all or none were so, or all are about one: nothing is told of the
        effect then.
    """
    jobs, place = np.unique(job, return_inverse=True)
    right = float(so.mean())
    if len(jobs) < 2 or right in (0.0, 1.0):
        return float(len(jobs))
    off = np.bincount(place, so - right)
    variance = float((off**2).sum()) * len(jobs) / (len(jobs) - 1) / len(so) ** 2
    return min(float(len(so)), right * (1.0 - right) / variance) if variance else float(len(so))


def calibration_error(bins: Sequence[Bin]) -> float:
    """Return the expected calibration error: the mean over claims of how far their bin is off."""
    return sum(one.many * abs(one.claimed - one.right) for one in bins) / sum(one.many for one in bins)


def error_by_chance(claims: Sequence[Claim], rng: Generator, edges: Sequence[float] = EDGES) -> float:
    """Return the calibration error that claims as many as these have on average where every one of them is true."""
    p, _, _ = _columns(claims)
    place = np.searchsorted(np.asarray(edges), p, side="right") - 1
    off = (rng.random((DRAWS, len(p))) < p) - p
    by_bin = np.stack([off[:, place == number].sum(axis=1) for number in range(len(edges))])
    return float(np.abs(by_bin).sum(axis=0).mean() / len(p))


def _bin(p: NDArray[np.float64], so: NDArray[np.float64], job: NDArray[np.int64]) -> Bin:
    right = float(so.mean())
    low, high = interval(right, worth(so, job))
    return Bin(float(p.mean()), right, low, high, len(p), len(np.unique(job)))


def _columns(claims: Sequence[Claim]) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.int64]]:
    """Return the claims as columns: p, 1 where it was so, and the number of the job, from 0."""
    p = np.array([claim.p for claim in claims], dtype=np.float64)
    so = np.array([claim.is_so for claim in claims], dtype=np.float64)
    _, job = np.unique([claim.job for claim in claims], return_inverse=True)
    return p, so, job.astype(np.int64)


def _z(off: NDArray[np.float64], job: NDArray[np.int64]) -> float:
    by_job = np.bincount(job, off)
    spread = float((by_job**2).sum()) ** 0.5
    return float(by_job.sum()) / spread if spread else 0.0
