"""What every number of a book rests on."""

from pathlib import Path

import pytest

from halfsplit.book import bases, list_sources, shipped_book_dir, write_bases

GOOD = Path(__file__).parents[1] / "books" / "good" / "three_parts"


def test_a_number_is_listed_with_its_field_its_basis_and_its_place() -> None:
    by_field = {basis.field: basis for basis in bases([GOOD])}
    assert by_field["faults.supply_trips.base"][1:] == (
        0.012,
        "probability",
        0.5,
        "source: supply_guide",
        "three_parts/supply.yaml:32:15",
    )
    assert by_field["openings.side_panel.minutes.1"].unit == "minutes"
    assert by_field["faults.supply_trips.patterns.trips.acts.1.ends.2.stop.resets"].value == 600.0
    assert by_field["strengths.often"].value == 0.6


def test_a_strength_word_is_listed_once_where_it_is_defined() -> None:
    assert "faults.supply_no_standby.patterns.dead.acts.1.q" not in {basis.field for basis in bases([GOOD])}


@pytest.mark.parametrize("folder", [GOOD, shipped_book_dir()], ids=["three_parts", "shipped"])
def test_every_number_has_a_basis_and_a_spread_unless_it_is_certain(folder: Path) -> None:
    numbers = bases([folder])
    assert numbers
    for number in numbers:
        is_certain = number.unit == "probability" and number.value in (0.0, 1.0)
        assert number.basis
        assert (number.spread == 0.0) is is_certain


def test_every_number_in_the_text_of_the_good_book_is_listed() -> None:
    """A slow second way: whatever looks like a fraction in a field of a fault is on the list."""
    listed = {(basis.place.split(":")[1], basis.value) for basis in bases([GOOD]) if "supply.yaml" in basis.place}
    text = (GOOD / "supply.yaml").read_text(encoding="utf-8").splitlines()
    written = {
        (str(line), float(word))
        for line, content in enumerate(text, 1)
        for word in content.replace(",", " ").replace("}", " ").split()
        if line > 3 and word.startswith("0.")
    }
    written -= {(line, value) for line, value in written if f"spread: {value:g}" in text[int(line) - 1]}
    assert written
    assert written <= listed


def test_the_page_has_each_number_once_in_the_table_of_its_basis() -> None:
    """Counted a second way: by the semicolons between the numbers of a row."""
    numbers = bases([GOOD])
    page = write_bases(numbers, list_sources([GOOD]))
    for part in page.split("\n## ")[1:]:
        basis = part.splitlines()[0]
        rows = [line.split(" | ") for line in part.splitlines() if "three_parts/" in line]
        many = sum(len(row[1].split("; ")) for row in rows)
        assert many == sum(number.basis.lower() == basis.lower() for number in numbers)
    assert "| faults.supply_trips | base 0.012 | 0.5 | three_parts/supply.yaml |" in page
    assert "| strengths.often | 0.6 | 0.7 | three_parts/words.yaml |" in page


def test_a_published_source_is_cited_in_full() -> None:
    page = write_bases(bases([GOOD]), list_sources([GOOD]))
    assert "## Source: supply_guide\n\nATX12V Power Supply Design Guide, revision 2.0: rail limits in table 2\n" in page


def test_limits_of_a_measurement_rest_on_the_source_that_it_names() -> None:
    by_field = {basis.field: basis.basis for basis in bases([shipped_book_dir()])}
    assert by_field["measurements.usb_volts.high"] == "source: usb_vbus"
    assert by_field["measurements.usb_volts.spread"] == "estimate"


def test_the_document_is_what_the_shipped_book_makes() -> None:
    """To make it anew: ``halfsplit book basis > docs/basis.md``."""
    dirs = [shipped_book_dir()]
    document = Path(__file__).parents[2] / "docs" / "basis.md"
    assert document.read_text(encoding="utf-8") == write_bases(bases(dirs), list_sources(dirs))
