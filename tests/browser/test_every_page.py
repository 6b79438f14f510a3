"""Every page in a real browser, on a tablet and a phone, light and dark: WCAG 2.2 AA, sizes of targets, no overflow.

Judged by axe-core (its rules for WCAG 2.0, 2.1 and 2.2, levels A and AA) and, for what it lets pass, by the boxes that
the browser draws.
"""

import hashlib
import re

import pytest
from browser.chrome import AXE, SIZES, overflow, photograph, small_targets, unfold, violations

from halfsplit.web.routes import ROUTES

WEIGHED_MS = 240_000
OPEN_JOB, CLOSED_JOB = 2, 1
"""Jobs of the demo: one with runs on its ladder, and the one that was collected."""

KNOWN = {
    "{number:int}": (str(OPEN_JOB),),
    "{section}/{entry}": ("faults/board_dead", "checks/counter_run", "measurements/rail_12v", "hazards/mains"),
    "{entry}": ("run_1",),
}
"""What stands in addresses -> what is put there."""

NO_PAGES = ("/next", "/photos/")
"""Pieces of addresses that are no page by themselves: a part of one, a picture."""

MORE = (
    f"/jobs/{CLOSED_JOB}",
    f"/jobs/{CLOSED_JOB}/collection",
    "/jobs/3",
    "/jobs/4",
    "/jobs/5",
    f"/jobs/{OPEN_JOB}/told?words=goes+off+in+games+since+the+cat+knocked+it+over",
    "/?q=storm",
    "/book?q=supply",
    "/nowhere",
)
"""Further faces of pages: closed, found, offered, with a stop point, refused."""


def addresses():
    found = []
    for method, address, _ in ROUTES:
        if method == "GET" and not any(piece in address for piece in NO_PAGES):
            found.append(address)
    for name, values in KNOWN.items():
        found = [each.replace(name, value) for each in found for value in (values if name in each else ("",))]
    return [*found, *MORE]


@pytest.fixture(scope="module")
def page(shop):
    page = shop.open("/")
    page.get_by_role("button", name="MK", exact=True).click()
    for number in (OPEN_JOB, 3, 4, 5):
        page.goto(f"/jobs/{number}")
        page.locator('#live[data-refresh=""]').wait_for(state="attached", timeout=WEIGHED_MS)
    yield page
    page.context.close()


def look_at(page, name):
    """Return all that is wrong with what is on the screen, on each size, light and dark, a line each."""
    wrong = []
    for size, (width, height) in SIZES.items():
        page.set_viewport_size({"width": width, "height": height})
        page.emulate_media(color_scheme="light")
        # At the end of a page the button that stays in sight lies where it belongs, over nothing; that it never hides
        # what has the focus is tested with the keyboard.
        page.evaluate("() => scrollTo(0, document.scrollingElement.scrollHeight)")
        wrong += [f"{size}: {each}" for each in violations(page)]
        photograph(page, f"page {name} {size} light")
        wrong += [f"{size}: too small: {each}" for each in small_targets(page)]
        if over := overflow(page):
            wrong.append(f"{size}: {over} px wider than the screen")
        page.emulate_media(color_scheme="dark")
        wrong += [f"{size}, dark: {each}" for each in violations(page, colours_only=True)]
        photograph(page, f"page {name} {size} dark")
    page.emulate_media(color_scheme="light")
    return "\n".join(wrong)


@pytest.mark.parametrize("address", addresses())
def test_a_page_keeps_wcag_2_2_aa_and_its_targets_are_large_enough(page, address):
    assert "{" not in address, "say in KNOWN what stands there"
    answer = page.goto(address)
    assert answer.status == (404 if address == "/nowhere" else 200)
    if "html" not in answer.headers["content-type"]:
        pytest.skip("no page, but something to be printed")
    unfold(page)
    wrong = look_at(page, address)
    assert not wrong, wrong


def test_what_is_refused_keeps_them_too(page):
    page.goto(f"/jobs/{OPEN_JOB}/entries/run_1")
    page.locator("#fields").fill("reached: the_moon")
    page.get_by_role("button", name="Correct it").click()
    assert "the_moon" in page.locator("main").inner_text()
    wrong = look_at(page, "refused")
    assert not wrong, wrong


def test_axe_is_the_file_that_was_published_and_finds_what_is_wrong(shop):
    told = re.search(r"SHA-256 \| `(\w+)`", (AXE.parent / "README.md").read_text(encoding="utf-8"))[1]
    assert hashlib.sha256(AXE.read_bytes()).hexdigest() == told
    page = shop.open("/")
    page.evaluate("""() => {
        document.querySelector("main").innerHTML = `<img src="/static/mark.svg"><p class="pale">pale</p>
            <button id="small">small</button><p>in <a href="/">a line</a></p>`;
        document.getElementById("small").style.cssText = "all: unset";
        document.querySelector(".pale").style.cssText = "color: #aaa; background: #fff; width: 3000px";
    }""")
    rules = {line.partition(":")[0] for line in violations(page)}
    assert {"image-alt", "color-contrast"} <= rules
    assert {line.partition(":")[0] for line in violations(page, colours_only=True)} == {"color-contrast"}
    assert [line for line in small_targets(page) if "small" in line]
    assert not [line for line in small_targets(page) if "a line" in line]
    assert overflow(page) > 0
    page.context.close()
