"""The shelf: a part stands as what happened to it says, and every exposure is noted."""

import functools
import itertools
from concurrent.futures import ThreadPoolExecutor

import pytest
from folding import BOOK
from stores import NOON, after

from halfsplit.actions import (
    add_shelf_part,
    count_consumable,
    drop_part,
    job_view,
    list_shelf,
    prove_part,
    record,
    regrade_part,
    shelf_events,
    stock_shelf,
    undo,
    use_consumable,
)
from halfsplit.errors import JobFileError, StoreError
from halfsplit.store.shelf import Consumable, PartOnShelf, ShelfEvent, change_part, part_after

SCOUT = PartOnShelf("supply_b", "supply", "scout", "the one with the dent")


def part(bench, name):
    return next(each for each in list_shelf(bench)[0] if each.id == name)


def p_bad(view, unit):
    root = next(each for each in view.folded().evidence.roots if view.folded().roots[each.id].things == (unit,))
    return float(root.start[1:].sum())


def test_the_shelf_is_stocked_once_from_the_fault_book(bench):
    assert {each.id for each in stock_shelf(bench, by="AB", now=NOON)} == set(BOOK.shelf)
    assert stock_shelf(bench, by="AB", now=NOON) == ()


def test_a_part_that_only_the_bench_has_can_be_used_in_a_job(bench, job):
    run = "run: {with: {supply: shelf.supply_b}, reached: log_in, stop: none}"
    with pytest.raises(JobFileError):
        record(bench, job, run, by="AB", now=NOON)
    add_shelf_part(bench, SCOUT, by="AB", now=NOON)
    record(bench, job, run, by="AB", now=NOON)
    assert "shelf.supply_b" in {thing for note in job_view(bench, job).folded().roots.values() for thing in note.things}


def test_every_run_with_a_part_in_it_is_an_exposure(bench, job):
    stock_shelf(bench, by="AB", now=NOON)
    for text in (
        "setup: {supply: shelf.supply_a}",
        "run: {reached: log_in, stop: none}",
        "run: {with: {card: shelf.card_small}, reached: log_in, stop: none}",
        "run: {with: {supply: owner}, reached: log_in, stop: none}",
        "inspect: {at: cpu_power_plug, seen: fine}",
    ):
        record(bench, job, text, by="CD", now=NOON)
    assert (part(bench, "supply_a").exposures, part(bench, "card_small").exposures) == (2, 1)
    assert [(event.said, event.job, event.initials) for event in shelf_events(bench, "supply_a")[1:]] == [
        ("run_1", job, "CD"),
        ("run_2", job, "CD"),
    ]


def test_a_run_that_is_taken_back_was_no_exposure(bench, job):
    stock_shelf(bench, by="AB", now=NOON)
    record(bench, job, "setup: {supply: shelf.supply_a}", by="AB", now=NOON)
    for n in range(2):
        record(bench, job, "run: {reached: log_in, stop: none}", by="AB", now=after(60 * n))
    undo(bench, job, "run_2", by="AB", now=after(62))
    assert (part(bench, "supply_a").exposures, part(bench, "supply_a").new_exposures) == (1, 1)
    record(bench, job, "correct: {entry: setup_1, withdrawn: yes}", by="AB", now=after(90))
    assert part(bench, "supply_a").exposures == 0
    record(bench, job, "correct: {entry: run_2, withdrawn: no}", by="AB", now=after(95))
    record(bench, job, "correct: {entry: run_2, with: {supply: shelf.supply_a}}", by="AB", now=after(99))
    assert part(bench, "supply_a").exposures == 1
    assert [(event.what, event.said) for event in shelf_events(bench, "supply_a")[1:]] == [
        ("exposed", "run_1"),
        ("exposed", "run_2"),
        ("taken_back", "run_2"),
        ("taken_back", "run_1"),
        ("exposed", "run_2"),
    ]


def test_what_was_before_a_proof_is_not_taken_back_from_what_came_after(bench, job):
    stock_shelf(bench, by="AB", now=NOON)
    run = "run: {with: {supply: shelf.supply_a}, reached: log_in, stop: none}"
    record(bench, job, run, by="AB", now=NOON)
    prove_part(bench, "supply_a", by="AB", now=after(60))
    record(bench, job, run, by="AB", now=after(90))
    record(bench, job, "correct: {entry: run_1, withdrawn: yes}", by="AB", now=after(120))
    assert part(bench, "supply_a").exposures == 1


def test_a_part_that_proved_itself_starts_again(bench, job):
    add_shelf_part(bench, SCOUT, by="AB", now=NOON)
    record(bench, job, "run: {with: {supply: shelf.supply_b}, reached: log_in}", by="AB", now=NOON)
    proven = prove_part(bench, "supply_b", by="AB", now=after(60), job=job)
    assert (proven.exposures, proven.proven_at) == (0, "2030-06-14T12:01:00+00:00")


def test_a_grade_counts_in_the_next_weighing(bench, job):
    stock_shelf(bench, by="AB", now=NOON)
    record(bench, job, "run: {with: {supply: shelf.supply_a}, reached: log_in, stop: none}", by="AB", now=NOON)
    before = p_bad(job_view(bench, job), "shelf.supply_a")
    regrade_part(bench, "supply_a", "scout", by="AB", now=NOON)
    after_it = p_bad(job_view(bench, job), "shelf.supply_a")
    good = [BOOK.grades[grade].p_good for grade in ("known_good", "scout")]
    assert (before, after_it) == pytest.approx((1 - good[0], 1 - good[1]))


@pytest.mark.parametrize(
    ("wrong", "code"),
    [
        (PartOnShelf("supply_b", "suply", "scout"), "HS733"),
        (PartOnShelf("supply_b", "supply", "golden"), "HS733"),
        (PartOnShelf("supply_c", "supply", "scout"), "HS731"),
    ],
)
def test_a_part_needs_a_kind_a_grade_and_an_id_of_its_own(bench, wrong, code):
    add_shelf_part(bench, PartOnShelf("supply_c", "supply", "scout"), by="AB", now=NOON)
    with pytest.raises(StoreError, match=code):
        add_shelf_part(bench, wrong, by="AB", now=NOON)


def test_what_is_off_the_shelf_is_not_used_and_old_jobs_still_know_it(bench, job):
    add_shelf_part(bench, SCOUT, by="AB", now=NOON)
    record(bench, job, "run: {with: {supply: shelf.supply_b}, reached: log_in}", by="AB", now=NOON)
    drop_part(bench, "supply_b", by="AB", now=NOON, job=job)
    assert job_view(bench, job).mistakes == ()
    with pytest.raises(StoreError, match="HS732"):
        prove_part(bench, "supply_b", by="AB", now=NOON)


def test_consumables_are_counted(bench):
    count_consumable(bench, Consumable("paste", "thermal paste, tubes", 3), by="AB", now=NOON)
    count_consumable(bench, Consumable("paste", "thermal paste, tubes", 2), by="AB", now=NOON)
    assert list_shelf(bench)[1] == (Consumable("paste", "thermal paste, tubes", 2),)
    assert [event.said for event in shelf_events(bench, "paste")] == ["3", "2"]
    with pytest.raises(StoreError, match="HS734"):
        count_consumable(bench, Consumable("paste", "", -1), by="AB", now=NOON)


def test_of_what_is_used_at_the_same_moment_none_is_lost(bench):
    count_consumable(bench, Consumable("paste", "thermal paste, tubes", 20), by="AB", now=NOON)
    taps = 8
    with ThreadPoolExecutor(taps) as pool:
        for done in [pool.submit(use_consumable, bench, "paste", by="AB", now=NOON) for _ in range(taps)]:
            done.result()
    assert list_shelf(bench)[1] == (Consumable("paste", "thermal paste, tubes", 12),)
    assert [event.said for event in shelf_events(bench, "paste")] == [str(left) for left in range(20, 11, -1)]


def test_of_what_is_used_up_nothing_more_is_taken(bench):
    count_consumable(bench, Consumable("paste", "thermal paste, tubes", 1), by="AB", now=NOON)
    use_consumable(bench, "paste", by="AB", now=NOON)
    for item in ("paste", "glue"):
        with pytest.raises(StoreError, match="HS734"):
            use_consumable(bench, item, by="AB", now=NOON)
    assert [event.said for event in shelf_events(bench)] == ["1", "0"]


def test_a_part_stands_as_its_events_say(bench):
    changes = {"exposed": "run_1", "taken_back": "run_1", "proven": "0.02", "regraded": "donor"}
    for n, happened in enumerate(itertools.product(changes, repeat=3)):
        new = PartOnShelf(f"supply_{n}", "supply", "scout")
        add_shelf_part(bench, new, by="AB", now=NOON)
        for m, what in enumerate(happened):
            with bench.store.writing() as connection:
                change_part(connection, ShelfEvent(new.id, what, changes[what], None, "AB", after(m).isoformat()))
        events = shelf_events(bench, new.id)
        assert [event.what for event in events] == ["added", *happened]
        assert part(bench, new.id) == functools.reduce(part_after, events, new)
