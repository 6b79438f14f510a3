"""An intake that is sent twice opens one job; another intake, or one that was refused, opens its own."""

from concurrent.futures import ThreadPoolExecutor

import pytest

from halfsplit.actions import list_open_jobs
from halfsplit.web.once import MOST_MARKS, Once


@pytest.fixture
def form(browser):
    """What an intake form carries that was shown."""
    page = browser.open("/new")
    return {each.attrs["name"]: each.attrs["value"] for each in page.all("input", type="hidden")}


def sent(browser, form, **more):
    answer = browser.client.post("/new", data={**form, **more}, follow_redirects=False)
    return answer.status_code, answer.headers.get("location", "")


def test_an_intake_sent_twice_opens_one_job_and_leads_to_it(browser, form):
    first = sent(browser, form, complaint="nothing_happens")
    assert sent(browser, form, complaint="nothing_happens") == first == (303, "/jobs/1#next")
    assert len(list_open_jobs(browser.desk.bench)) == 1


def test_two_intakes_are_two_jobs(browser, form):
    sent(browser, form, complaint="nothing_happens")
    page = browser.open("/new")
    other = {each.attrs["name"]: each.attrs["value"] for each in page.all("input", type="hidden")}
    assert other["mark"] != form["mark"]
    assert sent(browser, other, complaint="nothing_happens") == (303, "/jobs/2#next")


def test_an_intake_that_was_refused_may_be_sent_again(browser, form):
    assert sent(browser, form, complaint="no_such_thing")[0] == 422
    assert sent(browser, form, complaint="nothing_happens") == (303, "/jobs/1#next")


def test_what_is_sent_at_the_same_moment_is_done_once():
    once, done = Once(), []

    def act():
        done.append(1)
        return len(done)

    with ThreadPoolExecutor(8) as pool:
        assert set(pool.map(lambda _: once.do("a", act), range(40))) == {1}
    assert once.do("", act) == 2
    assert once.do("", act) == 3


def test_only_the_last_forms_are_remembered():
    once = Once()
    for number in range(MOST_MARKS + 1):
        assert once.do(f"{number}", lambda number=number: number) == number
    assert once.do("1", lambda: -1) == 1
    assert once.do("0", lambda: -1) == -1
