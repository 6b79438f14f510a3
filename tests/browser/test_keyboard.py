"""From the complaint to the first advice, an answer and back again: by the keyboard alone, and without scripts.

WCAG 2.2: 2.1.1 keyboard, 2.4.1 bypass blocks, 2.4.7 focus visible, 2.4.11 focus not obscured.
"""

from browser.chrome import photograph
from browser.hands import SENT
from playwright.sync_api import expect

SETTLED_SECONDS = 600
MOST_STEPS = 120

FOCUS = """() => {
  const at = document.activeElement, target = at.closest("label.tile") || at;
  if (at === document.body) return null;
  const box = target.getBoundingClientRect(), style = getComputedStyle(target);
  const seen = document.elementFromPoint(box.x + box.width / 2, box.y + Math.min(box.height / 2, 24));
  return {
    test: at.dataset.test || "",
    text: (target.innerText || at.getAttribute("aria-label") || at.id).trim(),
    outlined: style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2,
    covered: !(seen && (target.contains(seen) || seen.contains(target))),
    off: box.bottom < 1 || box.top > innerHeight - 1,
  };
}"""
"""What has the focus: its text, and whether it can be seen that it has."""


def step_to(page, text, key="Tab"):
    """Step from one thing to the next until one with this text or mark has the focus; each must show that it has."""
    passed = []
    for _ in range(MOST_STEPS):
        page.keyboard.press(key)
        at = page.evaluate(FOCUS)
        if at is None:
            continue
        assert at["outlined"], (
            f"it cannot be seen that {at['text']!r} has the focus, on the way to {text!r} by {passed}"
        )
        assert not at["off"], f"{at['text']!r} has the focus out of sight"
        assert not at["covered"], f"{at['text']!r} has the focus under something else"
        passed.append(at["text"])
        if text == at["test"] or at["text"].startswith(text):
            return passed
    raise AssertionError(f"no way to {text!r}: {passed}")


def wait_for_answers(page):
    """Wait until the card has answers; they come by themselves, without scripts too."""
    page.get_by_test_id("answer").first.wait_for(timeout=1000 * SETTLED_SECONDS)
    expect(page.locator(".pulse")).to_have_count(0, timeout=1000 * SETTLED_SECONDS)


def test_a_job_is_opened_answered_and_taken_back_by_the_keyboard_alone(shop):
    page = shop.open("/")
    step_to(page, "to the content")
    page.keyboard.press("Enter")
    step_to(page, "Take a machine in")
    page.keyboard.press("Enter")
    page.wait_for_url("**/new")
    step_to(page, "don't know")  # a group of tiles is one stop, at the one that is chosen
    page.keyboard.press("ArrowDown")
    assert page.evaluate(FOCUS)["text"] == "nothing happens"
    passed = step_to(page, "Open the job")
    assert "smell of burning" in passed
    page.keyboard.press("Enter")
    page.wait_for_url("**/jobs/*")
    wait_for_answers(page)
    step_to(page, "answer")
    page.keyboard.press("Enter")
    undo = page.get_by_test_id("undo")
    undo.wait_for()
    page.locator("main:not([aria-busy])").wait_for()
    photograph(page, "keyboard answered")
    step_to(page, "undo", "Shift+Tab")
    page.keyboard.press("Enter")
    page.locator(".log .gone").wait_for()
    page.context.close()


REBUILT = 2
"""The demo's job whose cooler was off."""


def test_the_rebuild_list_is_ticked_off_by_the_keyboard_alone_from_where_it_was_left(shop):
    page = shop.open(f"/jobs/{REBUILT}/rebuild")
    unseen = page.locator(".looks li:has-text('not looked at since')")
    many = unseen.count()
    assert many > 2
    step_to(page, "fine")
    page.keyboard.press("Enter")
    page.get_by_test_id("undo").wait_for()
    page.locator(SENT).wait_for(state="attached")
    assert unseen.count() == many - 1
    assert page.evaluate("() => document.activeElement.dataset.part") == "places"
    assert len(step_to(page, "fine")) == 1
    step_to(page, "undo")
    page.keyboard.press("Enter")
    page.get_by_test_id("undo").wait_for(state="detached")
    page.locator(SENT).wait_for(state="attached")
    assert unseen.count() == many
    assert page.evaluate("() => document.activeElement.dataset.part") == "entered"
    page.context.close()


def test_the_same_without_scripts(shop):
    page = shop.open("/new", scripts=False)
    page.get_by_text("nothing happens").click()
    with page.expect_navigation():
        page.get_by_test_id("open").first.click()
    assert page.get_by_test_id("card").get_attribute("data-card") == "counter_run"
    assert page.locator(".pulse").count() == 1
    assert page.url.endswith("#next")
    wait_for_answers(page)
    before = page.locator(".log li").count()
    with page.expect_navigation():
        page.get_by_test_id("answer").first.click()
    assert page.locator(".log li").count() == before + 1
    photograph(page, "no scripts answered")
    with page.expect_navigation():
        page.get_by_test_id("undo").click()
    assert page.locator(".log .gone").count() == 1
    page.context.close()
