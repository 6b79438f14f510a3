"""What is searched for, and the jobs that are closed: so many on a page, with a way on, and nothing else beside."""

import pytest
from stores import NOON

from halfsplit.actions import collect, open_job, set_person
from halfsplit.store.persons import Person
from halfsplit.web.job_line import MOST_LINES

CALLED = "name: grey tower"


def numbers_on(page):
    return [int(each.text) for each in page.all("span", class_="no")]


def bring_in(desk, many, text=CALLED):
    return [open_job(desk.bench, text, by="AB", now=NOON) for _ in range(many)]


def close(desk, number):
    collect(desk.bench, number, by="AB", now=NOON, person_days=90)


def links(page):
    return [each.text for each in page.all("a", class_="button")]


def test_what_was_found_stands_alone_with_a_way_back_to_the_bench(browser, desk):
    other, found = bring_in(desk, 1, "name: another")[0], bring_in(desk, 1)[0]
    close(desk, bring_in(desk, 1, "name: long gone")[0])
    page = browser.open("/?q=tower")
    assert numbers_on(page) == [found]
    assert "Found: 1" in page.text
    assert page.all("input", name="q")[0].attrs["value"] == "tower"
    browser.follow("Back to the bench")
    assert numbers_on(browser.page) == [other, found]


def test_so_many_are_shown_and_where_there_are_more_the_page_says_so_and_leads_on(browser, desk):
    many = bring_in(desk, 2 * MOST_LINES + 1)
    closed, opened = many[-3:], many[:-3]
    for number in closed:
        close(desk, number)
    order = [*reversed(opened), *reversed(closed)]
    page = browser.open("/?q=tower")
    assert numbers_on(page) == order[:MOST_LINES]
    assert f"Found: 1 to {MOST_LINES}" in page.text
    assert "These are not all." in page.text
    assert "The ones before" not in links(page)
    page = browser.follow("The next ones")
    assert numbers_on(page) == order[MOST_LINES : 2 * MOST_LINES]
    page = browser.follow("The next ones")
    assert numbers_on(page) == order[2 * MOST_LINES :]
    assert f"Found: {2 * MOST_LINES + 1} to {2 * MOST_LINES + 1}" in page.text
    assert "These are not all." not in page.text
    assert "The next ones" not in links(page)
    assert numbers_on(browser.follow("The ones before")) == order[MOST_LINES : 2 * MOST_LINES]


def test_as_many_as_a_page_has_are_all(browser, desk):
    bring_in(desk, MOST_LINES)
    page = browser.open("/?q=tower")
    assert f"Found: {MOST_LINES}" in page.text
    assert "The next ones" not in links(page)


def test_an_open_job_that_is_still_being_worked_out_says_so_as_on_the_bench_and_what_comes_is_shown(browser, desk):
    number = bring_in(desk, 1)[0]
    close(desk, bring_in(desk, 1)[0])

    def found():
        page = browser.open("/?q=tower")
        leads = {
            each.all("span", class_="no")[0].text: each.all("span", class_="lead")[0].text for each in page.all("li")
        }
        (part,) = page.all("div", data_part="found")
        without_scripts = page.all("meta", http_equiv="refresh")
        assert bool(without_scripts) == bool(part.attrs["data-refresh"])
        return leads, part.attrs["data-refresh"]

    before, refresh = found()
    assert before[str(number)] == "most likely wrong: being worked out"
    assert list(before.values()).count("") == 1  # of a closed job nothing more comes
    assert refresh == "/?q=tower"
    desk.weigher.work_off()
    after, refresh = found()
    assert "being worked out" not in after[str(number)]
    assert after[str(number)] == browser.open("/").all("span", class_="lead")[0].text != ""
    assert refresh == ""


def test_the_job_of_an_owner_is_found_once_and_first(browser, desk):
    anna, storm, both = bring_in(desk, 3, "name: after the storm")
    for number in (anna, both):
        set_person(desk.bench, number, Person("Anna Storm"), now=NOON, person_days=90)
    assert numbers_on(browser.open("/?q=storm")) == [both, anna, storm]
    assert numbers_on(browser.open("/?q=anna")) == [both, anna]
    close(desk, anna)
    assert numbers_on(browser.open("/?q=anna")) == [both]


def test_where_nothing_is_found_the_page_says_where_it_looked_and_what_to_try(browser):
    page = browser.open("/?q=%3Cgrey%3E")
    assert "No job has: <grey>" in page.text
    assert "A job is found by its number" in page.text
    assert "the beginning of a word is enough" in page.text
    assert numbers_on(page) == []


@pytest.mark.parametrize(
    "address", ["/?q=x&from=0", "/?q=x&from=two", "/?q=x&from=" + "9" * 40, "/closed?before=-3", "/closed?before=x"]
)
def test_where_a_list_begins_is_a_whole_number(browser, address):
    page = browser.open(address, status=422)
    assert "HS805" in page.text
    assert "it is a whole number from 1" in page.text


def test_closed_jobs_have_a_page_of_their_own_the_newest_first(browser, desk):
    many = bring_in(desk, MOST_LINES + 2)
    left = bring_in(desk, 1)[0]
    for number in many:
        close(desk, number)
    assert numbers_on(browser.open("/")) == [left]
    page = browser.follow("Closed jobs")
    assert numbers_on(page) == many[:1:-1]
    page = browser.follow("Older ones")
    assert numbers_on(page) == many[1::-1]
    assert f"Before job {many[2]}" in page.text
    assert "Older ones" not in links(page)
    assert numbers_on(browser.follow("The newest")) == many[:1:-1]


def test_without_closed_jobs_that_page_says_how_one_comes_there(browser):
    page = browser.open("/closed")
    assert "No job is closed yet." in page.text
    assert links(page) == ["Back to the bench"]
