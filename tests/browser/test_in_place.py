"""A tap on the sheet changes what it changes and nothing else; what it says is what the bench would show anew."""

import re

import pytest
from browser.chrome import SIZES, sign_in, unfold
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
    sign_in(page)
    page.goto(f"/jobs/{OPEN_JOB}")
    yield page
    page.context.set_offline(False)
    page.context.close()


def note(page, words):
    page.get_by_label("Note").fill(words)
    page.get_by_role("button", name="note it").click()


def noted(page, words):
    note(page, words)
    page.locator(".log").get_by_text(words).wait_for()
    page.locator(SENT).wait_for()


def look_at_the_outlet(page):
    page.get_by_test_id("seen").click()
    page.locator("details.group", has=page.locator(LOOK)).first.locator("summary").click()
    page.locator(LOOK).first.click()
    page.get_by_test_id("undo").wait_for()
    page.locator(SENT).wait_for()


def froze(page):
    page.get_by_test_id("seen").click()
    page.get_by_test_id("ending").filter(has_text="froze").click()
    page.get_by_test_id("card").or_(page.locator(".weighing")).first.wait_for()
    page.locator(SENT).wait_for()


def is_in_sight(page, mark):
    return page.get_by_test_id(mark).evaluate("""(each) => {
        const box = each.getBoundingClientRect();
        const at = document.elementFromPoint(box.left + box.width / 2, box.top + box.height / 2);
        return box.top >= 0 && box.bottom <= innerHeight && each.contains(at);
    }""")


def lines(page):
    return page.locator(".log li").count()


def test_a_tap_leaves_the_page_and_what_it_did_not_change_where_they_are(page):
    page.evaluate("""() => {
        window.same = document.querySelector('[data-part="ladder"]');
        for (const each of document.querySelectorAll("summary")) if (!each.parentElement.open) each.click();
    }""")
    before, folded = lines(page), page.locator("details:not([open])").count()
    noted(page, "smells of dust")
    assert lines(page) == before + 1
    assert page.evaluate("() => window.same.isConnected")
    assert page.locator("details:not([open])").count() == folded
    assert page.get_by_label("Note").input_value() == ""
    assert page.get_by_test_id("undo").is_visible()


def test_what_was_entered_and_the_way_to_take_it_back_are_in_sight_wherever_the_page_is_scrolled(shop):
    for size in SIZES:
        page = shop.open(f"/jobs/{OPEN_JOB}", size)
        page.evaluate("() => { for (const each of document.querySelectorAll('details')) each.open = true; }")
        for to in ("0", "document.body.scrollHeight"):
            page.evaluate(f"() => scrollTo(0, {to})")
            page.evaluate("""() => { const field = document.getElementById("note");
                field.value = "dust"; field.form.requestSubmit(); }""")
            page.get_by_test_id("undo").wait_for()
            page.locator(SENT).wait_for()
            assert is_in_sight(page, "undo"), (size, to)
        page.context.close()


def test_what_was_entered_is_said_before_what_follows_from_it_is_there(page):
    held, log = [], page.locator(".log")

    def hold(route):
        held.append(route)

    page.route("**/jobs/*", hold)
    note(page, "said at once")
    page.locator("[data-entry]").get_by_text("said at once").wait_for()
    assert log.get_by_text("said at once").count() == 0
    assert page.locator("main[aria-busy]").count() == 1
    held[0].continue_()
    log.get_by_text("said at once").wait_for()
    page.locator(SENT).wait_for()
    page.unroute("**/jobs/*")


def test_where_only_what_follows_cannot_be_fetched_it_is_not_said_that_nothing_was_entered(page):
    before = lines(page)
    page.route("**/jobs/*", lambda route: route.abort())
    note(page, "heard all the same")
    said = page.get_by_role("alert").filter(has_text="no connection")
    said.wait_for()
    assert said.inner_text().startswith("Entered.")
    assert page.locator("[data-entry]").get_by_text("heard all the same").count() == 1
    page.unroute("**/jobs/*")
    said.get_by_role("button", name="Look again").click()
    page.locator(".log").get_by_text("heard all the same").wait_for()
    assert lines(page) == before + 1


def test_what_was_put_in_place_is_what_the_bench_shows_anew(page):
    look_at_the_outlet(page)
    page.get_by_test_id("to-sheet").click()
    page.locator('#live[data-refresh=""]').wait_for(state="attached", timeout=WEIGHED_MS)
    noted(page, "looked at twice")
    page.locator('#live[data-refresh=""]').wait_for(state="attached", timeout=WEIGHED_MS)
    in_place = page.evaluate(PARTS)
    page.reload()
    assert page.locator('#live[data-refresh=""]').count() == 1
    anew = page.evaluate(PARTS)
    assert in_place.keys() == anew.keys()
    in_place.pop("entered"), anew.pop("entered")  # it goes after ten seconds
    differing = [name for name in anew if re.sub(r"\s+", " ", in_place[name]) != re.sub(r"\s+", " ", anew[name])]
    assert differing == []


def test_the_map_is_hatched_as_soon_as_it_is_weighed(page):
    noted(page, "weigh it again")
    page.locator('#live[data-refresh=""]').wait_for(state="attached", timeout=WEIGHED_MS)
    shown = page.evaluate(PARTS)["map"]
    page.reload()
    assert page.evaluate(PARTS)["map"] == shown


def test_how_a_run_went_leads_to_the_sheet_and_back_leads_back(page):
    froze(page)
    assert page.url.endswith(f"/jobs/{OPEN_JOB}#next")
    assert "seen by the way" not in page.title()
    page.reload()
    assert page.url.endswith(f"/jobs/{OPEN_JOB}#next")
    page.go_back()
    page.locator(LOOK).first.wait_for(state="attached")
    assert page.url.endswith(f"/jobs/{OPEN_JOB}/seen")


def test_what_is_seen_by_the_way_stays_there_as_it_was_opened_for_what_else_was_seen(page):
    look_at_the_outlet(page)
    page.evaluate("() => { window.same = document.querySelector('main'); }")
    page.locator(LOOK.replace("fine", "dead")).first.click()
    page.locator("[data-entry]").get_by_text("dead").wait_for()
    assert page.url.endswith(f"/jobs/{OPEN_JOB}/seen")
    assert page.evaluate("() => window.same.isConnected")
    assert page.locator(LOOK).first.is_visible()
    page.get_by_test_id("undo").click()
    page.locator("[data-entry]").get_by_text(re.compile("Taken back|takes back")).wait_for()
    page.get_by_test_id("to-sheet").click()
    page.locator(".log .gone").get_by_text("dead").wait_for()


def test_what_a_look_was_said_to_show_is_marked_at_once_and_as_the_bench_shows_it_anew(page):
    page.goto(f"/jobs/{OPEN_JOB}/seen")
    unfold(page)
    marked = "() => [...document.querySelectorAll('[aria-current]')].map((each) => each.value).sort()"
    before = page.evaluate(marked)
    dead = LOOK.replace("fine", "dead")
    page.locator(dead).first.click()
    page.locator(f"{dead}[aria-current]").first.wait_for()
    said = page.evaluate(marked)
    assert said != before
    page.reload()
    assert page.evaluate(marked) == said
    page.get_by_test_id("undo").click()
    page.wait_for_function(f"(before) => String(({marked})()) === String(before)", arg=before)
    page.reload()
    assert page.evaluate(marked) == before


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
    noted(page, "and once more")
    bench = shop.open("/")
    bench.evaluate("() => { window.same = true; }")
    assert bench.get_by_text("is being worked out for").is_visible()
    bench.locator('[data-part="open"][data-refresh=""]').wait_for(state="attached", timeout=WEIGHED_MS)
    assert bench.get_by_text("is being worked out for").count() == 0
    assert bench.evaluate("() => window.same")
    bench.context.close()


def test_the_collection_page_says_what_may_still_be_wrong_when_it_is_known(page):
    noted(page, "may go home")
    page.goto(f"/jobs/{OPEN_JOB}/collection")
    page.evaluate("() => { window.same = document.querySelector('header'); }")
    page.locator('[data-part="handover"][data-refresh=""]').wait_for(timeout=WEIGHED_MS)
    assert page.get_by_text("It comes here by itself").count() == 0
    assert page.evaluate("() => window.same.isConnected")
