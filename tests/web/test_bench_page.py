"""The bench says of each open job what is most likely wrong, or why not; what is not known yet comes by itself."""

from stores import NOON

from halfsplit.actions import collect, open_job, put_away, record
from halfsplit.job.weighed import Weighed
from halfsplit.settings import Settings, save_settings
from halfsplit.web.standing import Standing

MACHINE = "{complaint: nothing_happens, machine: {kind: built, age_years: 1}}"
PENDING = "most likely wrong: being worked out"


def refreshed_from(page):
    return page.all("div", data_part="open")[0].attrs["data-refresh"]


def test_what_is_not_known_yet_is_said_and_is_there_when_it_is(browser, desk):
    open_job(desk.bench, MACHINE, by="AB", now=NOON)
    page = browser.open("/")
    assert PENDING in page.text
    assert "What is most likely wrong is being worked out for 1 job." in page.text
    address = refreshed_from(page)
    desk.weigher.work_off()  # the bench has asked for it
    page = browser.open(address)
    assert PENDING not in page.text
    assert "is being worked out for" not in page.text
    assert page.all("span", class_="lead")[0].all("b")
    assert refreshed_from(page) == ""


def test_a_job_with_a_stop_says_so_on_the_bench(browser, desk):
    safe = open_job(desk.bench, MACHINE, by="AB", now=NOON)
    wet = open_job(desk.bench, MACHINE, by="AB", now=NOON)
    record(desk.bench, wet, "told: {event: spill}", by="AB", now=NOON)
    browser.open("/")
    desk.weigher.work_off()
    page = browser.open("/")
    states = {
        link.attrs["href"]: link.all("span", class_="state")[0].text for link in page.all("a") if link.all("span")
    }
    assert states[f"/jobs/{wet}"].startswith("STOP on the bench")
    assert states[f"/jobs/{safe}"] == "on the bench"


def test_where_nothing_leads_or_nothing_can_be_said_that_is_told_for_good(browser, desk, monkeypatch):
    number = open_job(desk.bench, MACHINE, by="AB", now=NOON)
    for standing, said in (
        (Standing(weighed=Weighed("", (), (), (), (), ()), is_given_up=True), "nothing stands out yet"),
        (Standing(is_given_up=True), "it cannot be worked out"),
    ):
        monkeypatch.setattr(desk.weigher, "known", lambda _, standing=standing: {number: standing})
        page = browser.open("/")
        assert said in page.all("span", class_="lead")[0].text
        assert refreshed_from(page) == ""


def test_of_a_job_that_is_not_open_nothing_is_worked_out(browser, desk):
    number = open_job(desk.bench, MACHINE, by="AB", now=NOON)
    put_away(desk.bench, number, now=NOON, person_days=90)
    page = browser.open("/")
    assert PENDING not in page.text
    assert refreshed_from(page) == ""
    page = browser.open("/closed")
    assert "put away" in page.all("span", class_="state")[0].text
    page = browser.open(f"/jobs/{number}")
    assert "put away" in page.all("div", class_="strip")[0].text
    browser.press("Bring it back")
    assert "on the bench" in browser.open("/").all("span", class_="state")[0].text


def test_a_job_that_was_closed_by_mistake_is_opened_again(browser, desk):
    number = open_job(desk.bench, MACHINE, by="AB", now=NOON)
    collect(desk.bench, number, by="AB", now=NOON, person_days=90)
    browser.open(f"/jobs/{number}")
    browser.press("Not collected - it is still here")
    assert "ready" in browser.page.all("div", class_="strip")[0].text
    assert browser.page.all("button", data_test="answer") or browser.card()


def test_a_machine_of_one_year_is_one_year_old(browser, desk):
    number = open_job(desk.bench, MACHINE, by="AB", now=NOON)
    assert "1 year old" in browser.open(f"/jobs/{number}").all("div", class_="strip")[0].text


def test_an_empty_bench_says_what_comes_once_at_the_start_until_initials_are_set(browser, desk):
    assert "Once at the start" not in browser.open("/").text
    save_settings(desk.bench.store, Settings())
    page = browser.open("/")
    assert "Once at the start" in page.text
    assert {"/settings", "/shelf"} <= {each.attrs["href"] for each in page.all("a", class_="button")}
