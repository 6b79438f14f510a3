"""Numbers from instruments: how well each fits where its point may lie."""

from collections.abc import Iterable

from halfsplit.errors import MeasurementError, Mistake
from halfsplit.job.findings import INSIDE
from halfsplit.measure import (
    BENCH_METER,
    Limits,
    Spread,
    StateWeights,
    parse_meter,
    quantity_weights,
    rail_limits,
    state_weights,
)
from halfsplit.model.bench import Measurement
from halfsplit.model.book import Book
from halfsplit.model.job import Entry, Measure

SHARE_OF_READING = 0.05
"""How far off a number may be that no voltmeter took: a share of what was shown (estimate)."""

LEAST_HALF_WIDTH = 0.02
"""And at least this share of how far a bad value typically lies outside (estimate)."""


LOW, HIGH = "low", "high"

SIDES = (LOW, INSIDE, HIGH)
"""On which side of its limits a number may lie; low is the side of naught, on a negative rail too."""


def limits_of(point: Measurement) -> tuple[float | None, float | None]:
    """Return the limits of a point, those of its rail where it is one; either may be open."""
    if not point.rail:
        return point.low, point.high
    limits = rail_limits(point.rail)
    return limits.low_volts, limits.high_volts


def side_of(value: float, point: Measurement) -> str:
    """Return on which side of its limits a number lies as it was shown; a limit itself is inside."""
    low, high = limits_of(point)
    if high is not None and high <= 0.0:
        low, high, value = -high, None if low is None else -low, -value
    if low is not None and value < low:
        return LOW
    return HIGH if high is not None and value > high else INSIDE


def find_bad_numbers(log: Iterable[Entry], book: Book) -> list[Mistake]:
    """Return a mistake (HS207) for each number of the log that its instrument cannot have shown."""
    mistakes = []
    for entry in log:
        if isinstance(entry, Measure):
            try:
                weights_of(entry, book.measurements[entry.what.partition(".")[0]])
            except MeasurementError as error:
                place = entry.place or entry.id
                mistakes += [Mistake(place, "HS207", wrong.so, wrong.should, wrong.do) for wrong in error.mistakes]
    return mistakes


def weights_of(entry: Measure, point: Measurement) -> StateWeights:
    """Return how well a number fits each state of its point, with the meter as it was told."""
    low, high = limits_of(point)
    if point.unit != "volts":
        half_width = SHARE_OF_READING * abs(entry.value) + LEAST_HALF_WIDTH * point.spread
        return quantity_weights(entry.value, half_width, low, high, spread=point.spread)
    meter = BENCH_METER
    if "%" in entry.meter:
        meter = parse_meter(entry.meter, resolution_volts=BENCH_METER.resolution_volts)
    if low is None or high is None:
        return quantity_weights(entry.value, meter.half_width_volts(entry.value), low, high, spread=point.spread)
    return state_weights(entry.value, Limits(low, high), meter, Spread(point.spread, point.spread))
