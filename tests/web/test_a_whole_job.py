"""A job from the counter to collection, by forms without scripts; the taps are counted."""

from datetime import timedelta

import pytest
from stores import NOON

from halfsplit.actions import job_of, job_view, record
from halfsplit.job.advise import advise
from halfsplit.job.advised import PROVE, PROVING
from halfsplit.job.spent import Agreed, agreed_on
from halfsplit.model.rates import Rates
from halfsplit.plan import REPLACE

TO_FIRST_ADVICE = 8
"""Taps from complaint to first advice (common practice, no source)."""


@pytest.fixture
def opened(browser):
    """A job opened at the counter by tiles alone."""
    browser.open("/new")
    browser.press(
        "Open the job",
        ticked=("nothing happens", "thunderstorm or lightning near by", "built, no graphics card", "2 to 5 years"),
    )
    return browser


def lines(browser):
    return [(line.kind, line.text) for line in job_view(browser.desk.bench, browser.number).lines]


def entries(browser):
    return [(line.entry, line.text) for line in job_view(browser.desk.bench, browser.number).lines]


def withdraw(browser, name):
    text = f"- correct: {{entry: {name}, withdrawn: yes}}"
    record(browser.desk.bench, browser.number, text, by="AB", now=browser.desk.clock())


def test_from_complaint_to_first_advice_in_eight_taps_and_no_typing(opened):
    opened.desk.weigher.work_off()
    opened.open(opened.address)
    assert opened.card() == "counter_run"
    assert opened.taps <= TO_FIRST_ADVICE
    assert opened.typed == 0
    assert lines(opened)[0][1] == (
        "machine:\n  kind: built\n  age_years: 3.5\n  card: none\ncomplaint: nothing_happens\n"
    )
    assert lines(opened)[1][1].startswith("told: {event: storm")


def test_a_result_is_one_tap_and_the_page_does_not_wait_for_the_ranking(opened):
    opened.desk.weigher.work_off()
    opened.open(opened.address)
    before = opened.taps
    page = opened.press("does not start")
    assert opened.taps == before + 1
    kind, text = lines(opened)[-1]
    assert kind == "run"
    assert "not: starts" in text
    assert "stopped before 'starts" in page.all("ol", class_="log")[0].text
    assert page.all("div", id="live")[0].attrs["data-refresh"].startswith(f"/jobs/{opened.number}/next?")
    likely = opened.card()
    assert likely
    assert "likely next" in page.all("article")[0].text
    # What is likely next can be answered before anything is weighed again.
    opened.press(next(each.text.split(" about ")[0] for each in page.all("button", data_test="answer")))
    assert len(lines(opened)) >= 4


def test_an_answer_without_its_numbers_is_an_answer_and_the_card_does_not_ask_for_them_again(opened):
    opened.desk.weigher.work_off()
    page = opened.open(f"/jobs/{opened.number}?do=wall_watts")
    assert opened.card() == "wall_watts"
    names = [each.attrs["name"] for each in page.all("input", inputmode="decimal")]
    assert "number:wall_watts_off:idle:owner" in names
    opened.press(page.all("button", data_test="answer")[0].text)
    (kind, _), (decided, said) = lines(opened)[-2:]
    assert (kind, decided) == ("run", "decide")
    assert "done without its numbers: watts at the wall [wall_watts]" in said
    opened.desk.weigher.work_off()
    page = opened.open(opened.address)
    assert opened.card() != "wall_watts"
    assert any("done without its numbers: watts at the wall" in each.text for each in page.all("details"))
    page = opened.open(f"/jobs/{opened.number}?do=wall_watts")
    many = len(lines(opened))
    answer = page.all("button", data_test="answer")[0].text
    opened.press(answer, **{"number:wall_watts_off:idle:owner": "2"})
    assert "measure" in {kind for kind, _ in lines(opened)[many:]}
    assert "decide" not in {kind for kind, _ in lines(opened)[many:]}


def test_what_was_set_up_for_a_check_leads_back_to_its_card(opened):
    opened.desk.weigher.work_off()
    page = opened.open(f"/jobs/{opened.number}?do=hooked_up_supply")
    assert opened.card() == "hooked_up_supply"
    page = opened.post_button("set-up")
    refreshed = page.all("div", id="live")[0].attrs["data-refresh"]
    assert "do=hooked_up_supply" in refreshed
    assert lines(opened)[-1][0] == "setup"
    opened.desk.weigher.work_off()
    page = opened.open(refreshed)
    assert opened.card() == "hooked_up_supply"
    assert page.all("article")[0].all("button", data_test="answer")


def test_undo_takes_back_what_was_just_tapped_and_only_for_ten_seconds(opened, clock):
    opened.press("note it", words="looked at it")
    assert opened.page.all("button", data_test="undo")
    opened.press("Take it back")
    assert lines(opened)[-1][0] == "correct"
    opened.press("note it", words="looked at it again")
    clock.now = clock.now.replace(second=30)
    page = opened.open(opened.address)
    assert not page.all("button", data_test="undo")


def test_seen_by_the_way_is_two_taps(opened):
    taps = opened.taps
    opened.follow("Seen by the way")
    opened.press("burnt smell")
    assert opened.taps == taps + 2
    assert lines(opened)[-1][0] == "inspect"
    assert "burnt_smell" in lines(opened)[-1][1]


def test_of_two_things_seen_by_the_way_the_second_is_one_tap_and_each_can_be_taken_back_there(opened, clock):
    opened.follow("Seen by the way")
    opened.press("burnt smell")
    taps = opened.taps
    clock.now = clock.now.replace(second=1)
    page = opened.press("no: fans turn")
    assert opened.taps == taps + 1
    assert [kind for kind, _ in lines(opened)[-2:]] == ["inspect", "run"]
    assert page.all("div", data_part="entered")[0].text.endswith("Take it back")
    opened.press("Take it back")
    assert lines(opened)[-1][0] == "correct"
    assert "Job 1 - seen by the way" in opened.page.text
    opened.follow("To the sheet")
    assert opened.page.all("ol", class_="log")


def test_a_repair_that_was_done_is_two_taps(opened):
    taps = opened.taps
    opened.follow("Repair done")
    opened.press("done: CMOS battery replaced")
    assert opened.taps == taps + 2
    assert lines(opened)[-1][0] == "repair"


def test_a_hazard_told_at_the_counter_stops_before_anything_is_weighed(browser):
    browser.open("/new")
    page = browser.press("Open the job", ticked=("nothing happens", "liquid spilt"))
    stops = page.all("div", class_="stop bars")
    assert stops
    assert "STOP" in stops[0].text
    assert browser.card() == ""


def test_already_done_passes_over_and_can_be_taken_up_again(opened):
    opened.desk.weigher.work_off()
    opened.open(opened.address)
    opened.press("Already done")
    assert "already done: counter run [counter_run]" in lines(opened)[-1][1]
    opened.desk.weigher.work_off()
    page = opened.open(opened.address)
    assert opened.card() not in ("", "counter_run")
    assert "already done: counter run" in page.text
    opened.press("take up again")
    opened.desk.weigher.work_off()
    opened.open(opened.address)
    assert opened.card() == "counter_run"


def test_proof_runs_are_counted_on_one_button_and_in_one_entry(opened):
    for held in range(1, 6):
        page = opened.press("+1 cold start")
        assert page.all("button", data_test="proof-cold")[0].text == f"+1 cold start {held}"
    runs = [text for kind, text in lines(opened) if kind == "run"]
    assert len(runs) == 1
    (run,) = [run for run in job_view(opened.desk.bench, opened.number).folded().runs]
    assert (run.of, run.failed, run.seen.stayed) == (5, 5, True)


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("cold", "run: {cold: yes, not: log_in, picture: {used: {self_test: yes}}}"),
        ("wake", "run: {started_by: wake, signs: {sleep_no_wake: yes}}"),
        ("memory", "run: {load: memory, minutes: 30, reached: memory_passes, signs: {memory_test_errors: yes}}"),
        ("all", "run: {load: all, minutes: 30, reached: log_in, stop: yes}"),
    ],
)
def test_a_proof_run_that_did_not_hold_is_one_tap_and_leads_back_to_the_card(opened, name, said):
    opened.press("+1 cold start")
    page = opened.post_button(f"failed-{name}")
    assert lines(opened)[-1][1].startswith(said.removesuffix("}"))
    assert page.all("button", data_test=f"failed-{name}")[0].text.endswith(" 1")
    assert page.all("button", data_test="proof-cold")[0].text == "+1 cold start 1"


def test_the_proof_that_the_card_asks_for_is_made_by_three_taps_of_its_list(opened):
    record(
        opened.desk.bench, opened.number, "- run: {not: starts}\n- repair: {do: replace, at: supply}", by="AB", now=NOON
    )
    page = opened.open(f"/jobs/{opened.number}")
    listed = [each.attrs["value"] for each in page.all("button", class_="plus")]
    assert tuple(listed[:3]) == PROVING
    assert "card" not in listed  # it has none
    for name in PROVING:
        page = opened.post_button(f"proof-{name}")
        assert page.all("button", data_test=f"proof-{name}")[0].text.endswith(" 1")
    job = job_view(opened.desk.bench, opened.number).job
    assert PROVE not in {each.id for each in advise(job, opened.desk.bench.book).proposals}
    page = opened.post_button("failed-load_all")
    assert page.all("button", data_test="failed-load_all")[0].text.endswith(" 1")
    job = job_view(opened.desk.bench, opened.number).job
    (prove,) = [each for each in advise(job, opened.desk.bench.book).proposals if each.id == PROVE]
    assert prove.title == "prove that it holds: an hour of load on everything"


def test_a_yes_of_the_owner_is_noted_with_its_sum_and_counts_from_then_on(opened):
    page = opened.press("note the yes", sum="80,50", words="Ms Vale, by phone")
    assert lines(opened)[-1][1].startswith('agree: {text: "Ms Vale, by phone", cost: 80.50')
    assert "approved" in page.all("div", class_="strip")[0].text
    view = job_view(opened.desk.bench, opened.number)
    assert agreed_on(view.job.log, Rates()) == Agreed(8050.0, 8050.0, is_owners=True)
    assert view.row.contacted_at
    assert "HS805" in opened.press("note the yes", sum="a lot", status=422).text
    assert len(job_view(opened.desk.bench, opened.number).lines) == len(view.lines)


def test_what_was_decided_is_decided_once_and_stands_on_the_collection_page(opened):
    opened.desk.weigher.work_off()
    opened.open(f"/jobs/{opened.number}?do={REPLACE}")
    assert opened.card() == REPLACE
    opened.press("Decided so")
    opened.desk.weigher.work_off()
    page = opened.open(f"/jobs/{opened.number}?do={REPLACE}")
    assert opened.card() == REPLACE
    assert not page.all("article")[0].all("button", data_test="answer")
    assert any(each.attrs["href"].endswith("/collection") for each in page.all("article")[0].all("a"))
    assert "replace the machine as a whole" in opened.open(f"/jobs/{opened.number}/collection").text


def test_where_the_owner_wants_it_mended_all_the_same_the_next_best_is_on_the_card(opened):
    opened.desk.weigher.work_off()
    opened.open(f"/jobs/{opened.number}?do={REPLACE}")
    opened.press("The owner wants it mended")
    assert lines(opened)[-1][1].startswith('decide: {text: "not as the owner wants it: replace the machine as a whole')
    opened.desk.weigher.work_off()
    opened.open(opened.address)
    assert opened.card() not in (REPLACE, "")
    page = opened.open(f"{opened.address}#log")
    assert f"[{REPLACE}]" not in page.text


def test_called_away_is_one_tap_from_the_sheet_for_whoever_is_known(opened):
    page = opened.open(opened.address)
    assert not page.all("button", data_test="away")
    opened.press("AB")
    opened.open(opened.address)
    assert job_of(opened.desk.bench, by="AB").job == opened.number
    opened.post_button("away")
    assert opened.address == "/"
    assert job_of(opened.desk.bench, by="AB") is None


def test_how_a_run_went_is_entered_as_the_run_of_the_card_that_had_no_answer_for_it(opened):
    opened.desk.weigher.work_off()
    opened.open(opened.address)
    page = opened.open(next(link.attrs["href"] for link in opened.page.all("a") if link.text == "Saw something else"))
    assert "Entered as the run of: counter run." in page.text
    opened.press("started, no picture")
    kind, text = lines(opened)[-1]
    assert kind == "run"
    assert "monitor: shelf.monitor_bench" in text
    assert "reached: starts, picture: {used: {self_test: no, system: no}}" in text
    opened.follow("Seen by the way")
    opened.press("froze")
    assert lines(opened)[-1][1].startswith("run: {reached: log_in, stop: freezes")


def test_a_number_is_entered_with_its_unit(opened):
    opened.follow("Seen by the way")
    opened.press("Enter the numbers", **{"number:cell_volts:idle:owner": "2,95"})
    assert lines(opened)[-1][0] == "measure"
    assert "cell_volts, volts: 2.95" in lines(opened)[-1][1]


@pytest.mark.parametrize(
    ("number", "said"),
    [
        ("12.1", "12.1 V"),
        ("1.2", "1.2 V - outside the limits: 11.4 to 12.6 V"),
        ("14,5", "14.5 V - outside the limits: 11.4 to 12.6 V"),
    ],
)
def test_a_number_outside_its_limits_says_so_as_soon_as_it_is_entered(opened, clock, number, said):
    """ATX12V Power Supply Design Guide 2.0, table 2: +12 V within 5 %, 11.40 to 12.60 V."""
    clock.now += timedelta(minutes=1)
    opened.follow("Seen by the way")
    page = opened.press("Enter the numbers", **{"number:rail_12v:idle:owner": number})
    assert f"+12 V at the 24-pin or a drive plug: {said}" in page.all("div", data_part="entered")[0].text
    assert said in opened.open(f"/jobs/{opened.number}").all("ol", class_="log")[0].text


def test_the_setup_is_changed_by_a_tap_and_changed_back_by_another(opened):
    page = opened.press("memory module no. 1 in")
    assert [each.text for each in page.all("button", class_="chip changed")] == ["memory module no. 1 out"]
    page = opened.press("memory module no. 1 out")
    assert page.all("button", class_="chip changed") == []


def test_words_of_the_owner_are_offered_and_entered_by_ticking(browser):
    browser.open("/new")
    page = browser.press(
        "Open the job", ticked=("nothing happens",), words="black screen since the cat knocked it over"
    )
    assert browser.address.endswith("/told")
    offered = [each.parent.text for each in page.all("input", name="entry")]
    assert any("knocked or fallen over" in each for each in offered)
    browser.press("Enter what is ticked", ticked=tuple(each for each in offered if "knocked" in each))
    assert any("event: knocked" in text for _, text in lines(browser))


def test_what_was_told_and_withdrawn_is_offered_again(opened):
    words = f"/jobs/{opened.number}/told?words=the+cat+knocked+it+over"
    opened.open(words)
    opened.press(
        "Enter what is ticked", ticked=tuple(each.parent.text for each in opened.page.all("input", name="entry"))
    )
    assert not opened.open(words).all("input", name="entry")
    withdraw(opened, next(name for name, text in entries(opened) if "knocked" in text))
    assert [each.parent.text for each in opened.open(words).all("input", name="entry")]


def test_a_wrong_entry_is_corrected_and_the_old_one_stays(opened):
    opened.press("note it", words="first words")
    opened.open(f"/jobs/{opened.number}/entries/note_1")
    opened.press("Correct it", text="second words")
    assert [text for kind, text in lines(opened) if kind == "note"]
    page = opened.open(f"/jobs/{opened.number}")
    log = page.all("ol", class_="log")[0].text
    assert "first words - corrected to: second words" in log
    assert "corrects \u2018first words\u2019" in log


def test_states_and_collection(opened, clock):
    opened.press("part ordered", waiting_for="supply, Thursday")
    assert "part ordered: supply, Thursday" in opened.page.text
    opened.press("Owner told just now")
    opened.open(f"/jobs/{opened.number}/mend")
    opened.press("done: CMOS battery replaced")
    opened.press("+1 cold start")
    page = opened.open(f"/jobs/{opened.number}/collection")
    assert "CMOS battery replaced" in page.text
    assert "cold start: held once" in page.text
    assert any(fault.owner_says in page.text for fault in opened.desk.bench.book.faults.values() if fault.owner_says)
    opened.press("Collected")
    page = opened.open("/")
    assert not page.all("section")[0].all("ol", class_="jobs")
    assert "This job is closed" in opened.open("/jobs/1").text


def test_a_dead_supply_job_takes_no_more_than_25_taps(browser):
    """The trade's own course of it (common practice): counter run to collection, every tap on a form or link."""
    browser.open("/new")
    browser.press("Open the job", ticked=("nothing happens", "built, no graphics card", "5 to 8 years"))
    browser.follow("Seen by the way")
    browser.press("no: fans turn")
    browser.follow("To the sheet")
    browser.follow("Repair done")
    browser.press("done: power supply replaced")
    for _ in range(5):
        browser.press("+1 cold start")
    browser.press("+1 30 min load, everything")
    browser.follow("Collection page")
    browser.press("Collected")
    assert browser.taps <= 25


def test_the_counter_run_is_there_before_anything_is_weighed(opened):
    assert opened.card() == "counter_run"
    card = opened.page.all("article")[0]
    assert card.all("ol", class_="steps")
    assert not card.all("button", data_test="answer")


def test_the_counter_run_comes_back_before_anything_is_weighed_where_the_only_run_is_withdrawn(opened):
    record(opened.desk.bench, opened.number, "- run: {not: starts}", by="AB", now=opened.desk.clock())
    opened.open(opened.address)
    assert opened.card() == ""
    withdraw(opened, "run_1")
    opened.open(opened.address)
    assert opened.card() == "counter_run"
