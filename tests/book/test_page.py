"""Entries of the book as pages: what a fault's page says, and that every entry has one."""

import json
from dataclasses import fields, replace
from pathlib import Path

import pytest
from spaced import spaced

from halfsplit.book import (
    bases,
    field_in_words,
    list_entries,
    load_book,
    near_ids,
    page_of,
    sections_of,
    shipped_book,
    shipped_book_dir,
)
from halfsplit.book.neighbour import find_neighbour
from halfsplit.book.page import SECTIONS
from halfsplit.book.speech import Speech, chance, odds
from halfsplit.model.book import Book
from halfsplit.model.faults import Strength, When
from halfsplit.model.ladder import Ladder

GOOD = Path(__file__).parents[1] / "books" / "good" / "three_parts"
SHIPPED = shipped_book()
NUMBERS = bases([shipped_book_dir()])
RUN_WORDS = ("conditions", "positions", "starters", "touches")


def small() -> Book:
    book, mistakes = load_book(GOOD, cache=False)
    assert book is not None, mistakes
    return book


def chapters(entry_id: str, section: str = "faults") -> dict[str, tuple[str, ...]]:
    return dict(page_of(section, entry_id, small(), bases([GOOD])).chapters)


def test_the_page_of_a_fault_says_what_it_is_how_it_shows_and_what_to_do():
    said = chapters("supply_no_standby")
    assert said["owners say"] == ("\u201ccompletely dead\u201d",)
    assert said["how likely"][0].startswith("1 in 50 ")
    assert "storm or power cut: adds 1 in 10" in said["how likely"]
    assert "  always stops before 'standby power'" in said["how it shows"]
    assert "  cold: often stops before 'starts', supply clicks" in said["how it shows"]
    assert "  power at the wall when off: usually low" in said["how it shows"]
    assert said["told cheapest by"] == (
        "counter_run: counter run, 2\u00a0min",
        "standby_measured: standby voltage measured, 5\u00a0min",
    )
    assert said["cures"] == ("replace_supply: supply replaced: nearly always",)
    assert said["checked again by"] == ("counter_run: counter run",)
    assert said["what mending it may break"][0] == "supply replaced: 24-pin plug not home (1 in 100)"
    assert said["to the owner"] == ("The power supply no longer gives any power.",)


def test_a_page_has_every_number_of_its_entry_and_of_its_strength_words():
    page = page_of("faults", "supply_no_standby", small(), bases([GOOD]))
    fields = [number.field for number in page.numbers]
    assert "faults.supply_no_standby.base" in fields
    assert "faults.supply_no_standby.patterns.dead.share" in fields
    assert "strengths.nearly_always" in fields
    assert not [field for field in fields if "supply_trips" in field]
    for number in page.numbers:
        assert number.basis


def test_harm_and_timed_stops_are_said():
    said = spaced(" ".join(chapters("supply_trips")["how it shows"]))
    assert "under load on supply: usually, of which 70% cuts out about 1 min after log-in" in said
    assert "cuts out about 15 s after the start" in said
    assert "harms the main board at each power-up (1 in 100): main board dead" in said


def test_a_check_a_repair_a_sign_and_an_event_have_plain_pages():
    assert chapters("standby_measured", "checks")["time"][-1] == "5\u00a0min of hands with its openings"
    assert chapters("replace_supply", "repairs")["cures"][0] == (
        "supply_no_standby: power supply gives no standby power, nearly always"
    )
    assert chapters("clicking", "signs")["shown by"][0].startswith("supply_no_standby")
    assert chapters("storm", "events")["makes likelier"][0] == (
        "supply_no_standby: power supply gives no standby power, adds 1 in 10"
    )


@pytest.mark.parametrize("section", SECTIONS)
def test_every_entry_of_the_shipped_book_has_a_page_that_json_can_hold(section):
    for entry_id in list_entries(SHIPPED)[section]:
        page = page_of(section, entry_id, SHIPPED, NUMBERS)
        assert page.title
        assert page.chapters
        assert json.loads(json.dumps(page.to_json()))["id"] == entry_id


def test_a_page_of_a_fault_names_the_fault_that_is_hardest_to_tell_from_it():
    neighbour = find_neighbour("socket_pins_bent", SHIPPED)
    assert neighbour is not None
    assert neighbour.fault in SHIPPED.faults
    assert neighbour.check in SHIPPED.checks
    assert 0.0 <= neighbour.p_other < neighbour.p <= 1.0
    assert find_neighbour("unlisted_board", SHIPPED) is None


def test_ids_that_are_nearly_right_are_found():
    assert "socket_pins_bent" in near_ids("socket pins bend", SHIPPED)
    assert sections_of("counter_run", SHIPPED) == ("checks",)
    assert sections_of("nothing_of_that_name", SHIPPED) == ()


def test_a_number_of_its_own_is_said_with_the_nearest_word():
    speech = Speech(small())
    assert speech.strength(Strength(0.75, 0.7)) == "usually (0.75)"
    assert speech.strength(small().strengths["nearly_always"]) == "nearly always"
    assert speech.strength(Strength(1.0, 0.0)) == "1"


def test_conditions_are_said():
    when = When(load=("card", "supply"), cold=True, minutes_over=5.0, has=("board",), lacks=("monitor",))
    assert Speech(small()).when(when) == (
        "cold, under load on card or supply, after more than 5\u00a0min, with main board, without monitor"
    )


@pytest.mark.parametrize(
    ("p", "said"),
    [
        (0.004, "1 in 250"),
        (0.5, "1 in 2"),
        (0.6, "3 in 5"),
        (0.95, "19 in 20"),
        (0.99, "99 in 100"),
        (1.0, "always"),
        (0.0, "never"),
    ],
)
def test_chances_are_said_as_so_many_in_so_many(p, said):
    assert chance(p) == said


def test_odds_are_never_firmer_than_a_misreading_is_rare():
    assert odds(0.9, 0.3, 0.005) == "3 to 1"
    assert odds(0.9, 0.001, 0.005) == "more than 180 to 1"


def plain_text(page):
    return page.title, page.chapters


@pytest.mark.parametrize("section", SECTIONS)
def test_every_field_of_an_entry_is_on_its_page(section):
    """A field that another value is put into changes what the page says."""
    nouns = all_nouns(section)
    for field in fields(next(iter(nouns.values()))) if section != "run_words" else ():
        if field.name == "id" or (section == "strengths" and field.name == "word"):
            continue
        values = {repr(getattr(noun, field.name)): getattr(noun, field.name) for noun in nouns.values()}
        if len(values) == 1:  # all entries have the same: nothing is told by it
            continue
        assert any(
            plain_text(page_of(section, name, with_field(section, name, noun, field.name, other), ()))
            != plain_text(page_of(section, name, SHIPPED, ()))
            for name, noun in list(nouns.items())[:30]
            for key, other in list(values.items())[:3]
            if key != repr(getattr(noun, field.name))
        ), f"{section}: {field.name}"


def all_nouns(section):
    special = {
        "parts": SHIPPED.kinds,
        "ladder": {rung.id: rung for rung in SHIPPED.ladder.rungs},
        "tellers": {teller.id: teller for teller in SHIPPED.tellers},
        "forced": {str(number): forced for number, forced in enumerate(SHIPPED.forced, 1)},
        "run_words": {"positions": SHIPPED.positions},
    }
    return special[section] if section in special else getattr(SHIPPED, section)


def with_field(section, name, noun, field, value):
    """The shipped book with one field of one entry changed."""
    nouns = {**all_nouns(section), name: replace(noun, **{field: value})}
    match section:
        case "parts":
            return replace(SHIPPED, kinds=nouns)
        case "ladder":
            return replace(SHIPPED, ladder=Ladder(tuple(nouns.values())))
        case "tellers" | "forced":
            return replace(SHIPPED, **{section: tuple(nouns.values())})
    return replace(SHIPPED, **{section: nouns})


def test_every_section_of_the_book_has_pages_but_the_map_which_is_told_on_those_of_its_parts():
    named = {field.name for field in fields(Book)} - {"hash", "map", "kinds", *RUN_WORDS}
    assert named <= {*SECTIONS}
    assert {*list_entries(SHIPPED)["run_words"]} == {*RUN_WORDS}
    said = dict(page_of("parts", "memory", SHIPPED, NUMBERS).chapters)
    assert said["on the map"]


def test_a_rule_says_what_it_bars_and_what_raises_and_clears_it():
    said = dict(page_of("hazards", "no_power_after_liquid", SHIPPED, NUMBERS).chapters)
    assert said["bars"] == ("every start of the owner's machine, while it is raised",)
    assert "told: liquid spilt" in said["raised by"]
    assert any(line.startswith("done: ") for line in said["cleared by"])
    assert "raises 'no power after liquid'" in dict(page_of("events", "spill", SHIPPED, NUMBERS).chapters)["rules"]


def test_conditions_of_a_check_and_limits_of_a_rail_are_said_in_words():
    said = dict(page_of("checks", "load_all", SHIPPED, NUMBERS).chapters)["conditions"]
    assert [spaced(line) for line in said] == [f"busy with: {SHIPPED.loads['all'].title}", "for 1 h"]
    for check in SHIPPED.checks:
        for line in dict(page_of("checks", check, SHIPPED, NUMBERS).chapters).get("conditions", ()):
            assert "_" not in line, check
    limits = dict(page_of("measurements", "rail_12v", SHIPPED, NUMBERS).chapters)["limits"]
    assert spaced(limits[0]) == "11.4 to 12.6 V, the published limits of +12V"


@pytest.mark.parametrize(
    ("field", "said"),
    [
        ("faults.board_dead.after.smoke", "added after 'smoke seen'"),
        ("faults.board_dead.patterns.no_start.acts.2.ends.1.share", "pattern 'no start', effect 2, ending 1, share"),
        ("faults.standoff_shorts.made_by.board_out", "brought in by 'board out of the case'"),
        ("openings.side_panel.minutes.2", "time to close"),
        ("checks.fan_header_measured.conditions.minutes", "time"),
        ("strengths.nearly_always", "the word 'nearly always'"),
    ],
)
def test_where_a_number_stands_is_said_in_words(field, said):
    assert field in {number.field for number in NUMBERS}
    assert field_in_words(field, SHIPPED) == said


def test_every_number_of_the_shipped_book_has_words_and_no_two_of_an_entry_have_the_same():
    words = [(number.entry, field_in_words(number.field, SHIPPED)) for number in NUMBERS]
    assert not [said for _, said in words if not said or "_" in said]
    assert len(set(words)) == len(words)


def test_faults_of_one_cause_and_kin_are_called_by_their_titles():
    fault = SHIPPED.faults["board_dead"]
    others = [each.title for each in SHIPPED.faults.values() if each.cause == fault.cause and each is not fault]
    at = dict(page_of("faults", "board_dead", SHIPPED, ()).chapters)["at"][0]
    assert fault.cause not in at.split()
    assert others[0] in at
