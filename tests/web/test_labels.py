"""Labels carry a code that another reader reads, and a scanned label does what it says."""

import re

import numpy as np
import pytest
import zxingcpp
from web_reader import Browser

from halfsplit.actions import job_of, job_view, open_job, put_away
from halfsplit.errors import WebError
from halfsplit.job.units import OWNER
from halfsplit.web.codes import JOB, QUIET, SHELF, Code, qr_of, read_code

RUN = re.compile(r"M(\d+) (\d+)h(\d+)v1h-\d+z")
PIXELS = 8


@pytest.fixture
def shop(demo_desk):
    browser = Browser(demo_desk)
    browser.open("/")
    return browser


def drawn(svg):
    """Return the drawing of a QR as grey levels, each module some pixels wide."""
    size = int(re.search(r'viewBox="0 0 (\d+) \1"', svg)[1])
    grey = np.full((size, size), 255, dtype=np.uint8)
    for x, y, many in (map(int, run) for run in RUN.findall(svg)):
        grey[y, x : x + many] = 0
    return np.kron(grey, np.ones((PIXELS, PIXELS), dtype=np.uint8))


def shelf_slots(browser, number):
    slots = job_view(browser.desk.bench, number).course.standing[OWNER].slots
    return {slot: unit for slot, unit in slots.items() if unit.startswith("shelf.")}


@pytest.mark.parametrize("code", [Code(JOB, "1"), Code(JOB, "123456"), Code(SHELF, "outside_supply_bench")])
def test_another_reader_reads_what_was_drawn(code):
    """Read back by an independent decoder; the quiet zone and the sizes are those of ISO/IEC 18004."""
    grey = drawn(str(qr_of(code, "a code")))
    (found,) = zxingcpp.read_barcodes(grey)
    assert found.text == str(code)
    modules = grey.shape[0] // PIXELS - 2 * QUIET
    assert (modules - 17) % 4 == 0
    assert not (grey[: QUIET * PIXELS] == 0).any()


@pytest.mark.parametrize(
    ("said", "code"),
    [
        ("hs:job:12", Code(JOB, "12")),
        ("HS:JOB:12", Code(JOB, "12")),
        (" 7 ", Code(JOB, "7")),
        ("hs:shelf:supply_a", Code(SHELF, "supply_a")),
        ("hsÖjobÖ12", Code(JOB, "12")),
        ("hs;shelf;drive?sata", Code(SHELF, "drive_sata")),
    ],
)
def test_codes_are_read_as_scanners_type_them(said, code):
    assert read_code(said) == code


@pytest.mark.parametrize(
    "said", ["", "4006381333931x", "hs:job:", "hs:job:x", "hs:owner:3", "hs:job-12", "https://x/12"]
)
def test_anything_else_is_told_with_its_code(said):
    with pytest.raises(WebError) as refused:
        read_code(said)
    assert [mistake.code for mistake in refused.value.mistakes] == ["HS811"]


def test_a_scanned_job_opens_and_time_goes_to_it(shop):
    shop.press("MK")
    shop.open("/")
    page = shop.press("open", code="hs:job:3")
    assert shop.address == "/jobs/3"
    assert "front desk" in page.all("h1")[0].text
    assert job_of(shop.desk.bench, by="MK").job == 3
    shop.open("/")
    shop.press("open", code="hs:job:2")
    assert job_of(shop.desk.bench, by="MK").job == 2


def test_a_scanned_part_goes_in_and_comes_out_again(shop):
    shop.open("/jobs/5")
    shop.press("open", code="hs:shelf:supply_a")
    assert shop.address == "/jobs/5"
    assert shelf_slots(shop, 5) == {"supply": "shelf.supply_a"}
    shop.press("open", code="hs:shelf:supplz_a")
    assert shelf_slots(shop, 5) == {}
    assert job_view(shop.desk.bench, 5).course.standing[OWNER].slots["supply"] == "owner.supply"


def test_a_part_for_a_place_that_is_empty_goes_there_without_a_question(shop):
    shop.open("/jobs/8")
    shop.press("memory module no. 2 in")
    shop.press("open", code="hs:shelf:memory_ddr4")
    assert shelf_slots(shop, 8) == {"memory.2": "shelf.memory_ddr4"}


def test_a_part_that_may_go_to_several_places_is_asked_for(shop):
    shop.open("/jobs/8")
    page = shop.press("open", code="hs:shelf:memory_ddr4")
    assert [each.text.split("instead")[0].strip() for each in page.all("button", class_="answer")] == [
        "memory module no. 1",
        "memory module no. 2",
    ]
    shop.press("memory module no. 2")
    assert shelf_slots(shop, 8) == {"memory.2": "shelf.memory_ddr4"}


def test_a_kind_that_the_machine_does_not_have_is_added_and_taken_out(shop):
    shop.open("/jobs/8")
    shop.press("open", code="hs:shelf:speaker_bench")
    assert shelf_slots(shop, 8) == {"speaker": "shelf.speaker_bench"}
    shop.press("open", code="hs:shelf:speaker_bench")
    assert shelf_slots(shop, 8) == {}


def test_new_stock_is_fitted_for_good_or_not_without_a_word(shop):
    shop.open("/jobs/7")
    page = shop.press("open", code="hs:shelf:cell_new")
    assert shelf_slots(shop, 7) == {}
    assert "It is new stock" in page.text
    shop.press("Fitted for good: CMOS battery")
    assert shelf_slots(shop, 7) == {"cell": "shelf.cell_new"}
    assert "repair: {do: replace_cell, at: cell, with: shelf.cell_new" in job_view(shop.desk.bench, 7).lines[-1].text
    shop.press("open", code="hs:shelf:cell_new")  # what a repair fitted stays in
    assert shelf_slots(shop, 7) == {"cell": "shelf.cell_new"}


def test_a_part_scanned_at_the_bench_is_shown_on_the_shelf(shop):
    page = shop.press("open", code="hs:shelf:supply_a")
    assert shop.address == "/shelf"
    assert page.all("li", id="supply_a")


@pytest.mark.parametrize(
    ("page", "code", "mistake"),
    [
        ("/", "no code", "HS811"),
        ("/", "hs:job:999", "HS711"),
        ("/", "hs:shelf:not_there", "HS732"),
        ("/jobs/8", "hs:shelf:not_there", "HS732"),
    ],
)
def test_a_bad_code_says_what_to_do(shop, page, code, mistake):
    shop.open(page)
    refused = shop.press("open", code=code, status=404 if mistake == "HS711" else 422)
    assert mistake in refused.text


def test_a_part_is_not_put_into_a_closed_job(shop, clock):
    token = shop.page.all("input", name="token")[0].attrs["value"]
    answer = shop.client.post("/scan", data={"token": token, "job": "1", "code": "hs:shelf:supply_a"})
    assert answer.status_code == 422
    assert "HS812" in answer.text
    assert shelf_slots(shop, 1) == {}


def test_a_label_has_the_number_and_no_person(shop):
    page = shop.open("/jobs/2/label")
    first = page.all("li", class_="label machine")[0]
    assert first.all("b")[0].text == "2"
    assert "Brandauer" not in page.text
    assert {"memory module no. 1", "memory module no. 2", "graphics card"} <= {
        each.all("span")[0].text for each in page.all("li", class_="label tag")
    }


def test_a_job_of_which_nothing_is_known_has_a_label_too(desk, clock):
    number = open_job(desk.bench, "", by="MK", now=clock())
    put_away(desk.bench, number, now=clock(), person_days=90)
    assert Browser(desk).open(f"/jobs/{number}/label").all("li", class_="label machine")


def test_every_part_of_the_shelf_has_a_label_and_one_alone_if_asked(shop):
    many = shop.open("/shelf/labels").all("li", class_="label machine")
    assert len(many) == len(shop.desk.bench.book.shelf)
    (one,) = shop.open("/shelf/labels?part=supply_a").all("li", class_="label machine")
    assert one.all("small")[0].text == "hs:shelf:supply_a"
