"""The rebuild list: what is out, what work reached and was not looked at since, and what is to be closed."""

import re

import pytest
from web_reader import Browser

from halfsplit import actions


@pytest.fixture
def shop(demo_desk):
    return Browser(demo_desk)


def places(page):
    return {
        line.all("b")[0].text: line.all("small")[0].text
        for each in page.all("ul", class_="plain looks")
        for line in each.all("li")
    }


def record(shop, number, *entries):
    for entry in entries:
        actions.record(shop.desk.bench, number, entry, by="MK", now=shop.desk.clock())


def test_where_nothing_was_opened_nothing_is_asked(shop):
    page = shop.open("/jobs/8/rebuild")
    assert "Everything is in its place" in page.text
    assert places(page) == {}
    assert "Nothing that can be seen with one cover off" in page.text
    assert "Nothing was opened." in page.text


def test_what_the_work_reached_is_to_be_looked_at_and_what_was_looked_at_is_said(shop):
    """Refitting the cooler reaches the fan's plug, and the side panel is closed last (common practice)."""
    page = shop.open("/jobs/2/rebuild")
    book = shop.desk.bench.book
    fan = book.joints["cooler_fan_plug"].title
    assert places(page)[fan] == "not looked at since"
    assert book.joints["paste"].title not in places(page)
    assert len(places(page)) < 20
    closing = [each.text for each in page.all("ol", class_="steps")[0].all("li")]
    assert closing[-1] == book.openings["side_panel"].title
    assert book.openings["cooler_off"].title in closing
    shop.press(f"off: {fan}")
    assert places(shop.open("/jobs/2/rebuild"))[fan] == "off"
    record(shop, 2, "- repair: {do: reseat, at: cooler_fan_plug}", "- inspect: {at: cooler_fan_plug, seen: fine}")
    page = shop.open("/jobs/2/rebuild")
    assert places(page)[fan] == "fine"
    assert not [each for each in page.all("button") if each.text.endswith(f": {fan}")]


def test_a_look_before_the_work_does_not_count(shop):
    record(shop, 8, "- inspect: {at: memory_seat.1, seen: fine}", "- repair: {do: reseat, at: memory_seat.1}")
    seat = f"{shop.desk.bench.book.joints['memory_seat'].title} no. 1"
    assert places(shop.open("/jobs/8/rebuild"))[seat] == "not looked at since"


def test_what_is_out_or_ours_goes_back_by_a_tap_and_what_was_fitted_stays(shop):
    record(
        shop,
        8,
        "- setup: {memory.2: out, card: shelf.card_small}",
        "- repair: {do: replace, at: supply}",
    )
    page = shop.open("/jobs/8/rebuild")
    moved = [each.all("b")[0].text for each in page.all("button", class_="chip changed")]
    assert sorted(moved) == ["graphics card", "memory module no. 2"]
    assert "Meant so: power supply: new power supply" in page.text
    for part in ("memory module no. 2", "graphics card"):
        shop.open("/jobs/8/rebuild")
        shop.press(part)
    page = shop.open("/jobs/8/rebuild")
    assert page.all("button", class_="chip changed") == []
    assert "Meant so: power supply: new power supply" in page.text


def test_settings_and_key_are_minded_before_it_goes_home(shop):
    record(shop, 7, "- repair: {do: replace, at: cell}")
    text = shop.open("/jobs/7/rebuild").text
    assert "set again from the photos" in text
    assert "recovery key of the drive" in text
    assert "recovery key of the drive" not in shop.open("/jobs/8/rebuild").text


def test_what_nobody_has_looked_at_is_said_to_be_fine_by_one_tap_and_that_is_taken_back_by_one(shop):
    record(shop, 8, "- repair: {do: replace, at: supply}")
    page = shop.open("/jobs/8/rebuild")
    assert len(places(page)) > 2
    before = len(actions.job_view(shop.desk.bench, 8).lines)
    page = shop.press("I looked at each one")
    assert set(places(page).values()) == {"fine"}
    lines = actions.job_view(shop.desk.bench, 8).lines[before:]
    assert len(lines) == len(places(page))
    assert not [each for each in page.all("button") if each.text.startswith("I looked at each one")]
    page = shop.press("Take it back")
    assert set(places(page).values()) == {"not looked at since"}


def prove_card(shop):
    shop.open("/jobs/8")
    shop.desk.weigher.work_off()
    return shop.open("/jobs/8?do=prove").all("article")[0]


def test_the_card_that_says_to_prove_it_sends_to_the_rebuild_list_as_long_as_something_stands_there(shop):
    record(shop, 8, "- repair: {do: replace, at: supply}", "- run: {reached: log_in, stop: none}")
    card = prove_card(shop)
    assert re.search(r"\d+ places that the work reached were not looked at since", card.text)
    assert [each.text for each in card.all("a", data_test="to-rebuild")] == ["Rebuild list"]
    shop.open("/jobs/8/rebuild")
    shop.press("I looked at each one")
    card = prove_card(shop)
    assert "To the proof runs" in card.text
    assert card.all("a", data_test="to-rebuild") == []


def test_what_goes_home_is_rebuilt_or_the_page_says_that_it_is_not(shop):
    record(shop, 8, "- setup: {card: shelf.card_small}")
    page = shop.open("/jobs/8/collection")
    assert "Before it goes home: one part is not as it came" in page.text
    assert page.all("a", href="/jobs/8/rebuild")
    record(shop, 8, "- setup: {card: owner}")
    page = shop.open("/jobs/8/collection")
    assert "Before it goes home: one part" not in page.text
