"""A tap on the sheet changes what it changes and nothing else; what it says is what the bench would show anew."""

import re

import pytest
from browser.chrome import unfold
from page_addresses import OPEN_JOB

SENT = "main:not([aria-busy])"
WEIGHED_MS = 600_000
LOOK = 'button[value*="at: outlet, seen: fine"]'

PARTS = """() => Object.fromEntries([...document.querySelectorAll("[data-part]")].map((part) => {
  const copy = part.cloneNode(true);
  for (const each of [copy, ...copy.querySelectorAll("details")]) each.removeAttribute("open");
  return [part.dataset.part, copy.outerHTML];
}))"""


@pytest.fixture
def page(shop):
    page = shop.open("/")
    page.get_by_role("button", name="MK", exact=True).click()
    page.goto(f"/jobs/{OPEN_JOB}")
    yield page
    page.context.set_offline(False)
    page.context.close()


def note(page, words):
    page.get_by_label("Note").fill(words)
    page.get_by_role("button", name="note it").click()


def look_at_the_outlet(page):
    page.get_by_test_id("seen").click()
    page.locator("details.group", has=page.locator(LOOK)).first.locator("summary").click()
    page.locator(LOOK).first.click()
    page.get_by_test_id("undo").wait_for()
    page.locator(SENT).wait_for()


def lines(page):
    return page.locator(".log li").count()


def test_a_tap_leaves_the_page_and_what_it_did_not_change_where_they_are(page):
    page.evaluate("""() => {
        window.same = document.querySelector('[data-part="ladder"]');
        for (const each of document.querySelectorAll("summary")) if (!each.parentElement.open) each.click();
    }""")
    before, folded = lines(page), page.locator("details:not([open])").count()
    note(page, "smells of dust")
    page.get_by_text("smells of dust").first.wait_for()
    assert lines(page) == before + 1
    assert page.evaluate("() => window.same.isConnected")
    assert page.locator("details:not([open])").count() == folded
    assert page.get_by_label("Note").input_value() == ""
    assert page.get_by_test_id("undo").is_visible()


def test_what_was_put_in_place_is_what_the_bench_shows_anew(page):
    look_at_the_outlet(page)
    page.locator('#live[data-refresh=""]').wait_for(state="attached", timeout=WEIGHED_MS)
    note(page, "looked at twice")
    page.get_by_text("looked at twice").first.wait_for()
    page.locator('#live[data-refresh=""]').wait_for(state="attached", timeout=WEIGHED_MS)
    in_place = page.evaluate(PARTS)
    page.reload()
    assert page.locator('#live[data-refresh=""]').count() == 1
    anew = page.evaluate(PARTS)
    assert in_place.keys() == anew.keys()
    in_place.pop("undo"), anew.pop("undo")  # it goes after ten seconds
    differing = [name for name in anew if re.sub(r"\s+", " ", in_place[name]) != re.sub(r"\s+", " ", anew[name])]
    assert differing == []


def test_the_map_is_hatched_as_soon_as_it_is_weighed(page):
    note(page, "weigh it again")
    page.get_by_text("weigh it again").first.wait_for()
    page.locator('#live[data-refresh=""]').wait_for(state="attached", timeout=WEIGHED_MS)
    shown = page.evaluate(PARTS)["map"]
    page.reload()
    assert page.evaluate(PARTS)["map"] == shown


def test_what_was_seen_by_the_way_leads_to_the_sheet_and_back_leads_back(page):
    look_at_the_outlet(page)
    assert page.url.endswith(f"/jobs/{OPEN_JOB}#next")
    assert "Job" in page.title()
    page.reload()
    assert page.url.endswith(f"/jobs/{OPEN_JOB}#next")
    page.go_back()
    page.locator(LOOK).first.wait_for(state="attached")
    assert page.url.endswith(f"/jobs/{OPEN_JOB}/seen")


def test_without_a_connection_nothing_is_lost_and_it_is_entered_once(page):
    before = lines(page)
    page.context.set_offline(True)
    note(page, "while nobody heard it")
    page.get_by_role("alert").filter(has_text="no connection").wait_for()
    assert page.get_by_label("Note").input_value() == "while nobody heard it"
    page.context.set_offline(False)
    page.get_by_role("button", name="note it").click()
    page.locator(".log").get_by_text("while nobody heard it").wait_for()
    assert lines(page) == before + 1
    assert page.get_by_role("alert").filter(has_text="no connection").count() == 0


def test_what_is_refused_says_why_and_the_sheet_is_there_again_when_the_page_is_got_anew(page):
    page.goto(f"/jobs/{OPEN_JOB}/entries/run_1")
    unfold(page)
    page.get_by_label("It ran for").fill("a while")
    page.get_by_role("button", name="Correct it").click()
    page.get_by_text("'a while' cannot be read").first.wait_for()
    assert page.get_by_label("It ran for").input_value() == "a while"


def test_the_bench_tells_by_itself_when_a_job_is_weighed(page, shop):
    note(page, "and once more")
    page.get_by_text("and once more").first.wait_for()
    bench = shop.open("/")
    bench.evaluate("() => { window.same = true; }")
    assert bench.get_by_text("is being worked out for").is_visible()
    bench.locator('[data-part="open"][data-refresh=""]').wait_for(state="attached", timeout=WEIGHED_MS)
    assert bench.get_by_text("is being worked out for").count() == 0
    assert bench.evaluate("() => window.same")
    bench.context.close()


def test_the_collection_page_says_what_may_still_be_wrong_when_it_is_known(page):
    note(page, "may go home")
    page.get_by_text("may go home").first.wait_for()
    page.goto(f"/jobs/{OPEN_JOB}/collection")
    page.evaluate("() => { window.same = document.querySelector('header'); }")
    page.locator('[data-part="handover"][data-refresh=""]').wait_for(timeout=WEIGHED_MS)
    assert page.get_by_text("It comes here by itself").count() == 0
    assert page.evaluate("() => window.same.isConnected")
