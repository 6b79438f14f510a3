"""What is wrong one by one and right together."""

from functools import partial
from itertools import chain, combinations

import numpy as np
import pytest
from plan.small_models import check, one_fault, repair, yes_no

from halfsplit.plan import Opening, Situation, rank_actions
from halfsplit.plan.optimum import find_optimum, follow_advice

REPAIRS = [repair(f"mend {n}", 100.0, [n], 4) for n in range(4)]
LOOKS = [check(f"look {n}", 1.0, yes_no(np.eye(4)[n]), opening="cover") for n in range(3)]


def four_suspects(looks) -> Situation:
    return one_fault((0.25,) * 4, [*looks, *REPAIRS], openings=(Opening("cover", 130.0),))


def test_three_short_checks_behind_one_long_opening_by_enumeration():
    subsets = chain.from_iterable(combinations(LOOKS, many) for many in range(4))
    least = {tuple(look.id for look in looks): find_optimum(four_suspects(looks)).cents for looks in subsets}
    without = 100.0 * (1.0 + 0.75 + 0.5 + 0.25)
    together = 130.0 + (1.0 + 0.75 + 0.5) + 100.0
    assert least.pop(("look 0", "look 1", "look 2")) == pytest.approx(together)
    assert list(least.values()) == pytest.approx([without] * 7)  # one or two of them are not worth the opening


def test_the_advice_finds_three_checks_that_are_refused_one_by_one():
    situation = four_suspects(LOOKS)
    ranked = rank_actions(situation).ranked
    assert ranked[0].parts == ("look 0", "look 1", "look 2")
    assert ranked[0].id == "look 0+look 1+look 2"
    assert ranked[0].total == pytest.approx(232.25)
    assert ranked[0].cents == pytest.approx(132.25)
    assert ranked[0].value == pytest.approx(250.0 - 100.0)
    alone = next(each for each in ranked if each.id == "look 0")
    assert alone.value < alone.cents
    assert follow_advice(situation, rank_actions).cents == pytest.approx(find_optimum(situation).cents)


def test_a_bundle_says_what_its_results_lead_to():
    then = rank_actions(four_suspects(LOOKS)).then["look 0+look 1+look 2"]
    assert sorted(then) == [(pytest.approx(0.25), f"mend {n}") for n in range(4)]


def test_of_two_checks_that_tell_only_together_both_are_found():
    """Each result alone leaves all four faults as they were in pairs; the two name one of four for sure."""
    looks = [
        check("left", 5.0, yes_no([1, 1, 0, 0]), opening="cover"),
        check("right", 5.0, yes_no([1, 0, 1, 0]), opening="cover"),
    ]
    situation = one_fault((0.25,) * 4, [*looks, *REPAIRS], openings=(Opening("cover", 120.0),))
    alone = [find_optimum(four_suspects([look])).cents for look in looks]
    assert alone == pytest.approx([250.0, 250.0])
    assert find_optimum(situation).cents == pytest.approx(230.0)
    assert rank_actions(situation).ranked[0].parts == ("left", "right")
    assert follow_advice(situation, rank_actions).cents == pytest.approx(230.0)


def two_repairs_behind_a_cover(recheck: float) -> Situation:
    repairs = [repair(f"reseat {n}", 10.0, [n], 2, opening="cover", powers=True, recheck=recheck) for n in range(2)]
    return one_fault((0.5, 0.5), repairs, openings=(Opening("cover", 50.0, stays=False),))


@pytest.mark.parametrize(("recheck", "cents"), [(0.0, 70.0), (6.0, 64.0)])
def test_repairs_behind_what_must_be_closed_for_the_re_check_share_it(recheck, cents):
    """One by one: 60, and in half the cases 60 again; with one re-check: 50 + 10 + 10 - what it costs."""
    situation = two_repairs_behind_a_cover(recheck)
    assert find_optimum(situation).cents == pytest.approx(cents)
    best = rank_actions(situation).ranked[0]
    assert sorted(best.parts) == ["reseat 0", "reseat 1"]
    assert best.total == pytest.approx(cents)
    assert follow_advice(situation, rank_actions).cents == pytest.approx(cents)


def test_a_cover_that_may_stay_off_is_no_reason_to_share_a_re_check():
    repairs = [repair(f"reseat {n}", 10.0, [n], 2, opening="cover", powers=True) for n in range(2)]
    situation = one_fault((0.5, 0.5), repairs, openings=(Opening("cover", 50.0),))
    assert find_optimum(situation).cents == pytest.approx(65.0)
    assert len(rank_actions(situation).ranked[0].parts) == 1
    assert follow_advice(situation, partial(rank_actions, depth=2)).cents == pytest.approx(65.0)
