"""Machines are drawn as the prior of the fold has them, the same for the same seed, and never from the book alone."""

from dataclasses import replace

import numpy as np
import pytest

from halfsplit.book import shipped_book
from halfsplit.job.asked import placed_entries
from halfsplit.job.complaints import CLASSES
from halfsplit.job.fold import fold_job
from halfsplit.model.job import Job, Run
from halfsplit.model.machine import Conditions
from halfsplit.simulate import Drawing, draw_machine
from halfsplit.simulate.machines import _Drawer
from halfsplit.simulate.truths import forget_causes, move_book
from halfsplit.simulate.worlds import number_of_state

BOOK = shipped_book()
P_999 = 3.09
"""The normal deviate that is passed once in a thousand, for Wilson and Hilferty's curve of chi-square (1931)."""


def chi_square_limit(degrees: int) -> float:
    """The 99.9 % point of chi-square, by Wilson and Hilferty's cube."""
    ninth = 2.0 / (9.0 * degrees)
    return degrees * (1.0 - ninth + P_999 * ninth**0.5) ** 3


def test_the_limit_of_chi_square_is_that_of_the_tables():
    # NIST/SEMATECH e-Handbook of Statistical Methods, table 1.3.6.7.4: 29.588 for 10, 59.703 for 30 degrees.
    assert chi_square_limit(10) == pytest.approx(29.588, rel=0.01)
    assert chi_square_limit(30) == pytest.approx(59.703, rel=0.005)


def test_faults_are_drawn_as_often_as_the_prior_of_the_fold_says():
    job = Job("any", machine={"kind": "built", "age_years": 5.0}, complaint="nothing_happens")
    drawer = _Drawer(job, BOOK, np.random.default_rng(5))
    many = 4000
    counts: dict[str, int] = {}
    for _ in range(many):
        for name in drawer._states():
            counts[name] = counts.get(name, 0) + 1
    priors = {root.id: 1.0 - float(root.start[0]) for root in fold_job(job, BOOK).evidence.roots}
    expected = {name: many * p for name, p in priors.items() if 5.0 <= many * p <= many - 5.0}
    assert len(expected) > 50
    off = sum((counts.get(name, 0) - e) ** 2 / (e * (1.0 - e / many)) for name, e in expected.items())
    assert off < chi_square_limit(len(expected))
    assert {*counts} <= {*priors}


def test_the_same_seed_draws_the_same_machine_and_another_seed_another():
    first, again = (draw_machine(BOOK, "lights_no_picture", (3, 4)) for _ in range(2))
    assert (first.job, first.states, first.whole) == (again.job, again.states, again.whole)
    assert first.truth.faults == again.truth.faults
    other = draw_machine(BOOK, "lights_no_picture", (3, 5))
    assert (first.job, first.states) != (other.job, other.states)


@pytest.mark.parametrize("complaint", CLASSES)
def test_a_drawn_machine_can_be_folded_by_the_policies_book_and_has_a_reason_to_be_there(complaint):
    for number in range(4):
        drawn = draw_machine(BOOK, complaint, (11, number))
        assert drawn.states
        assert drawn.job.complaint == complaint
        assert fold_job(drawn.job, drawn.book).evidence.readings


def test_the_truth_is_not_the_book():
    drawn = draw_machine(BOOK, "nothing_happens", (1, 1))
    moved = [fault.base.p / BOOK.faults[name].base.p for name, fault in drawn.truth.faults.items()]
    assert np.std(np.log(moved)) == pytest.approx(0.7, abs=0.2)  # a factor of two either way
    causes = {f.cause or f.id for f in BOOK.faults.values() if not f.is_unlisted and not f.is_normal}
    left = {f.cause or f.id for f in drawn.book.faults.values() if not f.is_unlisted and not f.is_normal}
    assert len(left) == len(causes) - round(0.1 * len(causes))
    assert {n for n, f in drawn.book.faults.items() if f.is_unlisted} == {
        n for n, f in BOOK.faults.items() if f.is_unlisted
    }


def test_numbers_with_one_strength_word_move_together():
    moved = move_book(BOOK, np.random.default_rng(2))
    by_word: dict[str, set[float]] = {}
    for name, fault in moved.faults.items():
        for cure, old in zip(fault.cures, BOOK.faults[name].cures, strict=True):
            if cure.goes.word and old.goes.spread:
                by_word.setdefault(cure.goes.word, set()).add(cure.goes.p)
    assert by_word
    assert all(len(found) == 1 for found in by_word.values())


def test_what_is_forgotten_is_a_tenth_of_the_causes_and_nothing_when_none_is_asked():
    assert forget_causes(BOOK, 0.0, np.random.default_rng(1)).faults == BOOK.faults


def test_a_sound_machine_shows_nothing_and_a_dead_outlet_keeps_every_run_from_starting():
    drawn = draw_machine(BOOK, "nothing_happens", (2, 2), Drawing(is_book=True, slips=0.0, taps=0.0))
    counter = BOOK.checks["as_at_home"]
    for states, is_fine in (({}, True), ({"outlet_dead": "dead"}, False)):
        world = replace(drawn, states=states).world()
        (run,) = [e for e in placed_entries(counter, world.standing, BOOK) if isinstance(e, Run)]
        shown = world.run(run, counter.asks)
        assert (shown.seen == shown.sound) is is_fine
        assert ("does not start" in shown.seen.ending.line) is not is_fine


def test_what_rests_in_a_run_does_nothing_in_it():
    drawn = draw_machine(BOOK, "picture_then_stops", (2, 2), Drawing(is_book=True, slips=0.0, taps=0.0))
    for load, loads_system in (("idle", True), ("setup_page", False)):
        world = replace(drawn, states={"system_damaged": "does_not_load"}).world()
        shown = world.run(Run("any", conditions=Conditions(load=load)), ())
        assert ("system" in BOOK.loads[load].rests) is not loads_system
        assert (shown.seen != shown.sound) is loads_system


def test_harm_that_there_is_no_room_for_is_left_out():
    drawn = draw_machine(BOOK, "nothing_happens", (2, 3))
    plan = next(iter(drawn.world().plans.values()))
    assert number_of_state(plan, f"{plan.states[0].name}+harm:nobody") == 1
