"""Every page in a real browser, on a tablet and a phone, light and dark: WCAG 2.2 AA, sizes of targets, no overflow.

Judged by axe-core (its rules for WCAG 2.0, 2.1 and 2.2, levels A and AA) and, for what it lets pass, by the boxes that
the browser draws.
"""

import hashlib
import re

import pytest
from browser.chrome import AXE, SIZES, overflow, photograph, sign_in, small_targets, unfold, violations
from page_addresses import LOOKED_AT, NOWHERE, OPEN_JOB, addresses

WEIGHED_MS = 600_000


@pytest.fixture(scope="module")
def page(shop):
    page = shop.open("/")
    sign_in(page)
    for number in LOOKED_AT:
        page.goto(f"/jobs/{number}")
        page.locator('#live[data-refresh=""]').wait_for(state="attached", timeout=WEIGHED_MS)
    yield page
    page.context.close()


def look_at(page, name):
    """Return all that is wrong with what is on the screen, on each size, and in the dark, a line each."""
    wrong = []
    for size, (width, height) in SIZES.items():
        page.set_viewport_size({"width": width, "height": height})
        # At the end of a page the button that stays in sight lies where it belongs, over nothing; that it never hides
        # what has the focus is tested with the keyboard.
        page.evaluate("() => scrollTo(0, document.scrollingElement.scrollHeight)")
        wrong += [f"{size}: {each}" for each in violations(page)]
        photograph(page, f"page {name} {size}")
        wrong += [f"{size}: too small: {each}" for each in small_targets(page)]
        if over := overflow(page):
            wrong.append(f"{size}: {over} px wider than the screen")
    page.emulate_media(color_scheme="dark")  # only colours change, and they are the same on each size
    wrong += [f"dark: {each}" for each in violations(page, colours_only=True)]
    photograph(page, f"page {name} dark")
    page.emulate_media(color_scheme="light")
    return "\n".join(wrong)


@pytest.mark.parametrize("address", addresses())
def test_a_page_keeps_wcag_2_2_aa_and_its_targets_are_large_enough(page, address):
    answer = page.goto(address)
    assert answer.status == (404 if address == NOWHERE else 200)
    if "html" not in answer.headers["content-type"]:
        pytest.skip("no page, but something to be printed")
    unfold(page)
    wrong = look_at(page, address)
    assert not wrong, wrong


def test_what_is_refused_keeps_them_too(page):
    page.goto(f"/jobs/{OPEN_JOB}/entries/run_1")
    unfold(page)
    page.get_by_label("It ran for").fill("a while")
    page.get_by_role("button", name="Correct it").click()
    page.locator("main:not([aria-busy])").get_by_text("'a while' cannot be read").first.wait_for()
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
