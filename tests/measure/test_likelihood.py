"""The weights of a reading, against integrals done the slow way."""

import dataclasses
import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfsplit.errors import MeasurementError
from halfsplit.measure import BENCH_METER, LEAST_WEIGHT, Limits, Meter, Spread, StateWeights, state_weights

RAIL = Limits(11.40, 12.60)
SPREAD = Spread(0.5, 0.5)
METERS = st.builds(Meter, st.floats(0, 3), st.integers(1, 20), st.sampled_from([0.001, 0.01, 0.1]))
SPREADS = st.builds(Spread, st.floats(0.02, 3), st.floats(0.02, 3), st.floats(0.02, 0.5))
NODES, NODE_WEIGHTS = np.polynomial.legendre.leggauss(400)


def log_integral(
    log_prior: Callable[[np.ndarray], np.ndarray], ends: tuple[float, float], scale: float, y: float, u: float
) -> float:
    """Log of the integral over the true value t of prior(t) x normal(y - t, u), between two ends."""

    def log_integrand(t: np.ndarray) -> np.ndarray:
        return log_prior(t) - 0.5 * ((y - t) / u) ** 2 - math.log(u * math.sqrt(2 * math.pi))

    low, high = ends
    while high - low > 1e-9:  # the integrand has one peak: find it, then integrate around it only
        thirds = np.array([low + (high - low) / 3, high - (high - low) / 3])
        first, second = log_integrand(thirds)
        low, high = (low, thirds[1]) if first > second else (thirds[0], high)
    width = 15 * min(u, scale)
    low, high = max(ends[0], low - width), min(ends[1], high + width)
    logs = log_integrand((low + high) / 2 + (high - low) / 2 * NODES)
    top = float(logs.max())
    return top + math.log((high - low) / 2 * float(np.dot(NODE_WEIGHTS, np.exp(logs - top))))


def slow_weights(y: float, limits: Limits, meter: Meter, spread: Spread) -> StateWeights:
    low, high = limits.low_end_volts, limits.high_end_volts
    u = meter.half_width_volts(y) / math.sqrt(3)

    def half_normal(distance: np.ndarray, s: float) -> np.ndarray:
        return math.log(2 / (s * math.sqrt(2 * math.pi))) - 0.5 * (distance / s) ** 2

    def below(t: np.ndarray) -> np.ndarray:
        return half_normal(low - t, spread.low_scale_volts)

    def inside(t: np.ndarray) -> np.ndarray:
        return np.full_like(t, -math.log(high - low))

    def above(t: np.ndarray) -> np.ndarray:
        return half_normal(t - high, spread.high_scale_volts)

    def around_zero(t: np.ndarray) -> np.ndarray:
        return half_normal(t, spread.absent_scale_volts) - math.log(2)

    logs = [
        log_integral(below, (-200.0, low), spread.low_scale_volts, y, u),
        log_integral(inside, (low, high), math.inf, y, u),
        log_integral(above, (high, 200.0), spread.high_scale_volts, y, u),
        log_integral(around_zero, (-200.0, 200.0), spread.absent_scale_volts, y, u),
    ]
    return StateWeights(*(math.exp(log - max(logs)) for log in logs))


@given(st.floats(-2, 16), METERS, SPREADS)
def test_weights_agree_with_integrals_done_the_slow_way(reading_volts: float, meter: Meter, spread: Spread) -> None:
    fast = dataclasses.astuple(state_weights(reading_volts, RAIL, meter, spread))
    slow = dataclasses.astuple(slow_weights(reading_volts, RAIL, meter, spread))
    assert fast == pytest.approx(slow, rel=1e-6, abs=2 * LEAST_WEIGHT)


@given(
    st.floats(-1000, 1000),
    st.floats(-1e300, 1e300),
    st.floats(1e-6, 1e300),
    st.builds(Meter, st.floats(0, 99), st.integers(1, 1000), st.floats(1e-9, 100)),
    st.builds(Spread, st.floats(1e-6, 1000), st.floats(1e-6, 1000), st.floats(1e-6, 1000)),
)
def test_weights_are_above_zero_and_the_largest_is_one(
    reading_volts: float, low_volts: float, width_volts: float, meter: Meter, spread: Spread
) -> None:
    high_volts = max(low_volts + width_volts, math.nextafter(low_volts, math.inf))
    weights = dataclasses.astuple(state_weights(reading_volts, Limits(low_volts, high_volts), meter, spread))
    assert max(weights) == 1
    assert min(weights) >= LEAST_WEIGHT


@given(st.floats(-2, 16), METERS, SPREADS, st.sampled_from([0.5, 2.0, 4.0]))
def test_the_unit_of_volts_does_not_matter(reading_volts: float, meter: Meter, spread: Spread, factor: float) -> None:
    one = state_weights(reading_volts, RAIL, meter, spread)
    other = state_weights(
        reading_volts * factor,
        Limits(11.40 * factor, 12.60 * factor),
        Meter(meter.percent_of_reading, meter.digits, meter.resolution_volts * factor),
        Spread(
            spread.low_scale_volts * factor,
            spread.high_scale_volts * factor,
            spread.absent_scale_volts * factor,
        ),
    )
    assert dataclasses.astuple(other) == pytest.approx(dataclasses.astuple(one), rel=1e-9)


@given(st.floats(-16, 2), METERS, SPREADS)
def test_low_on_a_negative_rail_means_weak(reading_volts: float, meter: Meter, spread: Spread) -> None:
    negative = state_weights(reading_volts, Limits(-12.60, -11.40), meter, spread)
    assert negative == state_weights(-reading_volts, RAIL, meter, spread)


@pytest.mark.parametrize(
    ("reading_volts", "state"),
    [(0.0, "absent"), (0.15, "absent"), (10.5, "low"), (11.9, "inside"), (13.1, "high"), (30.0, "high")],
)
def test_a_clear_reading_speaks_for_one_state(reading_volts: float, state: str) -> None:
    weights = dataclasses.asdict(state_weights(reading_volts, RAIL, BENCH_METER, SPREAD))
    assert [name for name, weight in weights.items() if weight > 0.01] == [state]


def test_a_reading_on_a_limit_says_little() -> None:
    weights = state_weights(11.40, RAIL, BENCH_METER, SPREAD)
    assert 0.3 < weights.inside / weights.low < 3


def test_a_better_meter_tells_more() -> None:
    coarse = state_weights(11.30, RAIL, Meter(1.0, 5, 0.01), SPREAD)
    fine = state_weights(11.30, RAIL, Meter(0.1, 2, 0.001), SPREAD)
    assert fine.inside < coarse.inside


@pytest.mark.parametrize("scale_volts", [0.0, -1.0, math.nan, math.inf, 1e4])
def test_a_spread_of_nonsense_is_refused(scale_volts: float) -> None:
    with pytest.raises(MeasurementError) as refusal:
        Spread(scale_volts, scale_volts, scale_volts)
    assert [mistake.code for mistake in refusal.value.mistakes] == ["HS509"] * 3


@pytest.mark.parametrize(("limits", "side"), [(Limits(None, 0.12), "low"), (Limits(2.4, None), "high")])
def test_an_open_side_is_refused(limits: Limits, side: str) -> None:
    with pytest.raises(MeasurementError, match=f"HS510 limits, {side}"):
        state_weights(0.1, limits, BENCH_METER, SPREAD)
