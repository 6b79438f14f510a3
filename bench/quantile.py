"""The time that 95 of 100 keep to."""

from collections.abc import Sequence

import numpy as np


def p95(taken: Sequence[float]) -> float:
    """Return the smallest of some times that at least 95 % of them do not exceed.

    Definition 1 of R. J. Hyndman and Y. Fan, Sample Quantiles in Statistical Packages, The American Statistician 50,
    1996.
    """
    return float(np.quantile(taken, 0.95, method="inverted_cdf"))
