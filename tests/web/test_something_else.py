"""What no answer of a card says is entered in two taps: "Saw something else", and what was seen."""

from functools import cache

import pytest
from folding import BOOK
from spaced import spaced

from halfsplit.actions import job_view, open_job, record
from halfsplit.job.asked import placed_entries
from halfsplit.jobfile import parse_entries
from halfsplit.model.job import Inspect, Run

MACHINE = "{complaint: nothing_happens, machine: {kind: built, age_years: 6, card: {}, memory: [8, 8], drives: [sata]}}"


@pytest.fixture
def number(desk, clock):
    return open_job(desk.bench, MACHINE, by="AB", now=clock())


def in_sight(page):
    """Return what each button enters that no tap has to bring out first."""
    return [each.attrs["value"] for each in page.all("button", name="entry") if each.inside("details") is None]


@cache
def read(text):
    job, mistakes = parse_entries(text, "", BOOK)
    assert job is not None, mistakes
    return job.log[0]


def test_all_that_any_check_asks_for_is_in_sight_with_all_that_it_may_have_shown(browser, desk, number):
    view = job_view(desk.bench, number)
    standing = view.course.standing["owner"]
    asking = 0
    for check in BOOK.checks.values():
        entered = [read(text) for text in in_sight(browser.open(f"/jobs/{number}/seen?check={check.id}"))]
        looked = {(each.what, each.seen) for each in entered if isinstance(each, Inspect)}
        signs = {(sign, word) for each in entered if isinstance(each, Run) for sign, word in each.seen.signs.items()}
        for entry in placed_entries(check, standing, BOOK):
            if isinstance(entry, Inspect):
                asking += 1
                words = BOOK.inspections[entry.what.partition(".")[0]].seen
                assert looked >= {(entry.what, word) for word in words}, check.id
            elif isinstance(entry, Run):
                asking += 1
                asked = [word for word in check.asks if word in BOOK.signs]
                assert signs >= {(sign, word) for sign in asked for word in ("yes", "no")}, check.id
                runs = [each for each in entered if isinstance(each, Run)]
                assert {each.conditions for each in runs} == {entry.conditions}, check.id
    assert asking > len(BOOK.checks) / 2


def test_from_the_card_it_is_two_taps_and_one_entry_with_the_run_that_was_made(browser, desk, number):
    browser.open(f"/jobs/{number}")
    desk.weigher.work_off()
    browser.open(f"/jobs/{number}")
    lines = len(job_view(desk.bench, number).lines)
    (link,) = (each for each in browser.page.all("a") if each.text == "Saw something else")
    browser.open(link.attrs["href"])
    taps = browser.taps
    browser.press("went off by itself")
    assert browser.taps == taps + 1
    view = job_view(desk.bench, number)
    assert len(view.lines) == lines + 1
    run = view.job.log[-1]
    check = BOOK.checks["counter_run"]
    assert run.seen.stop.kind == "cuts_out"
    (made,) = (each for each in placed_entries(check, view.course.standing["owner"], BOOK) if isinstance(each, Run))
    assert run.conditions == made.conditions


def test_several_checks_of_one_card_are_all_in_sight(browser, number):
    looks = [check for check in BOOK.checks.values() if any(word in BOOK.inspections for word in check.asks)][:2]
    page = browser.open(f"/jobs/{number}/seen?check={','.join(check.id for check in looks)}")
    seen = {each.what for text in in_sight(page) if isinstance(each := read(text), Inspect)}
    asked = {word for check in looks for word in check.asks if word in BOOK.inspections}
    assert {what.partition(".")[0] for what in seen} == asked


def test_signs_stand_in_the_order_in_which_a_machine_comes_alive(browser, number):
    headings = [each.text for each in browser.open(f"/jobs/{number}/seen").all("summary")]
    rungs = [rung.title for rung in BOOK.ladder.rungs if any(sign.needs == rung.id for sign in BOOK.signs.values())]
    assert len(rungs) > 3
    assert [each for each in headings if each in rungs] == rungs
    places = [each for each in headings[: headings.index(rungs[0])] if each]
    assert places == sorted(places, key=str.casefold)


@pytest.mark.parametrize("page", ["seen", "mend"])
def test_a_part_has_its_number_only_where_there_are_several_of_its_kind(browser, number, page):
    rows = [spaced(each.text) for each in browser.open(f"/jobs/{number}/{page}").all("div", class_="thing")]
    assert [row for row in rows if "no. 2" in row]  # of two memory modules
    assert not [row for row in rows if "no. 1" in row and "drive" in row]
    assert [row for row in rows if "no. 1" in row]


def test_a_part_keeps_its_number_while_the_other_one_is_out(browser, desk, number, clock):
    record(desk.bench, number, "setup: {memory.2: out}", by="AB", now=clock())
    rows = [spaced(each.text) for each in browser.open(f"/jobs/{number}/seen").all("div", class_="thing")]
    assert [row for row in rows if "memory module in its slot no. 1" in row]


def marked(page):
    return {each.attrs["value"] for each in page.all("button", name="entry", aria_current="true")}


@pytest.mark.parametrize("memory", ["[8, 8]", "[8]"])
def test_what_a_look_was_said_to_show_last_is_marked_until_it_is_taken_back(browser, desk, clock, memory):
    number = open_job(desk.bench, MACHINE.replace("[8, 8]", memory), by="AB", now=clock())
    seat = next(look.id for look in BOOK.inspections.values() if look.at == "memory_seat")
    buttons = browser.open(f"/jobs/{number}/seen").all("button", name="entry")
    looks = [each.attrs["value"] for each in buttons if each.attrs["value"].startswith("- inspect:")]
    one, other = [text for text in looks if seat in text][:2]
    elsewhere = looks[-1]
    assert marked(browser.page) == set()
    for text, said in ((one, {one}), (elsewhere, {one, elsewhere}), (other, {other, elsewhere})):
        record(desk.bench, number, text, by="AB", now=clock())
        assert marked(browser.open(f"/jobs/{number}/seen")) == said
    last = job_view(desk.bench, number).job.log[-1].id
    record(desk.bench, number, f"correct: {{entry: {last}, withdrawn: yes}}", by="AB", now=clock())
    assert marked(browser.open(f"/jobs/{number}/seen")) == {one, elsewhere}
