"""How a part of the shelf stands, and what it then says in a job: the more it was exposed to, the less."""

from dataclasses import replace
from types import MappingProxyType

import pytest
from folding import BOOK, Suspicions, fold, job_of, root
from hypothesis import given
from hypothesis import strategies as st

from halfsplit.infer import weigh
from halfsplit.job.fold import fold_job
from halfsplit.job.standing import YEAR_DAYS, p_bad_of
from halfsplit.jobfile import parse_job
from halfsplit.model.machine import Standing

SUPPLY, MONITOR = BOOK.shelf["supply_a"], BOOK.shelf["monitor_bench"]
STANDINGS = st.builds(
    Standing, st.none() | st.floats(0.0, 1.0), st.integers(min_value=0, max_value=500), st.integers(0, 3000)
)
DEAD = "run: {not: starts, stop: stays}"
NO_HELP = "run: {with: {supply: shelf.supply_a}, not: starts, stop: stays}"
HELPS = "run: {with: {supply: shelf.supply_a}, reached: log_in, stop: none}"


def with_supply(standing, *log):
    job = replace(job_of(*log), shelf=MappingProxyType({"supply_a": standing}))
    folded = fold_job(job, BOOK)
    return Suspicions(folded, weigh(folded.evidence))


def of_the_supply(weighed):
    return weighed.held("owner.supply")


@given(st.sampled_from(sorted(BOOK.shelf)), STANDINGS, STANDINGS)
def test_more_exposure_and_more_time_never_make_a_part_better(name, one, other):
    part = BOOK.shelf[name]
    less = replace(one, exposures=min(one.exposures, other.exposures), days=min(one.days, other.days))
    more = replace(one, exposures=max(one.exposures, other.exposures), days=max(one.days, other.days))
    assert 0.0 <= p_bad_of(part, less, BOOK) <= p_bad_of(part, more, BOOK) <= 1.0
    known = one.p_bad if one.p_bad is not None else 1.0 - BOOK.grades[part.grade].p_good
    assert p_bad_of(part, one, BOOK) >= known - 1e-12


def test_exposures_and_years_are_independent_ways_to_go_bad():
    harms, grade = BOOK.hosts["owner"].harms, BOOK.grades["known_good"]
    assert p_bad_of(SUPPLY, Standing(), BOOK) == pytest.approx(1.0 - grade.p_good)
    assert p_bad_of(SUPPLY, Standing(0.0, exposures=2), BOOK) == pytest.approx(harms + (1.0 - harms) * harms)
    assert p_bad_of(SUPPLY, Standing(0.0, days=round(4 * YEAR_DAYS)), BOOK) == pytest.approx(
        1.0 - (1.0 - grade.fades) ** 4
    )


def test_what_is_outside_the_case_is_not_at_risk_in_a_power_up():
    assert p_bad_of(MONITOR, Standing(exposures=400), BOOK) == p_bad_of(MONITOR, Standing(), BOOK)
    assert p_bad_of(MONITOR, Standing(days=400), BOOK) > p_bad_of(MONITOR, Standing(), BOOK)


def test_a_part_begins_in_a_job_as_it_stands():
    standing = Standing(0.2, exposures=10, days=100)
    folded = with_supply(standing, NO_HELP).folded
    assert 1.0 - root(folded, "bad:shelf.supply_a").start[0] == pytest.approx(p_bad_of(SUPPLY, standing, BOOK))


def test_a_job_file_says_how_a_part_stands():
    log = f"log:\n  - {NO_HELP}\n"
    said = {}
    for shelf in ("", "shelf: {supply_a: {bad: 0.25}}\n", "shelf: {supply_a: {bad: 0.25, exposed: 40}}\n"):
        job, _ = parse_job(shelf + log, BOOK)
        said[shelf] = 1.0 - root(fold_job(job, BOOK), "bad:shelf.supply_a").start[0]
    plain, doubted, exposed = said.values()
    assert (plain, doubted) == pytest.approx((1.0 - BOOK.grades["known_good"].p_good, 0.25))
    assert exposed > doubted


def test_a_swap_that_did_not_help_says_less_the_worse_the_part_stands():
    before = of_the_supply(with_supply(Standing(), DEAD))
    after = [of_the_supply(with_supply(Standing(p), DEAD, NO_HELP)) for p in (0.0, 0.02, 0.2, 0.6)]
    assert before > after[-1]  # it speaks for the owner's supply all the same
    assert after == sorted(after)
    assert after[-1] - after[0] > 0.1


def test_a_swap_that_helped_says_as_much_however_the_part_stood():
    proven, doubtful = (with_supply(Standing(p), DEAD, HELPS) for p in (0.0, 0.3))
    assert of_the_supply(doubtful) == pytest.approx(of_the_supply(proven), abs=0.02)
    assert doubtful["bad:shelf.supply_a"] < 0.3


def test_a_pass_in_the_benchs_own_machine_gives_the_swap_its_say_back():
    proves = "run: {on: bench, with: {supply: shelf.supply_a}, reached: log_in, stop: none}"
    doubtful = with_supply(Standing(0.3), DEAD, NO_HELP)
    tried = with_supply(Standing(0.3), proves, DEAD, NO_HELP)
    proven = with_supply(Standing(), DEAD, NO_HELP)
    assert tried["bad:shelf.supply_a"] < 0.7 * doubtful["bad:shelf.supply_a"]  # what comes and goes may not have shown
    assert of_the_supply(tried) < of_the_supply(doubtful)
    assert of_the_supply(tried) == pytest.approx(of_the_supply(proven), abs=0.02)


def test_a_killer_may_kill_what_is_lent_into_its_machine_and_the_more_so_the_longer_it_is_in():
    machine = "{drives: [sata], supply: {modular: yes}}"
    killer = "inspect: {at: modular_lead_wires, seen: wrong_wire}"
    lent = "run: {with: {drive: shelf.drive_sata, system: out}, reached: self_test}"

    def p_bad(*log):
        folded = fold(*log, machine=machine)
        return Suspicions(folded, weigh(folded.evidence)).held("shelf.drive_sata")

    harmless, once, thrice = p_bad(lent), p_bad(killer, lent), p_bad(killer, lent, lent, lent)
    assert harmless < 0.05
    assert once > 0.1
    assert thrice > once
    folded = fold(killer, "run: {not: self_test}", lent, machine=machine)
    both = "kills_drive+harm:owner.drive.1+harm:shelf.drive_sata"
    assert both in root(folded, "wrong_modular_lead").states
