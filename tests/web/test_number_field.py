"""A number is entered as the instrument shows it: a resistance in thousands, or with no end.

Common practice, no source: a meter shows OL where a resistance is more than its highest range.
"""

import pytest
from folding import BOOK

from halfsplit.errors import WebError
from halfsplit.job.findings import INSIDE
from halfsplit.job.numbers import HIGH, side_of
from halfsplit.model.job import Measure
from halfsplit.web.number_field import OPEN_OHMS, PREFIX, number_field, numbers_text, read_reading

OHMS = sorted(point.id for point in BOOK.measurements.values() if point.unit == "ohms")


@pytest.mark.parametrize(
    ("said", "ohms"),
    [
        ("OL", OPEN_OHMS),
        ("ol", OPEN_OHMS),
        ("0L", OPEN_OHMS),
        ("O.L", OPEN_OHMS),
        ("4.7k", 4700.0),
        ("4,7 k", 4700.0),
        ("20M", 2e7),
        ("0.3", 0.3),
        ("47", 47.0),
    ],
)
def test_a_resistance_is_read_as_a_meter_shows_it(said, ohms):
    assert read_reading("core", said, "ohms") == pytest.approx(ohms)


@pytest.mark.parametrize(
    ("said", "unit"),
    [("OL", "volts"), ("4.7k", "volts"), ("k", "ohms"), ("1e999k", "ohms"), ("4.7 m", "ohms"), ("OLL", "ohms")],
)
def test_what_no_meter_shows_so_is_refused(said, unit):
    with pytest.raises(WebError, match="HS805"):
        read_reading("core", said, unit)


@pytest.mark.parametrize("point", OHMS)
def test_no_end_lies_on_the_side_where_a_larger_number_would(point):
    noun = BOOK.measurements[point]
    assert side_of(OPEN_OHMS, noun) == (INSIDE if noun.high is None else HIGH)
    (text,) = numbers_text({f"{PREFIX}{point}:idle:owner": ("OL",)}, BOOK)
    assert "ohms: 20000000" in text


def test_the_field_says_that_no_end_may_be_written_and_lets_letters_be_typed():
    ohms = number_field(Measure("", what="core_ohms"), BOOK)
    volts = number_field(Measure("", what="rail_12v"), BOOK)
    assert (ohms.has_letters, volts.has_letters) == (True, False)
    assert ohms.limits == "at least 2\u00a0Ω; OL where the meter shows no end"
