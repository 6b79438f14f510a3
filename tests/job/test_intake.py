"""How likely a fault is at intake, and what the machine and its owner tell of that."""

import pytest
from folding import BOOK, fold, job_of, root, roots, weigh_log

from halfsplit.errors import ModelError
from halfsplit.job.fold import fold_job
from halfsplit.model.job import Correct, Job, Told


def p_there(name, **job):
    start = root(fold(**job), name).start
    return 1.0 - float(start[..., 0].ravel()[0])


def test_an_event_adds_its_chance():
    fault = BOOK.faults["surge"]
    storm = 0.99
    added = 1.0 - (1.0 - fault.base.p) * (1.0 - fault.after["storm"].p)
    told = "[{event: storm, sure: sure}]"
    assert p_there("surge", told=told) == pytest.approx(storm * added + (1.0 - storm) * fault.base.p)


def test_wear_grows_with_age_and_recent_work_makes_it_less_likely():
    base = BOOK.faults["cooler_clogged"].base.p
    assert p_there("cooler_clogged") == pytest.approx(base)
    assert p_there("cooler_clogged", machine="{age_years: 10}") == pytest.approx(2.0 * base)
    assert p_there("cooler_clogged", told="[cleaned_inside]") < base
    assert p_there("system_damaged", machine="{age_years: 10}") == pytest.approx(BOOK.faults["system_damaged"].base.p)


def test_a_fact_that_is_known_decides_and_one_that_is_not_counts_by_its_share():
    share = BOOK.facts["memory_type"].values["ddr5"]
    base = BOOK.faults["memory_training"].base.p
    assert p_there("memory_training") == pytest.approx(base * share)
    assert p_there("memory_training", machine="{memory_type: ddr5}") == pytest.approx(base)
    assert "memory_training" not in roots(fold(machine="{memory_type: ddr4}"))


def test_a_field_of_a_part_tells_a_fact():
    assert "memory_training" not in roots(fold(machine="{memory: [{gb: 8, ddr: 4}]}"))
    assert "drive_failing@drive.1" not in roots(fold(machine="{drive: m2}"))
    assert p_there("drive_failing@drive.1", machine="{drive: mechanical}") == pytest.approx(
        BOOK.faults["drive_failing"].base.p
    )
    assert "supply_too_small" not in roots(fold(machine="{supply: 850, card: {watts: 200}}"))
    assert "supply_too_small" in roots(fold(machine="{supply: 350, card: {watts: 200}}"))


def test_a_part_of_the_shelf_is_bad_as_often_as_its_grade_says():
    folded = fold("run: {with: {supply: shelf.supply_scout}, reached: log_in}")
    scout = root(folded, "bad:shelf.supply_scout")
    assert 1.0 - scout.start[0] == pytest.approx(1.0 - BOOK.grades["scout"].p_good)


def test_the_benchs_own_machine_may_be_bad():
    folded = fold("run: {on: bench, with: {card: owner}, not: starts, id: there}", "run: {not: starts, id: here}")
    bench = root(folded, "bad:bench")
    assert 1.0 - bench.start[0] == pytest.approx(1.0 - BOOK.hosts["bench"].p_good)
    assert set(bench.acts) == {"there"}


def test_a_surge_is_one_root_with_a_foothold_on_each_part():
    surge = root(fold(), "surge")
    both = surge.states.index("supply_and_board")
    assert surge.held[both] == {"owner.supply", "owner.board"}


def test_an_event_that_is_only_guessed_is_shared_by_the_faults_that_it_brings():
    evidence = fold(told="[{event: moved_house, sure: guess}]").evidence
    assert [context.id for context in evidence.contexts] == ["event:moved_house"]
    assert root(fold(told="[{event: moved_house, sure: guess}]"), "wrong_output").given == ("event:moved_house",)


def test_contexts_stay_within_what_the_engine_looks_at():
    events = ["moved_house", "carried", "storm", "power_cut", "new_memory", "opened_by_owner", "cleaned_inside"]
    told = f"[{', '.join(f'{{event: {event}, sure: guess}}' for event in events)}, {{stop: resets}}]"
    joint = 1
    for context in fold(told=told).evidence.contexts:
        joint *= len(context.values)
    assert joint <= 12


def test_what_the_owner_denies_hardly_counts():
    p = [p_there("surge", told=told) for told in ("[]", "[{event: storm, happened: no}]", "[storm]")]
    assert p[0] < p[1] < 0.2 * p[2]


def test_a_statement_in_the_log_is_one_of_intake():
    assert root(fold("told: storm"), "surge").start == pytest.approx(root(fold(told="[storm]"), "surge").start)


def test_words_that_the_book_does_not_have_are_told_all_at_once():
    job = Job(complaint="haunted", told=(Told("one", event="ghost"),), log=(Correct("two", entry="three"),))
    with pytest.raises(ModelError) as caught:
        fold_job(job, BOOK)
    assert sorted(mistake.code for mistake in caught.value.mistakes) == ["HS201", "HS202", "HS202"]


def test_an_age_below_nothing_is_none():
    job = job_of()
    with pytest.raises(ModelError) as caught:
        fold_job(Job(machine={**job.machine, "age_years": -3}), BOOK)
    assert [mistake.code for mistake in caught.value.mistakes] == ["HS206"]


def test_whoever_tells_of_a_machine_in_use_saw_its_picture_and_what_is_told_of_the_picture_goes_before():
    # Common practice, no source: a machine that restarts in games was seen to.
    before = "{event: moved_house}, "
    stops = weigh_log(complaint="starts_misbehaves", told=f"[{before}{{stop: resets, load: games}}]")
    dark = weigh_log(complaint="starts_misbehaves", told=f"[{before}{{stop: resets, load: games, picture: none}}]")
    alone = weigh_log(complaint="starts_misbehaves", told="[{event: moved_house}]")
    assert stops["wrong_output"] < 2.0 * alone["wrong_output"]
    assert dark["wrong_output"] > 5.0 * stops["wrong_output"]
