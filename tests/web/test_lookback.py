"""The look back says what a job took by the clock of the bench."""

from datetime import timedelta

from web_reader import Browser

from halfsplit import actions
from halfsplit.web.lookback import look_back

HEAD = "machine: {kind: built, card: none}\ncomplaint: nothing_happens\n"


def job(bench, clock):
    """One hour at the bench: 5, 20 and 10 minutes to an entry, one entered by the way, and 25 minutes of nothing."""
    number = actions.open_job(bench, HEAD, by="AB", now=clock.now)
    actions.start_time(bench, number, by="AB", now=clock.now)
    for minutes, entry in (
        (5, "run: {not: starts}"),
        (20, "repair: {do: replace, at: cell}"),
        (10, "run: {reached: log_in, stop: none}"),
    ):
        clock.now += timedelta(minutes=minutes)
        actions.record(bench, number, f"- {entry}", by="AB", now=clock.now)
    actions.record(bench, number, "- note: seen by the way", by="CD", now=clock.now)
    actions.record(bench, number, "- spend: 12.50", by="CD", now=clock.now)
    clock.now += timedelta(minutes=25)
    actions.call_away(bench, by="AB", now=clock.now)
    return number


def test_steps_last_from_the_entry_before_them(desk, clock):
    view = actions.job_view(desk.bench, job(desk.bench, clock))
    back = look_back(view, view.on_file.book, clock.now + timedelta(days=3))
    assert back.at_bench == "1\u00a0h"
    assert back.in_shop == "3\u00a0days"
    assert (back.runs, back.looks, back.repairs, back.spent_cents) == (2, 0, 1, 1250)
    assert [step.took for step in back.longest] == ["20\u00a0min", "10\u00a0min", "5\u00a0min"]
    assert back.longest[0].line == view.on_file.book.repairs["replace_cell"].title
    assert back.after_repair == "10\u00a0min"


def test_what_was_taken_back_does_not_count_and_runs_of_one_entry_do(desk, clock):
    number = job(desk.bench, clock)
    five, look = "- run: {reached: log_in, stop: none, of: 5}", "- inspect: {at: inside, seen: dust}"
    cell = "- measure: {at: cell_volts, volts: 3.0}"
    actions.record(desk.bench, number, f"{five}\n{look}\n{cell}", by="AB", now=clock.now)
    wrong = ("run_1", "repair_1", "inspect_1")
    actions.record(
        desk.bench,
        number,
        "\n".join(f"- correct: {{entry: {entry}, withdrawn: yes}}" for entry in wrong),
        by="AB",
        now=clock.now,
    )
    view = actions.job_view(desk.bench, number)
    back = look_back(view, view.on_file.book, clock.now)
    assert (back.runs, back.looks, back.repairs) == (1 + 5, 1, 0)
    assert back.after_repair == ""


def test_a_job_that_went_home_ends_there(desk, clock):
    number = job(desk.bench, clock)
    actions.collect(desk.bench, number, by="AB", now=clock.now, person_days=90)
    view = actions.job_view(desk.bench, number)
    assert look_back(view, view.on_file.book, clock.now + timedelta(days=30)).in_shop == "1\u00a0h"


def test_a_job_that_nobody_had_open_has_no_steps(desk, clock):
    number = actions.open_job(desk.bench, HEAD, by="AB", now=clock.now)
    actions.record(desk.bench, number, "- run: {not: starts}", by="AB", now=clock.now)
    view = actions.job_view(desk.bench, number)
    back = look_back(view, view.on_file.book, clock.now)
    assert (back.at_bench, back.longest, back.after_repair) == ("", (), "")


def test_the_copy_looks_back_and_the_owners_page_does_not(desk, clock):
    number = job(desk.bench, clock)
    browser = Browser(desk)
    text = browser.open(f"/jobs/{number}/copy").text
    assert "20 min until: CMOS battery replaced" in text
    assert "spent on it 12 EUR" in text
    assert "Looking back" not in browser.open(f"/jobs/{number}/collection").text
