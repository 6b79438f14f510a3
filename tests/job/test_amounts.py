"""Amounts for people: the usual symbol after a number, with a space at which no line is broken; one is no plural.

Symbols and the space: the SI Brochure, 9th edition (BIPM 2019), tables 2 and 4 (V, Ω, W, °C), table 7 (m, k, M, G),
table 8 (min, h), section 5.4.3 ("a space is always used to separate the unit from the number").
"""

import pytest
from folding import BOOK, job_of

from halfsplit.job.amounts import NO_BREAK, SYMBOLS, amount, counted, length_in_words
from halfsplit.job.lines import line_of, numbered, numbered_at, title_of, title_of_point
from halfsplit.job.units import Pair

SI = {"volts": "V", "ohms": "Ω", "watts": "W", "celsius": "°C", "seconds": "s", "minutes": "min", "hours": "h"}


@pytest.mark.parametrize(
    ("value", "unit", "said"),
    [
        (11.42, "volts", "11.42 V"),
        (0.05, "volts", "50 mV"),
        (-11.9, "volts", "-11.9 V"),
        (0.0, "volts", "0 V"),
        (850.0, "ohms", "850 Ω"),
        (4700.0, "ohms", "4.7 kΩ"),
        (2e6, "ohms", "2 MΩ"),
        (99.0, "celsius", "99 °C"),
        (65.0, "watts", "65 W"),
        (1200.0, "rpm", "1200 rpm"),
        (1.0, "minutes", "1 min"),
        (1.0, "days", "1 day"),
        (3.0, "days", "3 days"),
        (0.5, "", "0.5"),
    ],
)
def test_a_number_has_its_symbol_behind_a_space_at_which_no_line_is_broken(value, unit, said):
    assert amount(value, unit) == said.replace(" ", NO_BREAK)


def test_symbols_are_those_of_the_si_and_every_unit_of_the_book_has_one():
    assert {unit: SYMBOLS[unit] for unit in SI} == SI
    assert {point.unit for point in BOOK.measurements.values()} <= SYMBOLS.keys()


@pytest.mark.parametrize("unit", sorted({point.unit for point in BOOK.measurements.values()}))
def test_a_measured_number_stands_in_the_log_with_its_symbol(unit):
    point = next(each.id for each in BOOK.measurements.values() if each.unit == unit and "." not in each.id)
    (measured,) = job_of(f"measure: {{at: {point}, {unit}: 12}}").log
    assert line_of([measured], BOOK).endswith(f": 12{NO_BREAK}{SYMBOLS[unit]}")


@pytest.mark.parametrize(
    ("many", "said"), [(0, "0 runs"), (1, "1 run"), (1.0, "1 run"), (1.5, "1.5 runs"), (2, "2 runs")]
)
def test_one_is_no_plural(many, said):
    assert counted(many, "run") == said.replace(" ", NO_BREAK)
    assert counted(many, "switch", "switches").endswith("switch" if many == 1 else "switches")


@pytest.mark.parametrize(
    ("seconds", "said"),
    [(90.0, "1.5 min"), (400.0, "6.7 min"), (7200.0, "2 h"), (86_400.0, "1 day"), (1_209_600.0, "2 weeks")],
)
def test_a_length_of_time_is_said_in_two_digits(seconds, said):
    assert length_in_words(seconds) == said.replace(" ", NO_BREAK)


def test_the_number_of_a_part_is_said_in_one_way_whatever_it_stands_in():
    seat = Pair("memory_seat", (("memory.2", "owner.memory.1"), ("board", "owner.board")))
    module = numbered(BOOK.kinds["memory"].title, ".2")
    assert module == f"memory module no.{NO_BREAK}2"
    assert title_of("owner.memory.2", BOOK) == module
    assert numbered_at("memory module bad", "memory.2", BOOK) == f"{module} bad"
    assert numbered_at("contacts cleaned", "memory_seat.2", BOOK) == f"contacts cleaned no.{NO_BREAK}2"
    for repair, after in (("reseat_memory", " out and home again"), ("clean_memory_contacts", " and slot cleaned")):
        assert numbered_at(BOOK.repairs[repair].title, "memory_seat.2", BOOK).endswith(f"{module}{after}")
    assert numbered_at("case fan not plugged in, or on the wrong header", "fan_plug.1", BOOK) == (
        f"case fan no.{NO_BREAK}1 not plugged in, or on the wrong header"
    )
    assert numbered_at("main board dead", "board", BOOK) == "main board dead"
    assert numbered_at("24-pin plug half in", "new.supply.1", BOOK) == "24-pin plug half in (new power supply)"
    assert numbered_at("memory module bad", "memory.2:new.memory.1", BOOK) == f"{module} bad"
    assert title_of_point("drive_temp.2", BOOK).startswith(f"temperature of the drive no.{NO_BREAK}2")
    assert numbered("x", "memory_seat.2(owner.memory.1+owner.board)") == f"x no.{NO_BREAK}2"
    assert numbered("drive", "drive.1.system") == f"drive no.{NO_BREAK}1"
    assert title_of(seat, BOOK) == (
        f"{numbered(BOOK.joints['memory_seat'].title, '.2')} ({numbered(BOOK.kinds['memory'].title, '.1')})"
    )
    assert numbered("processor", "owner.processor") == "processor"
