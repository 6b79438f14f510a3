"""What needs a running machine is not offered on one whose newest start shows that it does not get so far.

Common practice, no source: nobody reads the setup page of a machine without a picture, or logs in to a dead one.
"""

import pytest
from folding import BOOK, job_of

from halfsplit.job.advise import advise, fold_and_weigh
from halfsplit.job.kept import Kept
from halfsplit.job.outlook import look_out
from halfsplit.job.reached import Reached
from halfsplit.model.rates import Rates

KEPT = Kept(BOOK)

DEAD = "run: {not: starts, signs: {fans_turn: no}}"
DARK = "run: {output: card, reached: starts, picture: {card: no}, signs: {fans_turn: yes}}"
UP = "run: {reached: log_in, stop: none, minutes: 5}"
NOT_UP = "run: {picture: yes, reached: self_test, not: loader}"
CARD = "{kind: built, card: {}}"


def gets_to(*log, complaint="", machine=CARD):
    """The rungs that the machine may get to, of those that checks need."""
    reached = Reached(job_of(*log, machine=machine, complaint=complaint), BOOK)
    needed = sorted({check.needs for check in BOOK.checks.values()} - {""}, key=BOOK.ladder.place)
    return [rung for rung in needed if reached.may_get_to(rung)]


ALL = ["starts", "processor_runs", "memory_passes", "self_test", "loader", "system_loads", "log_in"]


def test_nothing_known_leaves_everything_offered():
    assert gets_to() == ALL
    assert gets_to("run: {signs: {fans_turn: yes}}", complaint="nothing_happens") == ALL


def test_the_rung_that_was_missed_and_those_above_are_out_of_reach():
    assert gets_to(DEAD) == []
    assert gets_to("run: {reached: starts, not: memory_passes}") == ["starts", "processor_runs"]
    assert gets_to(NOT_UP) == ["starts", "processor_runs", "memory_passes", "self_test"]
    assert gets_to(UP) == ALL


def test_without_a_picture_nothing_is_read_off_a_screen_whatever_runs_behind_it():
    assert gets_to(DARK) == ["starts", "processor_runs"]
    assert gets_to("run: {output: card, reached: log_in, picture: {card: no}}") == ["starts", "processor_runs"]


def test_one_socket_with_a_picture_is_enough():
    assert gets_to("run: {reached: log_in, picture: {card: no, board: yes}}") == ALL


def test_a_picture_that_comes_with_the_system_shows_the_system_and_no_setup_page():
    late = "run: {output: card, reached: log_in, picture: {card: {self_test: no, system: yes}}}"
    assert gets_to(late) == ["starts", "processor_runs", "system_loads", "log_in"]


def test_a_picture_that_goes_with_the_system_leaves_the_setup_page():
    early = "run: {output: card, reached: log_in, picture: {card: {self_test: yes, system: no}}}"
    assert gets_to(early) == ["starts", "processor_runs", "memory_passes", "self_test", "loader"]


@pytest.mark.parametrize("work", ["repair: reseat_memory", "setup: {memory.2: out}"])
def test_after_work_it_is_open_again_until_the_next_start(work):
    machine = "{kind: built, memory: [8, 8]}"
    assert gets_to(DEAD, work, complaint="nothing_happens", machine=machine) == ALL
    assert gets_to(DEAD, work, DEAD, machine=machine) == []


def test_the_monitor_on_another_socket_is_no_work():
    assert gets_to(DEAD, "setup: {output: board}") == []


def test_of_a_machine_that_comes_and_goes_the_newest_start_counts():
    assert gets_to(UP, DEAD) == []
    assert gets_to(DEAD, UP) == ALL


def test_where_some_of_several_starts_went_through_it_gets_there():
    assert gets_to("run: {not: starts, failed: 2, of: 5}") == ALL
    assert gets_to("run: {not: starts, of: 5}") == []


def test_a_start_of_another_machine_says_nothing():
    assert gets_to("run: {on: bench, with: {memory: owner}, not: memory_passes}", machine="{memory: [8]}") == ALL


def test_a_start_with_parts_out_or_lent_inside_is_not_the_machine_as_it_stands():
    assert gets_to(UP, "run: {with: {memory: out}, not: memory_passes}") == ALL
    assert gets_to(DEAD, "run: {with: {supply: shelf.supply_a}, reached: log_in, stop: none}") == []


def test_the_counter_run_with_what_is_the_benchs_own_outside_counts():
    lent = "run: {with: {outlet: shelf.outlet_bench, mains_lead: shelf.mains_lead_bench}, not: starts}"
    assert gets_to(lent) == []


def test_the_bench_stick_tells_of_the_machine_but_not_of_the_owners_system():
    stick = "run: {with: {drive: out, stick: shelf.start_stick}, reached: log_in, stop: none}"
    below = ["starts", "processor_runs", "memory_passes", "self_test"]
    assert gets_to(NOT_UP, stick) == below
    fails = "run: {with: {drive: out, stick: shelf.start_stick}, reached: starts, not: self_test}"
    assert gets_to(UP, fails) == ["starts", "processor_runs", "memory_passes"]
    assert gets_to(stick, complaint="nothing_happens") == ALL


def test_a_withdrawn_start_counts_no_more():
    assert gets_to(UP, DEAD, "correct: {entry: run_2, withdrawn: yes}") == ALL


@pytest.mark.parametrize(
    ("complaint", "rungs"),
    [
        ("nothing_happens", []),
        ("lights_no_picture", ["starts", "processor_runs"]),
        ("picture_then_stops", ALL[:-1]),
        ("starts_misbehaves", ALL),
        ("slow_noisy_other", ALL),
    ],
)
def test_before_the_first_start_the_complaint_tells(complaint, rungs):
    assert gets_to(complaint=complaint) == rungs
    assert gets_to(UP, complaint=complaint) == ALL


def offered(*log, complaint="", machine=CARD):
    found = advise(job_of(*log, machine=machine, complaint=complaint), BOOK, kept=KEPT)
    return {each.id for each in found.proposals}


NEED_IT_TO_RUN = {"settings_photo", "memory_data_read", "rails_on_setup_page", "fan_speeds_read", "load_all", "records"}


def test_the_advice_leaves_out_what_a_dead_machine_cannot_show_until_it_was_worked_on():
    dead = offered(DEAD, complaint="nothing_happens")
    assert not {name for name in dead if name in BOOK.checks and BOOK.checks[name].needs}
    assert {"wall_watts", "hooked_up_supply", "standby_measured", "minimum_parts"} <= dead
    mended = offered(DEAD, "repair: {do: replace, at: supply}", complaint="nothing_happens")
    assert len(NEED_IT_TO_RUN & mended) >= 3


def test_a_dead_machine_still_owes_its_whole_proof():
    """What is not offered now has to be done before it goes back: no start that failed makes the proof cheaper."""
    job = job_of(DEAD, machine=CARD, complaint="nothing_happens")
    outlook = look_out(job, *fold_and_weigh(job, BOOK), Rates(), KEPT, steps=1)
    assert {"load_all", "as_the_owner_uses_it"}.isdisjoint(outlook.foreseen)
    minutes = [BOOK.checks[name].minutes for name in ("load_all", "as_the_owner_uses_it")]
    assert outlook.due >= sum(Rates().of(each) for each in minutes)


def test_the_advice_has_them_on_a_machine_that_runs():
    assert len(NEED_IT_TO_RUN & offered(UP, complaint="starts_misbehaves")) >= 4
