"""The rail limits of the supply design guides.

ATX12V Power Supply Design Guide 2.0, table 2, was read, and so was table 3-5 of the ATX Version 3
Multi Rail guide (336521).  Table 4-2 of the latter was not, but for +5VSB; of its +12 V row the
percentages were read in a second place.  What is only recalled is no oracle and is not checked here.
"""

import pytest

from halfsplit.measure import PUBLISHED_RAIL_LIMITS, rail_limits


@pytest.mark.parametrize(
    ("rail", "low_volts", "high_volts"),
    [
        ("+12V", 11.40, 12.60),
        ("+5V", 4.75, 5.25),
        ("+3.3V", 3.14, 3.47),
        ("-12V", -13.20, -10.80),
        ("+5VSB", 4.75, 5.25),
    ],
)
def test_table_2_of_the_2_0_guide(rail: str, low_volts: float, high_volts: float) -> None:
    limits = rail_limits(rail, "2.0")
    assert (limits.low_volts, limits.high_volts) == (low_volts, high_volts)


@pytest.mark.parametrize(
    ("rail", "nominal_volts", "percent"),
    [("+12V", 12.0, 5), ("+5V", 5.0, 5), ("+3.3V", 3.3, 5), ("-12V", -12.0, 10), ("+5VSB", 5.0, 5)],
)
def test_the_printed_limits_of_2_x_are_the_printed_percentages(rail: str, nominal_volts: float, percent: int) -> None:
    limits = rail_limits(rail, "2.x")
    width_volts = abs(nominal_volts) * percent / 100
    # The guide rounds 3.135 and 3.465 to the next hundredth.
    assert limits.low_volts == pytest.approx(nominal_volts - width_volts, abs=0.0051)
    assert limits.high_volts == pytest.approx(nominal_volts + width_volts, abs=0.0051)


def test_the_smaller_magnitude_of_the_negative_rail_is_its_upper_limit() -> None:
    limits = rail_limits("-12V")
    assert limits.high_volts == -10.80
    assert not limits.contains(-10.5)
    assert limits.contains(-13.0)


def test_table_3_5_of_the_3_x_guide_allows_8_percent_less_at_the_pcie_connectors() -> None:
    limits = rail_limits("+12V PCIe", "3.0")
    assert limits.low_volts == pytest.approx(12.0 * 0.92)
    assert limits.high_volts == pytest.approx(12.0 * 1.05)


def test_3_x_widens_the_12_volt_rail_below_only() -> None:
    old, new = rail_limits("+12V", "2.x"), rail_limits("+12V", "3.x")
    assert new.high_volts == old.high_volts
    assert 12.0 * 0.93 <= new.low_end_volts < old.low_end_volts


def test_standby_is_the_same_in_both() -> None:
    old, new = rail_limits("+5VSB", "2.x"), rail_limits("+5VSB", "3.x")
    assert (old.low_volts, old.high_volts) == (new.low_volts, new.high_volts) == (4.75, 5.25)


def test_what_is_from_memory_says_so() -> None:
    unconfirmed = {key for key, limits in PUBLISHED_RAIL_LIMITS.items() if "not confirmed" in limits.source}
    assert unconfirmed == {("+12V", "3.x"), ("+5V", "3.x"), ("+3.3V", "3.x"), ("-12V", "3.x")}
