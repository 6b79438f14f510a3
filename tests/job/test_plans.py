"""The plans of a job together: what is found of them is what a look at each of them finds."""

import random

import pytest

from halfsplit.book import shipped_book
from halfsplit.job.kept import Kept
from halfsplit.job.machine import facts_of
from halfsplit.job.moments import walk_log
from halfsplit.job.units import OWNER
from halfsplit.model.job import Job, Run

BOOK = shipped_book()


@pytest.fixture(scope="module")
def known():
    kept = Kept(BOOK)
    job = Job(log=(Run("run_1"),))  # a power-up, in which harm may be done
    course = walk_log(job, job.log, BOOK, kept.gatherer, [])
    return kept.plans(course, facts_of(job, BOOK, []), {}), kept.gatherer.together(course.intake[OWNER]).footholds


def drawn_footholds(here, seed):
    rng = random.Random(seed)
    return frozenset(rng.sample(sorted(here, key=str), rng.randint(1, len(here))))


@pytest.mark.parametrize("seed", range(8))
def test_those_near_some_footholds_have_one_of_them_or_may_harm_one(known, seed):
    plans, here = known
    some = drawn_footholds(here, seed)
    near = [plan for plan in plans if (plan.all_footholds | plan.victims) & some]
    assert near
    assert list(plans.near(some)) == near
    assert [(met.plan, met.present, met.harmed) for met in plans.met(some)] == [
        (plan, plan.present(some), plan.victims & some) for plan in near
    ]


def test_those_at_a_foothold_have_it(known):
    plans, here = known
    for foothold in here:
        assert list(plans.at(foothold)) == [plan for plan in plans if foothold in plan.all_footholds]


def test_those_told_by_a_look_or_a_number_have_a_pattern_with_it(known):
    plans, _ = known
    for what in (*BOOK.inspections, *BOOK.measurements):
        assert list(plans.told_by(what)) == [
            plan
            for plan in plans
            if any(look.inspection == what for pattern in plan.patterns for look in pattern.looks)
            or any(read.measurement == what for pattern in plan.patterns for read in pattern.reads)
        ]


def test_those_of_a_fault_have_it_or_may_do_it(known):
    plans, _ = known
    harm = 0
    for fault in BOOK.faults:
        does = [any(victim.fault == fault for state in plan.states for victim in state.victims) for plan in plans]
        harm += sum(does)
        is_it = [plan.fault is not None and plan.fault.id == fault for plan in plans]
        assert list(plans.of_faults([fault])) == [
            plan for plan, own, other in zip(plans, is_it, does, strict=True) if own or other
        ]
    assert harm > 0


def test_nothing_is_found_of_what_there_is_not(known):
    plans, _ = known
    assert plans.near(frozenset({"owner.nothing"})) == ()
    assert plans.at("owner.nothing") == ()
    assert plans.told_by("nothing") == ()
    assert plans.of_faults(["nothing"]) == ()
