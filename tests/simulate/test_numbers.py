"""Numbers that an instrument shows: on the side of the limits where they truly lie, and as it would show them."""

import numpy as np
import pytest
from folding import BOOK

from halfsplit.job.numbers import limits_of
from halfsplit.simulate.numbers import number_shown

DIGITS = {"volts": 2, "ohms": 1, "watts": 0, "celsius": 0, "rpm": 0}
"""What instruments of a bench show behind the point (common practice, no source)."""


@pytest.mark.parametrize("name", sorted(BOOK.measurements))
def test_a_number_lies_where_it_truly_does_and_has_no_more_digits_than_an_instrument_shows(name):
    point, rng = BOOK.measurements[name], np.random.default_rng(1)
    low, high = limits_of(point)
    shown = []
    for state in ("", *(["low"] if low is not None else []), *(["high"] if high is not None else [])):
        for _ in range(40):
            value, is_fine = number_shown(point, state, slips=False, rng=rng)
            inside = (low is None or value >= low) and (high is None or value <= high)
            assert is_fine == (state == "")
            assert inside == is_fine or value in (0.0, low, high), (state, value)
            shown.append(value)
    assert sum(value == round(value, DIGITS[point.unit]) for value in shown) >= 0.8 * len(shown)
