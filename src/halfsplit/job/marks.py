"""Marks by which sets of numbers are known: equal sums of marks are equal sets."""

import numpy as np

from halfsplit.model.arrays import Ints


def marks_of(numbers: Ints) -> Ints:
    """Return a mark for each number, 0 for -1: equal sums are equal sets, but for one pair in 10^19.

    The mixing steps of splitmix64 (G. L. Steele, D. Lea and C. H. Flood, Fast splittable pseudorandom number
    generators, OOPSLA 2014).
    """
    mixed_up = (numbers + 1).astype(np.uint64) * np.uint64(0x9E3779B97F4A7C15)
    mixed_up = (mixed_up ^ (mixed_up >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    mixed_up = (mixed_up ^ (mixed_up >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return (mixed_up ^ (mixed_up >> np.uint64(31))).view(np.int64)
