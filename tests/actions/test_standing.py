"""What happened to a part of the shelf in one job counts in the next: how it stands comes with it."""

from datetime import timedelta

import pytest
from folding import BOOK, root
from stores import NOON, after

from halfsplit.actions import (
    keep_summary,
    list_shelf,
    open_job,
    prove_part,
    record,
    regrade_part,
    stock_shelf,
    sum_up,
    weigh,
)
from halfsplit.actions.onfile import read_on_file
from halfsplit.job.standing import STEP, p_at_start
from halfsplit.jobfile import parse_job
from halfsplit.model.machine import Standing

MACHINE = "{machine: {supply: {modular: yes}, drives: [sata]}, complaint: nothing_happens}"
KILLER = "inspect: {at: modular_lead_wires, seen: wrong_wire}"
LENT = "run: {with: {drive: shelf.drive_sata, system: out}, not: self_test}"
RIGHT = round(1.0 - BOOK.grades["known_good"].p_good, 6)


@pytest.fixture
def stocked(bench):
    stock_shelf(bench, by="AB", now=NOON)
    return bench


def opened(bench, *entries, at=NOON):
    number = open_job(bench, MACHINE, by="AB", now=at)
    for n, entry in enumerate(entries):
        record(bench, number, entry, by="AB", now=at + timedelta(minutes=n + 1))
    return number


def on_file(bench, number):
    with bench.store.reading() as connection:
        return read_on_file(bench, connection, number)


def came_in(bench, number, part="drive_sata"):
    return on_file(bench, number).job().shelf[part]


def begins(bench, number, unit="shelf.drive_sata"):
    return 1.0 - root(on_file(bench, number).fold(), f"bad:{unit}").start[0]


def part(bench, name="drive_sata"):
    return next(each for each in list_shelf(bench)[0] if each.id == name)


def test_a_part_comes_into_the_next_job_as_it_left_the_one_before(stocked):
    first = opened(stocked, KILLER, LENT)
    sum_up(stocked, first)
    left = next(each.p for each in weigh(stocked, first).lent if each.id == "drive_sata")
    second = opened(stocked, LENT, at=after(3600))
    assert left > 2 * RIGHT
    assert came_in(stocked, second) == Standing(float(f"{left:.2g}"), 0, 0)
    assert begins(stocked, second) == pytest.approx(left, rel=0.15)
    assert begins(stocked, first) == pytest.approx(RIGHT)


def test_a_job_that_was_not_weighed_yet_counts_by_its_power_ups(stocked):
    opened(stocked, LENT, LENT)
    second = opened(stocked, LENT, at=after(3600))
    assert came_in(stocked, second) == Standing(None, 2, 0)
    assert begins(stocked, second) == pytest.approx(p_at_start(BOOK.shelf["drive_sata"], Standing(None, 2), BOOK))


def test_what_happens_in_a_job_is_weighed_there_and_not_counted_again(stocked):
    number = opened(stocked, LENT)
    before = begins(stocked, number)
    record(stocked, number, LENT, by="AB", now=after(600))
    sum_up(stocked, number)
    assert begins(stocked, number) == before == pytest.approx(RIGHT)


def test_weighing_a_job_leaves_what_it_was_weighed_from(stocked):
    first = opened(stocked, LENT)
    second = opened(stocked, LENT, at=after(3600))
    keys = [on_file(stocked, number).key for number in (first, second)]
    for number in (first, second, first):
        sum_up(stocked, number)
    assert [on_file(stocked, number).key for number in (first, second)] == keys


def test_a_job_that_was_left_behind_says_nothing_of_a_part_that_was_elsewhere_since(stocked):
    first = opened(stocked, LENT)
    opened(stocked, LENT, at=after(3600))
    record(stocked, first, KILLER, by="AB", now=after(7200))
    sum_up(stocked, first)
    assert (part(stocked).p_bad, part(stocked).new_exposures) == (None, 2)


def test_a_part_that_is_proven_was_good_all_along(stocked):
    first = opened(stocked, KILLER, LENT)
    sum_up(stocked, first)
    second = opened(stocked, LENT, at=after(3600))
    doubted = begins(stocked, second)
    prove_part(stocked, "drive_sata", by="AB", now=after(7200))
    assert begins(stocked, second) == pytest.approx(RIGHT)
    assert doubted > 2 * RIGHT
    assert came_in(stocked, opened(stocked, at=after(7200))) == Standing(RIGHT)


def test_a_scout_that_is_proven_is_known_good(stocked):
    grades = BOOK.grades
    scout = opened(stocked, "run: {with: {supply: shelf.supply_scout}, not: starts}")
    assert begins(stocked, scout, "shelf.supply_scout") == pytest.approx(1.0 - grades["scout"].p_good)
    proven = prove_part(stocked, "supply_scout", by="AB", now=after(3600))
    assert proven.p_bad == pytest.approx(1.0 - max(grade.p_good for grade in grades.values()))
    assert begins(stocked, scout, "shelf.supply_scout") == pytest.approx(proven.p_bad, rel=STEP)


def test_a_new_grade_says_anew_how_good_a_part_is(stocked):
    sum_up(stocked, opened(stocked, KILLER, LENT))
    regrade_part(stocked, "drive_sata", "donor", by="AB", now=after(3600))
    third = opened(stocked, LENT, at=after(7200))
    assert begins(stocked, third) == pytest.approx(1.0 - BOOK.grades["donor"].p_good)


def test_time_on_the_shelf_counts_from_when_a_part_was_last_known(stocked):
    later = NOON + timedelta(days=400)
    number = opened(stocked, LENT, at=later)
    assert came_in(stocked, number) == Standing(None, 0, 400)
    assert begins(stocked, number) > RIGHT
    prove_part(stocked, "drive_sata", by="AB", now=later)
    assert came_in(stocked, opened(stocked, LENT, at=later + timedelta(days=30))).days == 30


def test_a_try_in_the_benchs_own_machine_is_no_exposure(stocked):
    own = "run: {on: bench, with: {drive: shelf.drive_sata}, reached: log_in, stop: none}"
    opened(stocked, own)
    assert part(stocked).exposures == 0
    opened(stocked, "run: {on: bench, with: {drive: shelf.drive_sata, supply: owner}, reached: log_in, stop: none}")
    assert part(stocked).exposures == 1


def test_the_shelf_of_a_job_file_gives_way_to_the_benchs_own_and_stays_where_the_bench_has_none(bench):
    number = open_job(bench, "{shelf: {drive_sata: {bad: 0.4}}}", by="AB", now=NOON)
    assert came_in(bench, number) == Standing(0.4)
    stock_shelf(bench, by="AB", now=NOON)
    assert came_in(bench, number) == Standing()
    told, mistakes = parse_job(on_file(bench, number).text, BOOK)
    assert (told.shelf["drive_sata"], mistakes) == (Standing(0.4), ())


def test_a_run_since_a_job_was_read_is_not_taken_for_weighed(stocked):
    number = opened(stocked, LENT)
    read, weighed = on_file(stocked, number), weigh(stocked, number)
    record(stocked, number, LENT, by="AB", now=after(600))
    keep_summary(read, weighed)
    assert (part(stocked).p_bad, part(stocked).new_exposures) == (None, 2)
