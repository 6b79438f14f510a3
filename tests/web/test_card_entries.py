"""What a card puts on the log beside its answers: the setup that it wants, and what nobody is sure of; sums."""

from dataclasses import replace

import pytest
from folding import BOOK
from spaced import spaced
from stores import NOON

from halfsplit.actions import job_view, open_job, record
from halfsplit.job.advised import Advice, Doubt, Outcome, Proposal
from halfsplit.job.findings import OTHER
from halfsplit.job.lines import line_of
from halfsplit.job.weigh import weigh_job
from halfsplit.model.bench import Minutes
from halfsplit.model.job import ChangeSetup, Inspect, Measure, Run, Seen
from halfsplit.settings import Settings, save_settings
from halfsplit.text import reasons_of
from halfsplit.web.card import card_of
from halfsplit.web.card_entries import target_of, unsure_text
from halfsplit.web.number_field import number_field

MACHINE = "{machine: {kind: built, age_years: 6, card: {}, memory: [8, 8], drives: [sata]}, complaint: nothing_happens}"
CURRENCY = "CHF"
RAN = Run("run", seen=Seen(reached="log_in", stayed=True))


@pytest.fixture
def bench(desk):
    return desk.bench


@pytest.fixture
def number(bench):
    return open_job(bench, MACHINE, by="AB", now=NOON)


def enter(bench, number, text):
    record(bench, number, text, by="AB", now=NOON)
    return job_view(bench, number)


def test_a_check_that_changes_the_machine_shows_how_and_its_entry_makes_it_so(bench, number):
    check = BOOK.checks["minimum_parts"]
    target = target_of(check, job_view(bench, number))
    assert target.is_inside
    assert "take out: memory module no. 2" in spaced(target.drawn)
    view = enter(bench, number, target.entry)
    (change,) = view.job.log
    assert isinstance(change, ChangeSetup)
    standing = view.course.standing["owner"]
    assert not standing.has("memory.2")
    assert not standing.has("drive")
    assert standing.has("memory.1")
    assert target_of(check, view) is None


@pytest.mark.parametrize("name", ["supply_alone", "supply_in_bench"])
def test_a_check_on_another_host_says_what_goes_there(bench, number, name):
    target = target_of(BOOK.checks[name], job_view(bench, number))
    assert target.is_inside
    view = enter(bench, number, target.entry)
    assert view.course.standing[BOOK.checks[name].host].slots["supply"] == "owner.supply"
    assert not view.course.standing["owner"].has("supply")


def test_leads_and_what_stands_around_are_not_inside(bench, number):
    assert not target_of(BOOK.checks["counter_run"], job_view(bench, number)).is_inside


def test_a_check_that_changes_nothing_has_no_target(bench, number):
    assert target_of(BOOK.checks["exhaust_smell"], job_view(bench, number)) is None


def test_every_check_of_the_book_can_be_entered_as_set_up_and_as_unsure(bench, number):
    """And what was set up so needs no more to be done for it."""
    view = job_view(bench, number)
    entered = [0, 0]
    for check in BOOK.checks.values():
        target, unsure = target_of(check, view), unsure_text(check, view)
        if target is not None:
            entered[0] += 1
            other = open_job(bench, MACHINE, by="AB", now=NOON)
            assert target_of(check, enter(bench, other, target.entry)) is None, check.id
        if unsure:
            entered[1] += 1
            enter(bench, open_job(bench, MACHINE, by="AB", now=NOON), unsure)
    assert entered[0] > 20
    assert entered[1] > 60


def test_not_sure_enters_a_look_as_unsure_and_moves_no_suspicion(bench, number):
    check = next(each for each in BOOK.checks.values() if each.asks and set(each.asks) <= set(BOOK.inspections))
    before = weigh_job(job_view(bench, number).job, BOOK)
    view = enter(bench, number, unsure_text(check, job_view(bench, number)))
    assert view.job.log
    assert all(isinstance(look, Inspect) and look.seen == "unsure" for look in view.job.log)
    assert {look.what.partition(".")[0] for look in view.job.log} == set(check.asks)
    after = {fault.id: fault.p for fault in weigh_job(view.job, BOOK).faults}
    assert after == pytest.approx({fault.id: fault.p for fault in before.faults}, rel=1e-9)


def test_not_sure_enters_a_run_with_each_sign_that_was_asked_for_as_unsure(bench, number):
    check = BOOK.checks["hooked_up_supply"]
    view = enter(bench, number, unsure_text(check, job_view(bench, number)))
    (run,) = view.job.log
    assert isinstance(run, Run)
    assert run.swaps["supply"].startswith("shelf.")
    assert set(run.seen.signs) == {word for word in check.asks if word in BOOK.signs}
    assert set(run.seen.signs.values()) == {"unsure"}
    assert (run.seen.reached, run.seen.not_reached, run.seen.stop, run.seen.stayed) == ("", "", None, False)


def test_a_number_that_nobody_is_sure_of_is_not_entered(bench, number):
    assert unsure_text(BOOK.checks["core_supply_measured"], job_view(bench, number)) == ""


def test_not_sure_on_the_card_enters_what_it_asks_as_unsure_and_passes_it_over(browser, desk):
    browser.open("/new")
    browser.press("Open the job", ticked=("nothing happens", "built, no graphics card", "2 to 5 years"))
    browser.press("Not sure")
    lines = [(line.kind, line.text) for line in job_view(desk.bench, browser.number).lines]
    assert [kind for kind, _ in lines[-2:]] == ["run", "decide"]
    assert "fans_turn: unsure" in lines[-2][1]
    assert "not sure: counter run [counter_run]" in lines[-1][1]


def test_done_on_the_card_sets_the_machine_up_and_the_card_stays(browser, desk):
    browser.open("/new")
    browser.press("Open the job", ticked=("nothing happens", "built, no graphics card", "2 to 5 years"))
    desk.weigher.work_off()
    page = browser.open(browser.address)
    assert browser.card() == "counter_run"
    assert page.all("details", class_="target")
    page = browser.press("Done - it looks like this")
    assert job_view(desk.bench, browser.number).lines[-1].kind == "setup"
    assert browser.card() == "counter_run"
    assert page.all("button", data_test="answer")
    assert not page.all("details", class_="target")


def test_could_not_enters_nothing_as_unsure(browser, desk):
    browser.open("/new")
    browser.press("Open the job", ticked=("nothing happens",))
    browser.press("Could not")
    assert [line.kind for line in job_view(desk.bench, browser.number).lines][-1:] == ["decide"]
    assert "run" not in [line.kind for line in job_view(desk.bench, browser.number).lines]


def test_every_sum_on_the_sheet_has_the_currency_of_the_bench(browser, desk):
    save_settings(desk.bench.store, Settings(people=("AB",), currency=CURRENCY))
    browser.open("/new")
    browser.press("Open the job", ticked=("nothing happens", "built, no graphics card", "2 to 5 years"))
    record(desk.bench, browser.number, "agree: {text: up to, cost: 120}", by="AB", now=NOON)
    desk.weigher.standing(job_view(desk.bench, browser.number).on_file)
    desk.weigher.work_off()
    page = browser.open(browser.address)
    assert f"up to 120.00 {CURRENCY}" in page.all("ol", class_="log")[0].text
    others = [each.text for each in page.all("ul", class_="others")[0].all("small")]
    assert others
    assert all(each.count(CURRENCY) == 2 for each in others)
    reasons = page.all("details", class_="reasons")[0].text
    assert f" {CURRENCY}: " in reasons
    assert page.all("div", id="live")[0].text.count(CURRENCY) >= 2 * len(others) + 3
    for paper in ("collection", "copy"):
        assert f"up to 120.00 {CURRENCY}" in browser.open(f"/jobs/{browser.number}/{paper}").text


def test_reasons_say_the_currency_of_every_sum_or_of_none():
    repair = Proposal(
        "r", "repair", "a new part", "supply", 9000.0, 30000.0, 100.0, Minutes(5, 5), 300.0, 8000.0, p=0.5
    )
    end = Proposal("end", "end", "hand it back", "", 0.0, 52000.0, 0.0, Minutes(0, 0))
    doubts = (Doubt("c", 0.3, 1234.0),)
    advice = Advice((repair, end), "r", False, (), 30000.0, 0.0, 70000.0, doubts=doubts)
    said = spaced(" ".join((*reasons_of(advice, repair, BOOK, "EUR"), *reasons_of(advice, end, BOOK, "EUR"))))
    for whole in ("90", "80", "3.00", "220", "12", "300", "700"):
        assert f" {whole} EUR" in said, whole
    assert "EUR" not in " ".join(reasons_of(advice, repair, BOOK))


def test_no_two_answers_of_a_card_say_the_same(desk):
    """A look and a number may be of the same part: only the number is left out of what an answer says.

    And "something else" is none: it would enter what nobody has said.
    """
    number = open_job(desk.bench, MACHINE, by="AB", now=NOON)
    view = job_view(desk.bench, number)
    look = Inspect("fan.2", what="fan.2", tool="straw", seen="stands_still")
    numbers = [Measure("n", what=what) for what in ("cpu_fan_rpm", "fan_rpm.2")]
    titles = [number_field(each, BOOK).title for each in numbers]
    assert titles[1] == line_of([look], BOOK).partition(":")[0]
    ran = "runs to log-in and stays up"
    lines = {
        f"{ran}; {line_of([look], BOOK)}; {titles[0]}: low; {titles[1]}: low": (RAN, look, *numbers),
        f"{ran}; {titles[0]}: low": (RAN, replace(look, seen="fine"), *numbers),
        f"{titles[1]}: high": (replace(look, seen="fine"), *numbers),
        OTHER: (replace(look, seen="fine"),),
    }
    outcomes = tuple(Outcome(line, 0.3, (), "", entries) for line, entries in lines.items())
    straw = Proposal("c", "check", "a straw", "", 0.0, 0.0, 0.0, Minutes(1, 1), outcomes=outcomes, parts=("fan_straw",))
    card = card_of(Advice((straw,), "c", False, (), 0.0, 0.0, 0.0), straw, view, CURRENCY)
    assert [answer.label for answer in card.answers] == [
        f"{ran}; {line_of([look], BOOK)}",
        ran,
        "all else as it should be",
    ]


def answers_to(repair, at, view, openings=()):
    """Return the answers of a card of one repair, and what each would enter."""
    part = f"{repair}@{at}"
    mend = Proposal(
        part, "repair", "mend it", at, 100.0, 100.0, 0.0, Minutes(1, 1), p=0.9, openings=openings, parts=(part,)
    )
    card = card_of(Advice((mend,), part, False, (), 0.0, 0.0, 0.0), mend, view, CURRENCY)
    return {answer.label: answer.entry for answer in card.answers}


def test_outside_the_case_a_repair_and_the_run_that_shows_it_are_one_tap(bench, number):
    said = answers_to("set_output", "video_plug", job_view(bench, number))
    assert list(said) == ["Done", "Done, and it runs as it should"]
    view = enter(bench, number, said["Done, and it runs as it should"])
    repair, run = view.job.log
    assert (repair.do, repair.to) == ("set_output", "video_plug")
    assert (run.seen.reached, run.seen.stayed) == ("log_in", True)
    assert {lit for stages in run.seen.picture.values() for lit in stages.values()} == {True}


def test_inside_it_the_run_after_a_repair_is_a_card_of_its_own(bench, number):
    assert list(answers_to("reseat_card", "card_seat", job_view(bench, number), ("card_off",))) == ["Done"]


def test_a_part_of_the_shelf_is_fitted_for_good_only_where_it_is_there_for_that(bench, number):
    """Only new stock, donors and what was ordered: what the bench tries with stays on the bench."""
    view = job_view(bench, number)
    supplies = answers_to("replace_supply", "supply", view)
    assert list(supplies) == ["Done, with a new part"]
    cells = answers_to("replace_cell", "cell", view)
    assert list(cells) == ["Done, with new CMOS battery", "Done, with a part that was bought for it"]
    assert "shelf.cell_new" in cells["Done, with new CMOS battery"]
    assert "shelf." not in cells["Done, with a part that was bought for it"]
