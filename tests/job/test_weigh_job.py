"""A whole job weighed: what stands in the record, and that it hangs together."""

from pathlib import Path

import pytest

from halfsplit.book import shipped_book
from halfsplit.job.weigh import weigh_job
from halfsplit.jobfile.parse import load_job, parse_job

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.yaml"))
BOOK = shipped_book()


def weighed(text, **how):
    job, mistakes = parse_job(text, BOOK, "job.yaml")
    assert job is not None, mistakes
    return weigh_job(job, BOOK, **how)


@pytest.fixture(scope="module", params=EXAMPLES, ids=lambda path: path.stem)
def example(request):
    job, mistakes = load_job(request.param, BOOK)
    assert job is not None, mistakes
    return job, weigh_job(job, BOOK)


def test_every_number_is_a_probability_and_the_range_holds_the_middle(example):
    _, said = example
    for fault in said.faults:
        assert 0 <= fault.low <= fault.high <= 1
        assert 0 <= fault.p <= 1
    assert all(0 <= part.p <= 1 for part in said.parts)
    assert sum(one.p for one in said.sets) <= 1 + 1e-9


def test_a_set_names_only_suspicions_and_the_sets_of_a_fault_do_not_pass_its_p(example):
    _, said = example
    p = {fault.id: fault.p for fault in said.faults}
    for name, of_fault in p.items():
        assert sum(one.p for one in said.sets if name in one.faults) <= of_fault + 1e-6
    assert all(set(one.faults) <= set(p) for one in said.sets)


def test_what_moved_a_suspicion_ends_where_the_suspicion_is(example):
    _, said = example
    p = {fault.id: fault.p for fault in said.faults}
    last = {}
    for move in said.moved:
        if move.fault in last:
            assert move.p_before == last[move.fault]
        last[move.fault] = move.p_after
    assert last
    for name, p_after in last.items():
        assert p_after == pytest.approx(p[name], abs=0.06)  # asked aside, with a wider bound


def test_every_run_of_the_log_is_on_the_ladder(example):
    job, said = example
    assert [run.id for run in said.runs] == [entry.id for entry in job.log if type(entry).__name__ == "Run"]
    assert all(len(run.marks) == len(said.rungs) for run in said.runs)


def test_a_normal_thing_makes_no_part_bad():
    said = weighed("machine: {card: {}, board: {video_output: yes}}\nlog: []\n")
    assert max(part.p for part in said.parts) < 0.5
    assert "board_outputs_off_with_card" not in {fault.id for fault in said.faults}


def test_readings_that_cannot_all_be_true_are_named_and_the_run_among_them_is_taken_for_a_wrong_entry():
    text = """
log:
  - run: {on: supply_alone, with: {supply: owner}, reached: log_in, id: talks}
  - note: a supply on its own has no processor
"""
    said = weighed(text)
    assert said.impossible == ("talks",)
    untold = {fault.id: fault.p for fault in weighed(text.replace(", reached: log_in", "")).faults}
    assert {fault.id: fault.p for fault in said.faults} == pytest.approx(untold, rel=1e-6)


def test_leaving_each_reading_out_is_done_when_asked():
    text = (
        "log:\n  - run: {not: memory_passes, signs: {fans_turn: yes}}\n  - inspect: {at: supply_exhaust, seen: fine}\n"
    )
    assert all(move.p_without is None for move in weighed(text).moved)
    asked = weighed(text, leave_out=True)
    assert all(move.p_without is not None for move in asked.moved)
    assert {name for name, _ in asked.conflict.without} == {"run_1", "inspect_1"}


CONTRADICTION = """
machine: {kind: built, memory: [8, 8], card: {}}
log:
  - run: {cold: yes, not: starts, signs: {fans_turn: no}, of: 5}
  - run: {cold: yes, reached: log_in, stop: none, of: 5}
  - run: {cold: yes, not: starts, signs: {fans_turn: no}, of: 5}
"""


def test_readings_that_strain_against_each_other_raise_an_alarm_and_the_worst_is_named():
    said = weighed(CONTRADICTION)
    assert said.conflict.is_alarm
    assert said.conflict.without[0][0] == "run_2"
    assert said.conflict.without[0][1] < said.conflict.log_alarm < said.conflict.log_m
    assert any(move.p_without is not None for move in said.moved if move.reading == "run_2")
    assert 0 < said.conflict.p_unlisted < 1


def test_readings_that_agree_raise_none():
    said = weighed(CONTRADICTION.replace("reached: log_in, stop: none", "not: starts"))
    assert not said.conflict.is_alarm
    assert said.conflict.without == ()


def test_a_part_that_was_taken_out_is_called_so_and_its_joints_are_gone():
    text = (
        "machine: {supply: {watts: 500}, card: {}}\nlog:\n  - repair: {do: replace, at: supply, with: shelf.supply_a}\n"
    )
    said = weighed(text)
    titles = {part.id: part.title for part in said.parts}
    assert titles["owner.supply"].endswith("taken out")
    assert not titles["owner.board"].endswith("taken out")
    assert not any("(" in part for part in titles)


def test_a_long_log_tells_the_turn_and_puts_the_calm_together():
    calm = "  - run: {reached: starts, signs: {fans_turn: yes}}\n" * 12
    turn = "  - inspect: {at: card_power_plug, seen: half_in, id: turn}\n"
    said = weighed(f"machine: {{card: {{}}}}\nlog:\n{calm}{turn}{calm}")
    mine = [move for move in said.moved if move.fault == said.moved[0].fault]
    most = max(mine, key=lambda move: abs(move.p_after - move.p_before))
    assert (most.fault, most.reading) == ("card_power_plug_half_in", "turn")
    assert len(mine) < 13
    assert any("together" in move.line for move in mine)
