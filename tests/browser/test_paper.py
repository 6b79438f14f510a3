"""What is printed has the size that it is for, as a real browser prints it."""

import re

import pytest

A5_POINTS = (419.5, 595.3)
"""148 x 210 mm (ISO 216) in points of 1/72 inch."""

BOX = re.compile(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)\s*\]")


@pytest.mark.parametrize("address", ["/slip", "/jobs/2/slip", "/jobs/5/slip"])
def test_a_slip_is_both_sides_of_one_a5(shop, address):
    page = shop.open(address)
    boxes = [(float(width), float(height)) for width, height in BOX.findall(page.pdf(prefer_css_page_size=True))]
    page.context.close()
    assert len(boxes) == 2
    for box in boxes:
        assert box == pytest.approx(A5_POINTS, abs=1.5)


OVER = """() => [...document.querySelectorAll(".slip .rows small")]
  .filter((each) => each.parentElement.scrollWidth > each.parentElement.clientWidth)
  .map((each) => each.innerText)"""
"""What stands over the edge of its cell."""


BROKEN = """() => [...document.querySelectorAll(".slip .rows thead small")].flatMap((head) => {
  const text = head.firstChild;
  return [...(text?.data ?? "").matchAll(/\\S+/g)].map((word) => {
    const range = document.createRange();
    range.setStart(text, word.index);
    range.setEnd(text, word.index + word[0].length);
    return [word[0], new Set([...range.getClientRects()].map((each) => Math.round(each.top))).size];
  });
})"""
"""The words at the heads of the runs' columns, each with the lines that it takes."""


@pytest.mark.parametrize("size", ["phone", "tablet"])
def test_a_slip_breaks_no_word_at_the_head_of_a_run(shop, size):
    page = shop.open("/jobs/1/slip", size)
    words = dict(page.evaluate(BROKEN))
    assert "everything" in words
    assert set(words.values()) == {1}
    page.context.close()


@pytest.mark.parametrize("size", ["phone", "tablet"])
def test_a_slip_on_the_screen_keeps_its_words_in_their_cells(shop, size):
    page = shop.open("/jobs/2/slip", size)
    assert any(page.locator(".slip .rows td small").all_inner_texts())  # it says how runs ended
    assert page.evaluate(OVER) == []
    page.context.close()


CUT_OFF = """() => [...document.querySelectorAll(".label")].flatMap((label) => {
  const edge = label.getBoundingClientRect();
  const reach = (box) => Math.max(
    edge.top - box.top, box.bottom - edge.bottom, edge.left - box.left, box.right - edge.right);
  return [...label.querySelectorAll(".of > *")]
    .filter((each) => reach(each.getBoundingClientRect()) > 0)
    .map((each) => each.innerText);
})"""
"""What of a label lies beyond its edge."""


@pytest.mark.parametrize("address", ["/shelf/labels", *(f"/jobs/{number}/label" for number in (2, 8))])
def test_nothing_on_a_label_is_cut_off(shop, address):
    """The number is read from a metre away, and the code is typed where it cannot be scanned."""
    page = shop.open(address)
    page.emulate_media(media="print")
    assert page.locator(".label").count() >= 2
    assert page.evaluate(CUT_OFF) == []
    if address.endswith("/8/label"):
        page.locator(".label.machine span").first.evaluate(
            "(each) => { each.textContent = 'a name without an end '.repeat(9); }"
        )
        assert page.evaluate(CUT_OFF) == []
    page.context.close()
