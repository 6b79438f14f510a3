"""On a phone the next step comes first: what is not needed for it is folded away, and nothing lies over anything."""

import pytest
from browser.chrome import SIZES, overflow, sign_in, unfold
from page_addresses import CLOSED_JOB, LOOKED_AT, OPEN_JOB

WEIGHED_MS = 600_000

MOST_PX = 3500
"""A job sheet on a phone is no longer, about four screens (what a hand scrolls to; estimate)."""

FOLDED = ("ladder", "map", "grids", "setup", "proof", "log", "state")

COLUMNS = """() => {
  const heads = [...document.querySelectorAll(".ladder-scroll thead th")].map((each) => each.getBoundingClientRect());
  return {
    runs: heads.length - 1,
    edge: heads[0].right,
    seen: document.querySelector(".ladder-scroll").getBoundingClientRect().right,
    lefts: heads.slice(1).map((each) => each.left),
    right: heads.at(-1).right,
  };
}"""

COVERED = """() => {
  const send = document.querySelector(".send").getBoundingClientRect();
  return [...document.querySelectorAll(".entry :is(select, textarea, input, label.tile, legend, summary)")]
    .filter((each) => each.checkVisibility() && each.type !== "hidden")
    .filter((each) => {
      const box = each.getBoundingClientRect();
      return box.bottom > send.top && box.top < send.bottom && box.right > send.left && box.left < send.right;
    })
    .map((each) => each.name || each.innerText);
}"""


@pytest.fixture(scope="module")
def phone(shop):
    page = shop.open("/", "phone")
    sign_in(page)
    yield page
    page.context.close()


@pytest.mark.parametrize("number", LOOKED_AT)
def test_a_job_sheet_on_a_phone_is_short_and_its_card_is_on_the_first_screen(phone, number):
    phone.goto(f"/jobs/{number}")
    if phone.locator("#live").count():  # a job that another test has closed is not weighed
        phone.locator('#live[data-refresh=""]').wait_for(state="attached", timeout=WEIGHED_MS)
        phone.goto(f"/jobs/{number}")
    assert phone.evaluate("() => document.scrollingElement.scrollHeight") <= MOST_PX
    if number == OPEN_JOB:
        assert phone.get_by_test_id("card").bounding_box()["y"] < SIZES["phone"][1]
        for name in FOLDED:
            assert phone.locator(f"details[data-fold]:not([open]):has(#{name})").count() == 1, name


def test_what_is_folded_away_is_one_tap_or_one_key_off_and_a_link_to_it_opens_it(phone):
    phone.goto(f"/jobs/{OPEN_JOB}")
    ladder = phone.locator(".drawn-ladder")
    assert not ladder.is_visible()
    phone.locator(".jump a", has_text="ladder").click()
    ladder.wait_for(state="visible")
    proofs = phone.locator(".proofs")
    assert not proofs.is_visible()
    phone.locator("summary:has(#proof)").focus()
    phone.keyboard.press("Enter")
    proofs.wait_for(state="visible")


def test_the_settings_of_a_phone_can_be_kept_without_passing_all_rates_and_what_is_folded_is_sent_too(phone):
    phone.goto("/settings")
    assert phone.evaluate("() => document.scrollingElement.scrollHeight") < 2 * SIZES["phone"][1]
    rates = phone.locator("details[data-fold] input[inputmode=decimal]")
    assert rates.count() > 5
    assert not rates.first.is_visible()
    before = [each.input_value() for each in rates.all()]
    with phone.expect_navigation():
        phone.get_by_role("button", name="Keep these settings").click()
    assert phone.locator(".saved").is_visible()
    assert [each.input_value() for each in rates.all()] == before
    assert phone.get_by_label("Initials").input_value() == "MK TO"


def test_without_scripts_and_on_a_tablet_nothing_is_folded_away(shop):
    for size, scripts in (("phone", False), ("tablet", True)):
        page = shop.open(f"/jobs/{OPEN_JOB}", size, scripts=scripts)
        assert page.locator("details[data-fold]").count() >= len(FOLDED)
        assert page.locator("details[data-fold]:not([open])").count() == 0
        page.context.close()


@pytest.mark.parametrize("size", SIZES)
def test_the_ladder_starts_at_its_last_runs_and_no_run_is_cut_where_it_starts(shop, size):
    page = shop.open(f"/jobs/{OPEN_JOB}#ladder", size)
    page.locator(".drawn-ladder").wait_for(state="visible")
    at = page.evaluate(COLUMNS)
    assert at["runs"] > 3
    assert at["lefts"][0] < at["edge"] - 1, "all runs fit: nothing to be tested"
    assert abs(at["right"] - at["seen"]) <= 1
    assert min(abs(left - at["edge"]) for left in at["lefts"]) <= 1
    page.context.close()


@pytest.mark.parametrize("size", SIZES)
def test_the_button_that_corrects_an_entry_lies_over_none_of_its_fields(shop, size):
    page = shop.open(f"/jobs/{OPEN_JOB}/entries/run_1", size)
    unfold(page)
    height = page.evaluate("() => document.scrollingElement.scrollHeight")
    assert height > 2 * SIZES[size][1] * 0.9, "all of it fits: nothing to be tested"
    for top in range(0, height, 200):
        page.evaluate("(top) => scrollTo(0, top)", top)
        assert page.evaluate(COVERED) == [], top
    page.context.close()


def test_on_a_phone_what_an_entry_says_is_read_in_few_lines_and_the_button_that_corrects_is_near(shop):
    page = shop.open(f"/jobs/{OPEN_JOB}/entries/run_1", "phone")
    assert page.evaluate("() => document.scrollingElement.scrollHeight") < 2 * SIZES["phone"][1]
    conditions = page.locator("details.group", has_text="What it was run under")
    assert conditions.locator("summary .said").inner_text() == "Cold or warm: cold"
    assert not conditions.get_by_label("Cold or warm").is_visible()
    conditions.locator("summary").click()
    assert conditions.get_by_label("Cold or warm").is_visible()
    assert not conditions.locator("summary .said").is_visible()
    page.context.close()


@pytest.mark.parametrize(("size", "is_said"), [("phone", True), ("wide", False)])
def test_where_not_all_runs_fit_the_ladder_says_that_there_are_earlier_ones(shop, size, is_said):
    page = shop.open(f"/jobs/{OPEN_JOB}#ladder", "phone")
    page.set_viewport_size({"width": SIZES["phone"][0] if size == "phone" else 2400, "height": 900})
    page.locator(".drawn-ladder").wait_for(state="visible")
    at = page.evaluate(COLUMNS)
    assert (at["lefts"][0] < at["edge"] - 1) == is_said
    assert page.get_by_text("earlier runs").is_visible() == is_said
    page.context.close()


def test_on_a_phone_the_first_answer_of_a_card_is_on_the_screen_that_a_tap_leads_to(shop):
    page = shop.open(f"/jobs/{OPEN_JOB}#next", "phone")
    page.get_by_test_id("answer").first.wait_for(timeout=WEIGHED_MS)
    page.goto(f"/jobs/{OPEN_JOB}")
    page.goto(f"/jobs/{OPEN_JOB}#next")
    assert page.get_by_test_id("answer").first.bounding_box()["y"] < SIZES["phone"][1]
    assert page.locator(".how summary").inner_text().startswith("How it is done")
    page.locator(".how summary").click()
    assert page.locator(".steps li").first.is_visible()
    page.context.close()


@pytest.mark.parametrize("size", SIZES)
def test_the_shelf_is_listed_by_kind_and_what_is_to_be_proven_again_is_open(shop, size):
    page = shop.open("/shelf", size)
    kinds = page.locator("details.kind")
    assert kinds.count() > 10
    is_open = kinds.evaluate_all("(all) => all.map((each) => each.open)")
    is_due = kinds.evaluate_all("(all) => all.map((each) => each.querySelector('.parts .flag') !== null)")
    assert is_open == is_due
    part = page.locator("details.kind:not([open]) .parts li").first.get_attribute("id")
    page.goto(f"/shelf#{part}")
    assert page.locator(f"[id='{part}']").is_visible()
    page.context.close()


@pytest.mark.parametrize("number", [OPEN_JOB, CLOSED_JOB])
def test_on_a_wide_screen_two_columns_stand_side_by_side_and_nothing_lies_over_anything(shop, number):
    page = shop.open(f"/jobs/{number}")
    for width in (1024, 1440):
        page.set_viewport_size({"width": width, "height": 768})
        boxes = page.evaluate("""() => [...document.querySelectorAll(".left, .right > *")].map((each) => {
            const box = each.getBoundingClientRect();
            return [box.left, box.right, box.top, box.bottom];
        }).filter(([left, right, top, bottom]) => bottom > top)""")
        assert {left < width / 2 for left, *_ in boxes} == {True, False}
        for one in boxes:
            for other in boxes:
                beside = one[1] <= other[0] + 0.5 or other[1] <= one[0] + 0.5
                below = one[3] <= other[2] + 0.5 or other[3] <= one[2] + 0.5
                assert one is other or beside or below, (one, other)
        ends = [max(bottom for left, _, _, bottom in boxes if (left < width / 2) is side) for side in (True, False)]
        assert min(ends) > max(ends) / 3, "one column is all but empty"
    page.context.close()


@pytest.mark.parametrize("size", SIZES)
def test_the_number_of_a_job_has_room_for_six_digits_and_all_names_of_a_list_begin_at_one_line(shop, size):
    page = shop.open("/", size)
    assert page.locator(".jobs .no").count() > 1
    boxes = page.evaluate("""() => [...document.querySelectorAll(".jobs a")].map((line, at) => {
        const number = line.querySelector(".no"), words = document.createRange();
        if (at === 0) number.textContent = "123456";
        words.selectNodeContents(number);
        return [words, line.querySelector(".what")].map((each) => each.getBoundingClientRect());
    }).map(([number, name]) => [number.left, number.right, name.left])""")
    lefts = {left for *_, left in boxes}
    assert len(lefts) == 1
    assert min(left for left, *_ in boxes) >= 0
    assert max(right for _, right, _ in boxes) < min(lefts)
    page.context.close()


@pytest.mark.parametrize("size", SIZES)
def test_the_day_that_a_job_is_promised_for_is_read_as_a_whole(shop, size):
    page = shop.open(f"/jobs/{OPEN_JOB}", size)
    unfold(page)
    assert page.locator("#day").input_value() != ""
    width, whole = page.locator("#day").evaluate("""(field) => {
        const free = field.cloneNode();
        free.style.cssText = "position: absolute; width: max-content; min-width: max-content";
        field.after(free);
        return [field, free].map((each) => each.getBoundingClientRect().width);
    }""")
    assert width >= whole > 100
    assert overflow(page) == 0
    page.context.close()


@pytest.mark.parametrize("size", SIZES)
def test_what_is_tapped_where_the_job_is_stands_apart(shop, size):
    page = shop.open(f"/jobs/{OPEN_JOB}", size)
    unfold(page)
    boxes = page.locator("[data-part=state] :is(button, a.button)").evaluate_all("""(all) => all.map((each) => {
        const box = each.getBoundingClientRect();
        return [box.left, box.right, box.top, box.bottom];
    })""")
    assert len(boxes) > 10
    for one in boxes:
        below = [other[2] - one[3] for other in boxes if other[2] >= one[3] and other[0] < one[1] and other[1] > one[0]]
        assert not below or min(below) >= 8
    page.context.close()
