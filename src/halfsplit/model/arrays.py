"""Kinds of arrays, by what they hold."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Rows = NDArray[np.int32]
"""Numbers of the rows of a table: there are many of them, each far below two thousand million."""
Bools = NDArray[np.bool_]
