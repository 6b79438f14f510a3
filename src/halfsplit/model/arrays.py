"""Kinds of arrays, by what they hold."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Rows = NDArray[np.int32]
"""Numbers of rows: there are many of them, and of rows far fewer than two thousand million."""
Bools = NDArray[np.bool_]
