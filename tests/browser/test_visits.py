"""What a link, a search, or the way back leads to takes the place of the page; what is no page is the browser's."""

import base64
import re

import pytest
from browser.chrome import open_page, overflow, sign_in, small_targets, unfold, violations
from page_addresses import CLOSED_JOB, LOOKED_AT, NOWHERE, OPEN_JOB
from playwright.sync_api import expect

SENT = "main:not([aria-busy])"
SHEET = re.compile(rf"/jobs/{OPEN_JOB}(#next)?$")
PHOTO = "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg=="

BLIND_READER = """
window.BarcodeDetector = class {
  async detect() { return []; }
};
navigator.mediaDevices.getUserMedia = async () => {
  const canvas = document.createElement("canvas");
  setInterval(() => canvas.getContext("2d").fillRect(0, 0, 9, 9), 50);
  return (window.stream = canvas.captureStream(5));
};
"""

LOCKS = """
window.locks = 0;
const request = async () => {
  window.locks += 1;
  return { release: async () => { window.locks -= 1; } };
};
Object.defineProperty(navigator, "wakeLock", { value: { request } });
"""

BOXES = """() => [...document.querySelectorAll("body, body *")].map((each) => {
  const box = each.getBoundingClientRect();
  const sizes = [box.left, box.top + scrollY, box.width, box.height].map(Math.round);
  return [each.localName, each.className.baseVal ?? each.className, each.open ?? "", ...sizes].join(" ");
})"""
"""Each thing on the page, where it is and how large, and whether it is folded away."""


@pytest.fixture
def page(shop):
    page = shop.open("/", "phone")
    sign_in(page)
    page.evaluate("() => { window.same = true; }")
    yield page
    page.context.set_offline(False)
    page.context.close()


def is_same(page):
    """Whether the browser has loaded no page since: what is shown was put in place."""
    return page.evaluate("() => window.same === true")


def job_link(page, number=OPEN_JOB):
    return page.locator(f'.jobs a[href="/jobs/{number}"]')


def follow(page, address):
    """Go to an address as by a link to it."""
    page.evaluate(
        """(address) => {
            const link = Object.assign(document.createElement("a"), { href: address, textContent: "there" });
            document.querySelector("main").append(link);
            link.click();
        }""",
        address,
    )


def followed(page, address):
    follow(page, address)
    page.wait_for_url(f"**{address}")
    page.locator(SENT).wait_for(state="attached")


def hold(page, pattern):
    """Hold back what is asked for at addresses like this, until it is let go on."""
    held = []

    def hold_back(route):
        held.append(route)

    page.route(pattern, hold_back)
    return held


def wait_for(page, held, many=1):
    for _ in range(500):
        if len(held) >= many:
            return
        page.wait_for_timeout(20)
    raise AssertionError("it was not asked for")


def log(page):
    return [each.strip() for each in page.locator(".log .said").all_text_contents()]


def note(page, words):
    page.get_by_label("Note").fill(words)
    page.get_by_role("button", name="note it").click()


def note_beside(page, words):
    """Enter a note by a form of its own."""
    page.evaluate(
        """([address, words]) => {
            const form = Object.assign(document.createElement("form"), { method: "post", action: address });
            const field = Object.assign(document.createElement("input"), { name: "words", value: words });
            form.append(document.querySelector("[name=token]").cloneNode(), field);
            document.querySelector("main").append(form);
            form.requestSubmit();
        }""",
        [f"/jobs/{OPEN_JOB}/note", words],
    )


def top(page):
    return page.evaluate("() => Math.round(scrollY)")


def scrolled(page, to):
    """Scroll down as soon as the page is tall enough, and wait until it has seen that it rests there."""
    page.wait_for_function("(to) => Math.round(scrollY) === to || scrollTo(0, to)", arg=to)
    page.wait_for_function("(to) => history.state?.top === to", arg=to)


def test_from_the_list_to_a_job_and_back_in_place_and_as_far_down_as_it_was_left(page):
    scrolled(page, 240)
    job_link(page).click()
    page.get_by_test_id("seen").wait_for()
    assert re.search(SHEET, page.url)
    assert page.title().startswith(f"Job {OPEN_JOB}")
    assert top(page) == 0
    scrolled(page, 130)
    page.go_back()
    job_link(page).wait_for()
    assert top(page) == 240
    assert page.title().startswith("The bench")
    page.go_forward()
    page.get_by_test_id("seen").wait_for()
    assert re.search(SHEET, page.url)
    assert top(page) == 130
    assert is_same(page)
    assert page.evaluate("() => document.documentElement.lang") == "en"


def test_the_way_back_leads_to_the_page_as_it_is_now_and_got_anew_as_far_down_as_it_was(page, shop):
    followed(page, f"/jobs/{OPEN_JOB}")
    followed(page, "/shelf")
    other = shop.open(f"/jobs/{OPEN_JOB}")
    note(other, "seen from the other tablet")
    other.locator("[data-entry]").get_by_text("seen from the other tablet").wait_for()
    other.context.close()
    page.go_back()
    page.get_by_test_id("seen").wait_for()
    assert "seen from the other tablet" in log(page)
    scrolled(page, 200)
    page.reload()
    page.get_by_test_id("seen").wait_for()
    assert top(page) == 200


def test_a_link_into_the_page_is_the_browser_s_and_nothing_is_got_anew_on_the_way_back(page):
    followed(page, f"/jobs/{OPEN_JOB}")
    scrolled(page, 90)
    asked = []
    page.on("request", lambda request: asked.append(request.url) if request.resource_type == "document" else None)
    page.on("request", lambda request: asked.append(request.url) if request.url.endswith(f"/jobs/{OPEN_JOB}") else None)
    page.locator(".jump a", has_text="log").click()
    page.wait_for_url("**#log")
    assert top(page) > 90
    page.wait_for_function("() => history.state?.top > 90")
    below = top(page)
    page.go_back()
    page.wait_for_function("() => !location.hash")
    assert abs(top(page) - 90) <= 8  # what was unfolded has other margins
    page.go_forward()
    page.wait_for_function("() => location.hash")
    assert abs(top(page) - below) <= 8
    assert asked == []
    assert is_same(page)


def test_with_a_key_held_down_a_link_is_the_browser_s(page):
    with page.context.expect_page() as opened:
        job_link(page).click(modifiers=["Control"])
    opened.value.wait_for_url(f"**/jobs/{OPEN_JOB}")
    assert page.title().startswith("The bench")
    page.evaluate("() => { document.querySelector('.jobs a').target = '_blank'; }")
    with page.context.expect_page():
        page.locator(".jobs a").first.click()
    assert page.title().startswith("The bench")
    assert is_same(page)


def test_what_is_no_page_is_shown_or_kept_by_the_browser(page, tmp_path):
    photo = tmp_path / "photo.png"
    photo.write_bytes(base64.b64decode(PHOTO))
    followed(page, f"/jobs/{LOOKED_AT[1]}")
    unfold(page)
    page.locator("#photo").set_input_files(photo)
    page.get_by_role("button", name="keep it").click()
    thumb = page.locator(".thumb").first
    thumb.wait_for(state="attached")
    unfold(page)
    thumb.click()
    page.wait_for_url("**/photos/*")
    assert page.evaluate("() => document.contentType") == "image/png"
    page.go_back()
    page.locator("main").wait_for()

    page.route(
        "**/record",
        lambda route: route.fulfill(
            body="log: []",
            headers={"Content-Type": "text/yaml", "Content-Disposition": "attachment; filename=record.yaml"},
        ),
    )
    with page.expect_download() as kept:
        follow(page, "/record")
    assert kept.value.suggested_filename == "record.yaml"
    assert page.locator(SENT).count() == 1
    with page.expect_download() as kept:
        page.evaluate("""() => {
            const link = Object.assign(document.createElement("a"), { href: "/shelf", download: "shelf.html" });
            document.querySelector("main").append(link);
            link.click();
        }""")
    assert kept.value.suggested_filename == "shelf.html"
    assert page.url.endswith(f"/jobs/{LOOKED_AT[1]}#photos")


def test_what_is_refused_or_cannot_be_reached_is_the_browser_s(page):
    follow(page, NOWHERE)
    page.get_by_text("HS802").wait_for()
    assert page.url.endswith(NOWHERE)
    assert not is_same(page)
    page.locator(".links a").first.click()
    job_link(page).wait_for()
    page.context.set_offline(True)
    with page.expect_event("requestfailed", lambda request: request.is_navigation_request()):
        job_link(page).click()


def test_where_a_page_is_elsewhere_now_its_new_address_is_in_the_history_with_what_the_link_named(page):
    page.route("**/parts", lambda route: route.fulfill(status=302, headers={"Location": "/shelf"}))
    follow(page, "/parts#counted")
    page.wait_for_url("**/shelf#counted")
    assert is_same(page)


@pytest.mark.parametrize(
    "address",
    [
        *(
            "/",
            "/?q=picture",
            "/closed",
            "/new",
            "/shelf",
            "/shelf/labels",
            "/slip",
            "/book",
            "/book/checks/counter_run",
        ),
        *("/settings", f"/jobs/{CLOSED_JOB}", f"/jobs/{CLOSED_JOB}/copy"),
        *(f"/jobs/{OPEN_JOB}{more}" for more in ("/seen", "/mend", "/rebuild", "/slip", "/label", "/entries/run_1")),
    ],
)
def test_a_page_looks_as_it_does_from_its_address(page, address):
    page.goto("/book" if address != "/book" else "/")
    page.evaluate("() => { window.same = true; }")
    followed(page, address)
    assert is_same(page)
    in_place = page.evaluate(BOXES)
    page.reload()
    anew = page.evaluate(BOXES)
    assert len(in_place) > 30
    assert in_place == anew


def test_what_is_searched_for_is_found_in_place_by_enter_and_by_the_button(page):
    page.get_by_label("Find a job").fill("picture")
    page.get_by_label("Find a job").press("Enter")
    page.wait_for_url("**/?q=picture")
    page.locator(".jobs a").first.wait_for()
    page.get_by_label("Find a job").fill("nothing of the kind")
    page.get_by_role("button", name="find", exact=True).click()
    page.wait_for_url("**/?q=nothing+of+the+kind")
    page.get_by_text("No job has").wait_for()
    page.go_back()
    page.locator(".jobs a").first.wait_for()
    assert page.url.endswith("/?q=picture")
    assert page.get_by_label("Find a job").input_value() == "picture"
    page.locator(".jobs a").first.click()
    page.wait_for_url("**/jobs/*")
    followed(page, "/book")
    page.get_by_label("Find in the book").fill("supply")
    page.get_by_label("Find in the book").press("Enter")
    page.wait_for_url("**/book?q=supply")
    assert is_same(page)


def test_without_scripts_links_and_the_search_are_followed_all_the_same(shop):
    page = shop.open("/", scripts=False)
    job_link(page).click()
    page.wait_for_url(f"**/jobs/{OPEN_JOB}")
    page.locator(".links a", has_text="Bench").click()
    page.get_by_label("Find a job").fill("picture")
    page.get_by_role("button", name="find", exact=True).click()
    page.wait_for_url("**/?q=picture")
    assert page.locator(".jobs a").count() > 0
    page.context.close()


def test_it_can_be_used_as_well_as_when_it_was_got_from_its_address(page):
    followed(page, "/settings")
    for address in (f"/jobs/{OPEN_JOB}", "/?q=picture", "/", f"/jobs/{OPEN_JOB}/entries/run_1"):
        followed(page, address)
        unfold(page)
        page.evaluate("() => scrollTo(0, document.scrollingElement.scrollHeight)")
        assert violations(page) == []
        assert small_targets(page) == []
        assert overflow(page) == 0
    assert is_same(page)


def test_the_focus_goes_to_the_heading_or_to_what_the_link_names_without_a_ring(page):
    step = page.locator(".links a", has_text="Shelf")
    step.focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**/shelf")
    heading = page.locator("h1")
    expect(heading).to_be_focused()
    assert heading.evaluate("(each) => getComputedStyle(each).outlineStyle") == "none"
    page.keyboard.press("Tab")
    assert page.evaluate("() => document.activeElement.matches('.links a')")
    followed(page, f"/jobs/{OPEN_JOB}#next")
    expect(page.locator("#next")).to_be_focused()
    followed(page, f"/jobs/{CLOSED_JOB}#log")
    expect(page.locator("#log")).to_be_focused()
    assert is_same(page)


def test_on_the_bench_a_scanner_finds_its_field_and_the_camera_stops_when_the_page_is_left(shop):
    page = open_page(shop.browser, shop.home)
    page.add_init_script(BLIND_READER)
    page.goto("/shelf")
    followed(page, "/")
    expect(page.locator("#code")).to_be_focused()
    page.get_by_role("button", name="by camera").click()  # there is one
    page.locator("video").wait_for()
    page.keyboard.press("Escape")
    followed(page, "/closed")
    page.wait_for_function("() => window.stream.getTracks().every((track) => track.readyState === 'ended')")
    followed(page, "/")
    page.keyboard.type(f"hs:job:{CLOSED_JOB}")
    page.keyboard.press("Enter")
    page.wait_for_url(f"**/jobs/{CLOSED_JOB}")
    page.context.close()


def test_the_screen_stays_awake_as_long_as_an_open_job_is_shown(shop):
    page = open_page(shop.browser, shop.home)
    page.add_init_script(LOCKS)
    page.goto("/")
    locks = []
    for address in (f"/jobs/{OPEN_JOB}", "/", f"/jobs/{OPEN_JOB}", f"/jobs/{LOOKED_AT[1]}", "/shelf"):
        followed(page, address)
        page.wait_for_timeout(50)
        locks.append(page.evaluate("() => window.locks"))
    assert locks == [1, 0, 1, 1, 0]
    page.context.close()


def test_a_page_that_was_left_asks_for_nothing_more_and_is_kept_nowhere(page):
    followed(page, f"/jobs/{OPEN_JOB}")
    note(page, "weigh it once more")
    page.locator('#live[data-refresh]:not([data-refresh=""])').wait_for(state="attached")
    followed(page, "/settings")
    asked = []
    page.on("request", lambda request: asked.append(request.url))
    page.wait_for_timeout(2500)  # it would ask after 0.1 to 1.2 s
    assert asked == []
    assert page.evaluate("() => [localStorage.length, sessionStorage.length, Object.keys(history.state).join()]") == [
        0,
        0,
        "top",
    ]


def test_what_was_tapped_last_is_shown(page):
    shelf = hold(page, "**/shelf")
    follow(page, "/shelf")
    wait_for(page, shelf)
    assert page.locator("main[aria-busy]").count() == 1
    followed(page, "/book")
    shelf[0].continue_()
    page.wait_for_timeout(300)
    assert page.url.endswith("/book")
    page.unroute("**/shelf")

    followed(page, f"/jobs/{OPEN_JOB}")
    bench = hold(page, "**/shelf")
    follow(page, "/shelf")
    wait_for(page, bench)
    note(page, "rather this")
    page.locator("[data-entry]").get_by_text("rather this").wait_for()
    page.locator(SENT).wait_for(state="attached")
    bench[0].continue_()
    page.wait_for_timeout(300)
    assert re.search(SHEET, page.url)
    assert is_same(page)


def test_what_is_being_entered_is_waited_for_before_a_link_is_followed(page):
    followed(page, f"/jobs/{OPEN_JOB}")
    sent = hold(page, "**/note")
    note(page, "on the way out")
    wait_for(page, sent)
    asked = []
    page.on("request", lambda request: asked.append(request.url))
    page.locator(".links a", has_text="Shelf").click()
    page.wait_for_timeout(300)
    assert asked == []
    sent[0].continue_()
    page.wait_for_url("**/shelf")
    page.go_back()
    page.get_by_test_id("seen").wait_for()
    assert log(page)[0] == "on the way out"
    assert is_same(page)


def test_what_was_refused_is_shown_and_the_link_behind_it_is_not_followed(page):
    followed(page, f"/jobs/{OPEN_JOB}")
    followed(page, f"/jobs/{OPEN_JOB}/entries/run_1")
    sent = hold(page, "**/entries/run_1")
    unfold(page)
    page.get_by_label("It ran for").fill("a while")
    page.get_by_role("button", name="Correct it").click()
    wait_for(page, sent)
    page.locator(".links a", has_text="Shelf").click()
    sent[0].continue_()
    refusal = page.get_by_text("'a while' cannot be read").first
    refusal.wait_for()
    page.wait_for_timeout(300)
    assert page.url.endswith("/entries/run_1")
    assert refusal.is_visible()
    page.unroute("**/entries/run_1")
    page.go_back()
    page.get_by_test_id("seen").wait_for()
    assert re.search(SHEET, page.url)
    page.go_forward()
    page.get_by_role("button", name="Correct it").wait_for()
    assert page.get_by_text("'a while' cannot be read").count() == 0
    assert is_same(page)


def test_what_nobody_heard_is_said_and_neither_the_link_nor_the_tap_behind_it_is_followed(page):
    followed(page, f"/jobs/{OPEN_JOB}")
    unfold(page)
    before = len(log(page))
    sent = hold(page, "**/note")
    note(page, "heard by nobody")
    wait_for(page, sent)
    page.get_by_test_id("seen").evaluate("""(each) => {
        const owner = document.querySelector('form[action$="/owner"]');
        owner.requestSubmit();
        each.click();
    }""")
    sent[0].abort()
    said = page.get_by_role("alert").filter(has_text="Not entered")
    said.nth(1).wait_for(state="attached")
    page.wait_for_timeout(300)
    assert said.count() == 2
    assert re.search(SHEET, page.url)
    assert page.get_by_label("Note").input_value() == "heard by nobody"
    page.unroute("**/note")
    page.get_by_role("button", name="note it").click()
    page.locator("[data-entry]").get_by_text("heard by nobody").wait_for()
    page.locator(SENT).wait_for(state="attached")
    assert len(log(page)) == before + 1
    page.get_by_test_id("seen").click()
    page.wait_for_url("**/seen")
    assert is_same(page)


def test_taps_are_entered_in_the_order_in_which_they_were_tapped_and_what_is_refused_stays_in_sight(page):
    followed(page, f"/jobs/{OPEN_JOB}")
    sent = hold(page, "**/note")
    note(page, "tapped first")
    wait_for(page, sent)
    note_beside(page, "tapped second")
    page.wait_for_timeout(200)
    assert len(sent) == 1
    sent[0].continue_()
    wait_for(page, sent, 2)
    sent[1].continue_()
    page.locator("[data-entry]").get_by_text("tapped second").wait_for()
    page.locator(SENT).wait_for(state="attached")
    assert log(page)[:2] == ["tapped second", "tapped first"]
    page.unroute("**/note")

    followed(page, f"/jobs/{OPEN_JOB}/entries/run_1")
    refused = hold(page, "**/entries/run_1")
    unfold(page)
    page.get_by_label("It ran for").fill("a while")
    page.get_by_role("button", name="Correct it").click()
    wait_for(page, refused)
    note_beside(page, "tapped behind it")
    refused[0].continue_()
    page.locator("[data-entry]").get_by_text("tapped behind it").wait_for()
    page.wait_for_timeout(300)
    assert page.get_by_text("'a while' cannot be read").first.is_visible()
    assert is_same(page)


def test_the_second_click_of_a_double_click_does_nothing_on_the_page_that_the_first_one_led_to(page):
    link = job_link(page).bounding_box()
    at = (link["x"] + link["width"] / 2, link["y"] + link["height"] / 2)
    page.mouse.move(*at)
    page.mouse.down(click_count=1)
    page.mouse.up(click_count=1)
    page.get_by_test_id("seen").wait_for()
    page.evaluate("""() => {
        const button = Object.assign(document.createElement("button"), { id: "trap", type: "button" });
        button.style.cssText = "position: fixed; inset: 0";
        button.addEventListener("click", () => button.remove());
        document.body.append(button);
    }""")
    page.mouse.down(click_count=2)
    page.mouse.up(click_count=2)
    assert page.locator("#trap").count() == 1
    page.mouse.down(click_count=1)
    page.mouse.up(click_count=1)
    assert page.locator("#trap").count() == 0


def test_what_a_page_does_by_itself_it_does_after_a_visit_too(shop):
    page = open_page(shop.browser, shop.home)
    page.clock.install()
    page.goto("/")
    followed(page, f"/jobs/{OPEN_JOB}/seen")
    groups = page.locator("details.group:visible")
    before = groups.count()
    page.locator("#finder").fill("outlet")
    assert 0 < groups.count() < before
    followed(page, f"/jobs/{OPEN_JOB}")
    note(page, "taken back or not")
    page.get_by_test_id("undo").wait_for()
    page.locator(SENT).wait_for(state="attached")
    page.clock.fast_forward(10_500)
    expect(page.get_by_test_id("undo")).to_have_count(0)
    page.context.close()


def asked_for(page, address):
    """The times that an address is asked for from now on, each with how it went."""
    asked = []

    def note_down(request, how):
        if request.url.endswith(address):
            asked.append(how)

    page.on("request", lambda request: note_down(request, "asked"))
    page.on("requestfailed", lambda request: note_down(request, "left"))
    return asked


def pressed(page, link, asked):
    """Press a link and do not let it go; ends when what it leads to was asked for."""
    link.hover()
    page.mouse.down()
    for _ in range(100):
        if asked:
            return
        page.wait_for_timeout(10)
    raise AssertionError("it was not asked for")


def test_what_a_link_leads_to_is_asked_for_when_it_is_pressed_and_shown_when_it_is_let_go(page):
    asked = asked_for(page, f"/jobs/{OPEN_JOB}")
    with page.expect_response(f"**/jobs/{OPEN_JOB}"):
        pressed(page, job_link(page), asked)
    page.wait_for_timeout(200)
    assert page.title().startswith("The bench")
    page.mouse.up()
    page.get_by_test_id("seen").wait_for()
    assert asked == ["asked"]
    assert is_same(page)


def test_a_link_that_is_held_for_long_is_asked_for_anew(page, shop):
    asked = asked_for(page, f"/jobs/{OPEN_JOB}")
    with page.expect_response(f"**/jobs/{OPEN_JOB}"):
        pressed(page, job_link(page), asked)
    other = shop.open(f"/jobs/{OPEN_JOB}")
    note(other, "while it was held")
    other.locator("[data-entry]").get_by_text("while it was held").wait_for()
    other.context.close()
    page.wait_for_timeout(1000)
    page.mouse.up()
    page.get_by_test_id("seen").wait_for()
    assert "while it was held" in log(page)
    assert asked == ["asked", "asked"]


def test_a_link_that_is_let_go_elsewhere_or_scrolled_leads_nowhere(page):
    held = hold(page, f"**/jobs/{OPEN_JOB}")
    asked = asked_for(page, f"/jobs/{OPEN_JOB}")
    pressed(page, job_link(page), asked)
    page.get_by_role("heading", level=1).hover()
    page.mouse.up()
    shelf = page.locator(".links a", has_text="Shelf")
    shelf.click()
    page.wait_for_url("**/shelf")
    assert asked == ["asked", "left"]
    followed(page, "/")
    pressed(page, job_link(page), asked)
    wait_for(page, held, 2)
    job_link(page).dispatch_event("pointercancel", {"bubbles": True})
    page.wait_for_timeout(200)
    assert asked == ["asked", "left", "asked", "left"]
    page.get_by_role("heading", level=1).hover()
    page.mouse.up()
    page.unroute_all()
    assert page.title().startswith("The bench")


def time_goes_to(page):
    """The job that the time of whoever is at the page goes to, as the bench says."""
    text = page.locator("form[action='/away'] button").inner_text()
    return int(re.search(r"[0-9]+", text)[0])


def test_time_goes_to_a_job_when_somebody_comes_to_it_and_not_when_its_link_is_only_touched(page):
    followed(page, f"/jobs/{OPEN_JOB}")
    followed(page, "/")
    assert time_goes_to(page) == OPEN_JOB
    other = LOOKED_AT[1]
    asked = asked_for(page, f"/jobs/{other}")
    with page.expect_response(f"**/jobs/{other}"):
        pressed(page, job_link(page, other), asked)
    page.get_by_role("heading", level=1).hover()
    page.mouse.up()
    followed(page, "/closed")
    followed(page, "/")
    assert time_goes_to(page) == OPEN_JOB
    with page.expect_response(f"**/jobs/{other}/come"):
        job_link(page, other).click()
    followed(page, "/")
    assert time_goes_to(page) == other


def test_nothing_is_asked_for_early_while_something_is_being_entered(page):
    followed(page, f"/jobs/{OPEN_JOB}")
    held = hold(page, "**/note")
    note(page, "before the link is pressed")
    wait_for(page, held)
    asked = asked_for(page, "/shelf")
    page.locator(".links a", has_text="Shelf").hover()
    page.mouse.down()
    page.wait_for_timeout(200)
    assert asked == []
    page.mouse.up()
    held[0].continue_()
    page.wait_for_url("**/shelf")
    assert asked == ["asked"]
