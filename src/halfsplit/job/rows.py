"""Rows of numbers of which most are 0: of a run's many results one row has few, and only those are kept."""

from dataclasses import dataclass

import numpy as np

from halfsplit.model.arrays import Floats, Ints


@dataclass(frozen=True)
class Rows:
    """N rows of numbers.

    Args:
        row, column: where the numbers stand that are not 0, row by row, shape (E,) each.
        value: the numbers, shape (E,).
        many: N.
    """

    row: Ints
    column: Ints
    value: Floats
    many: int

    def mixed(self, weights: Floats, columns: int) -> Floats:
        """Return the sum of all rows, each times its weight, shape (columns,)."""
        return np.bincount(self.column, weights[self.row] * self.value, columns).astype(np.float64, copy=False)

    def of(self, columns: Ints) -> Floats:
        """Return some columns, which are all different, shape (N, columns)."""
        place = np.full(max(self.column.max(initial=0), columns.max(initial=0)) + 1, -1, dtype=np.int64)
        place[columns] = np.arange(len(columns))
        here = np.flatnonzero(place[self.column] >= 0)
        found = np.zeros((self.many, len(columns)))
        found[self.row[here], place[self.column[here]]] = self.value[here]
        return found

    def then(self, row: Ints, column: Ints, value: Floats, many: int) -> "Rows":
        """Return these rows, and then more.

        Args:
            row, column, value: the numbers of the others; where several have the same place their sum stands there.
            many: how many others there are.
        """
        results = int(column.max(initial=0)) + 1
        places, of = np.unique(row * results + column, return_inverse=True)
        return Rows(
            np.concatenate([self.row, self.many + places // results]),
            np.concatenate([self.column, places % results]),
            np.concatenate([self.value, np.bincount(of.ravel(), value, len(places))]),
            self.many + many,
        )


NO_ROWS = Rows(np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64), np.zeros(0), 0)
