"""Rows of which most numbers are 0 are the same as a whole table of them."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from halfsplit.job.rows import NO_ROWS

RESULTS = 9


def drawn(rng, many):
    """Draw the numbers of some rows, several of them at the same place, and the same as a table."""
    lines = rng.integers(0, 4 * many + 1)
    row, column = np.sort(rng.integers(0, many, lines)), rng.integers(0, RESULTS, lines)
    value = rng.random(lines)
    table = np.zeros((many, RESULTS))
    np.add.at(table, (row, column), value)
    return row, column, value, table


@pytest.mark.parametrize("seed", range(20))
def test_rows_that_come_in_parts_are_one_table(seed):
    rng = np.random.default_rng(seed)
    rows, tables = NO_ROWS, [np.zeros((0, RESULTS))]
    for _ in range(rng.integers(1, 4)):
        many = int(rng.integers(1, 30))
        row, column, value, table = drawn(rng, many)
        rows = rows.then(row, column, value, many)
        tables.append(table)
    whole = np.vstack(tables)
    weights = rng.random(len(whole))
    columns = rng.permutation(RESULTS)[: rng.integers(1, RESULTS)]
    assert rows.many == len(whole)
    assert len(rows.value) == np.count_nonzero(whole)
    assert_allclose(rows.mixed(weights, RESULTS), weights @ whole, rtol=1e-12, atol=1e-15)
    assert_allclose(rows.of(columns), whole[:, columns], rtol=1e-12)
    assert_allclose(rows.of(np.array([RESULTS + 3])), np.zeros((len(whole), 1)))
