"""How a part of the shelf stands, and what it then says in a job: the more it was exposed to, the less."""

from dataclasses import replace
from types import MappingProxyType

import pytest
from folding import BOOK, Suspicions, fold, job_of, root
from hypothesis import given
from hypothesis import strategies as st

from halfsplit.infer import weigh
from halfsplit.job.advise import advise
from halfsplit.job.fold import fold_job
from halfsplit.job.kept import Kept
from halfsplit.job.standing import STEP, YEAR_DAYS, p_at_start, p_bad_of
from halfsplit.jobfile import parse_job
from halfsplit.model.machine import Standing
from halfsplit.model.rates import Rates

SUPPLY, MONITOR = BOOK.shelf["supply_a"], BOOK.shelf["monitor_bench"]
KEPT = Kept(BOOK)
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
    start = 1.0 - root(folded, "bad:shelf.supply_a").start[0]
    assert start == pytest.approx(p_at_start(SUPPLY, standing, BOOK))
    assert start == pytest.approx(p_bad_of(SUPPLY, standing, BOOK), rel=0.1)


@given(STANDINGS, STANDINGS)
def test_a_job_begins_in_steps_that_keep_their_order(one, other):
    odds = []
    for each in sorted([one, other], key=lambda standing: p_bad_of(SUPPLY, standing, BOOK)):
        exact, p = p_bad_of(SUPPLY, each, BOOK), p_at_start(SUPPLY, each, BOOK)
        assert p == pytest.approx(exact, rel=0.5 * STEP + 0.01)
        odds.append(p)
    assert odds == sorted(odds)
    assert p_at_start(SUPPLY, Standing(days=20), BOOK) == p_at_start(SUPPLY, Standing(), BOOK)


def test_a_job_file_says_how_a_part_stands():
    log = f"log:\n  - {NO_HELP}\n"
    said = {}
    for shelf in ("", "shelf: {supply_a: {bad: 0.25}}\n", "shelf: {supply_a: {bad: 0.25, exposed: 200}}\n"):
        job, _ = parse_job(shelf + log, BOOK)
        said[shelf] = 1.0 - root(fold_job(job, BOOK), "bad:shelf.supply_a").start[0]
    plain, doubted, exposed = said.values()
    assert plain == pytest.approx(1.0 - BOOK.grades["known_good"].p_good)
    assert doubted == pytest.approx(0.25, rel=0.1)
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


def asked_before(check, standing, *log, rates=None):
    name = next(put.removeprefix("shelf.") for put in BOOK.checks[check].setup.values() if put.startswith("shelf."))
    job = replace(job_of(*log), shelf=MappingProxyType({name: standing}))
    proposal = advise(job, BOOK, rates, kept=KEPT).proposal(check)
    return [stop for stop in proposal.stop_points if stop.id == "doubtful_part"]


def test_a_doubtful_part_is_tried_first_and_a_good_one_is_not():
    assert asked_before("hooked_up_supply", Standing(), DEAD) == []
    (stop,) = asked_before("hooked_up_supply", Standing(0.2), DEAD)
    assert not stop.bars
    assert "about 1 in 5" in stop.line
    minutes = BOOK.checks["supply_in_bench"].minutes
    assert BOOK.hosts["bench"].title in stop.do
    assert f"{minutes.hands_on:g}\u00a0min of hands" in stop.do


def test_the_bench_says_from_where_on_a_part_is_doubtful():
    standing = Standing(0.04)
    assert asked_before("hooked_up_supply", standing, DEAD) == []
    assert asked_before("hooked_up_supply", standing, DEAD, rates=Rates(try_first=0.03)) != []


def test_a_part_that_passed_in_the_benchs_machine_is_doubted_no_more():
    ran = "load: card, minutes: 30, reached: log_in, stop: none, picture: yes"
    proves = f"run: {{on: bench, with: {{card: shelf.card_small}}, output: card, {ran}}}"
    assert asked_before("shelf_card", Standing(0.06), DEAD) != []
    assert asked_before("shelf_card", Standing(0.06), proves, DEAD) == []


def test_what_may_have_killed_it_in_this_job_makes_a_part_doubtful():
    machine = "{drives: [sata], supply: {modular: yes}}"
    killer = "inspect: {at: modular_lead_wires, seen: wrong_wire}"
    lent = "run: {with: {drive: shelf.drive_sata, system: out}, load: drive, not: self_test}"
    found = {}
    for log in ((), (killer, lent, lent)):
        advice = advise(job_of(*log, machine=machine), BOOK, kept=KEPT)
        found[log] = [stop.id for stop in advice.proposal("drive_in_bench").stop_points]
    assert [("doubtful_part" in stops) for stops in found.values()] == [False, True]


def test_a_swap_with_a_doubtful_part_is_worth_less():
    def worth(p):
        job = replace(job_of(DEAD), shelf=MappingProxyType({"supply_a": Standing(p)}))
        return advise(job, BOOK, kept=KEPT).proposal("hooked_up_supply").value

    values = [worth(p) for p in (0.0, 0.1, 0.5)]
    assert values == sorted(values, reverse=True)
    assert values[0] > values[-1]


def test_what_is_lent_into_a_machine_that_may_kill_it_has_its_price():
    machine = "{drives: [sata], supply: {modular: yes}}"
    killer = "inspect: {at: modular_lead_wires, seen: wrong_wire}"
    risks = [
        advise(job_of(*log, machine=machine), BOOK, kept=KEPT).proposal("drive_in_bench").risk
        for log in ((), (killer,))
    ]
    assert 0.0 <= risks[0] < 0.05 * risks[1]


def test_what_was_kept_of_a_part_that_stood_otherwise_changes_no_advice():
    job = replace(job_of(DEAD), shelf=MappingProxyType({"supply_a": Standing(0.5)}))
    for other in (Standing(), Standing(0.2)):
        advise(replace(job, shelf=MappingProxyType({"supply_a": other})), BOOK, kept=KEPT)
    kept, fresh = (advise(job, BOOK, kept=each).proposals for each in (KEPT, None))
    assert [each.id for each in kept] == [each.id for each in fresh]
    assert [each.total for each in kept] == pytest.approx([each.total for each in fresh])


def test_a_power_up_in_a_job_is_worth_as_much_as_one_before_it():
    lent = "run: {with: {supply: shelf.supply_a}}"
    own = "run: {on: bench, with: {supply: shelf.supply_a}}"

    def p_bad(*log):
        return with_supply(Standing(), *log).held("shelf.supply_a")

    for n in (1, 3, 9):
        exact = p_bad_of(SUPPLY, Standing(exposures=n), BOOK)
        assert p_bad(*[lent] * n) == pytest.approx(exact, rel=0.05)  # what the book knows of killers comes on top
        assert p_bad(*[lent] * n) >= exact - 1e-12
    assert p_bad(*[own] * 9) == pytest.approx(p_bad_of(SUPPLY, Standing(), BOOK))
