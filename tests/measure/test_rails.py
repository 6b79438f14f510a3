"""Rails and revisions are found under the names that people write."""

import pytest

from halfsplit.errors import MeasurementError
from halfsplit.measure import PUBLISHED_RAIL_LIMITS, RAIL_NAMES, rail_limits, rail_name, rail_revision


@pytest.mark.parametrize(
    ("written", "rail"),
    [
        ("+12V", "+12V"),
        ("12v", "+12V"),
        ("12 V", "+12V"),
        ("12 volts", "+12V"),
        ("12V2", "+12V"),
        ("-12V", "-12V"),
        ("\N{MINUS SIGN}12 V", "-12V"),
        ("- 12v", "-12V"),
        ("5V", "+5V"),
        ("+5V", "+5V"),
        ("3.3V", "+3.3V"),
        ("3,3 V", "+3.3V"),
        ("3v3", "+3.3V"),
        ("5VSB", "+5VSB"),
        ("+5VSB", "+5VSB"),
        ("+5 V_SB", "+5VSB"),
        ("5V standby", "+5VSB"),
        ("12V PCIe", "+12V PCIe"),
        ("12V-2x6", "+12V PCIe"),
        ("12VHPWR", "+12V PCIe"),
    ],
)
def test_a_rail_is_known_as_people_write_it(written: str, rail: str) -> None:
    assert rail_name(written) == rail


@pytest.mark.parametrize("rail", RAIL_NAMES)
def test_every_rail_is_known_by_its_own_name(rail: str) -> None:
    assert rail_name(rail) == rail
    assert rail_name(rail.lower()) == rail


def test_an_unknown_rail_gets_the_list_and_a_guess() -> None:
    with pytest.raises(MeasurementError) as refusal:
        rail_name("5v stanby")
    (mistake,) = refusal.value.mistakes
    assert mistake.code == "HS502"
    assert "Did you mean +5VSB?" in mistake.do
    assert all(rail in mistake.should for rail in RAIL_NAMES)


@pytest.mark.parametrize("written", ["", "house current", "-5V"])
def test_a_rail_that_is_like_none_gets_no_guess(written: str) -> None:
    with pytest.raises(MeasurementError, match="HS502") as refusal:
        rail_name(written)
    assert "Did you mean" not in str(refusal.value)


@pytest.mark.parametrize(
    ("written", "family"),
    [
        ("2.x", "2.x"),
        ("2", "2.x"),
        ("2.2", "2.x"),
        ("2.31", "2.x"),
        ("v2.4", "2.x"),
        ("ATX12V 2.52", "2.x"),
        ("3.x", "3.x"),
        ("3.0", "3.x"),
        ("3.1", "3.x"),
        ("ATX 3.1", "3.x"),
    ],
)
def test_a_revision_belongs_to_its_family(written: str, family: str) -> None:
    assert rail_revision(written) == family


@pytest.mark.parametrize("written", ["", "1.3", "4.0", "2.1a", "23", "12V", "3.x.1", "ATX12VO"])
def test_an_unknown_revision_is_refused(written: str) -> None:
    with pytest.raises(MeasurementError, match=r"HS503 revision: .*2\.x and 3\.x"):
        rail_revision(written)


def test_a_rail_that_the_revision_does_not_have_is_refused() -> None:
    with pytest.raises(MeasurementError, match=r"HS504 rail: revision 2\.x .* known in 3\.x"):
        rail_limits("12V PCIe", "2.4")


def test_an_unknown_rail_and_revision_are_told_together() -> None:
    with pytest.raises(MeasurementError) as refusal:
        rail_limits("13V", "7.0")
    assert [mistake.code for mistake in refusal.value.mistakes] == ["HS502", "HS503"]


def test_every_published_limit_has_a_source_and_its_revision() -> None:
    for (_, revision), limits in PUBLISHED_RAIL_LIMITS.items():
        assert limits.source
        assert limits.revision == revision
