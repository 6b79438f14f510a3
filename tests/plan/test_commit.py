"""The commit question, on the test of the worked examples: F1 .6 and F2 .4, repairs for 100 and 50."""

import pytest
from plan.small_models import check, one_fault, repair, yes_no

from halfsplit.errors import PlanError
from halfsplit.plan import Opening, rank_actions, weigh_commitment

REPAIRS = [repair("r1", 100.0, [0], 2), repair("r2", 50.0, [1], 2)]
PERFECT = check("t", 10.0, yes_no([1, 0]))


def weigh(action, *checks, price=50.0, repairs=REPAIRS, **more):
    situation = one_fault((0.6, 0.4), [*repairs, *checks], **more)
    return weigh_commitment(situation, rank_actions(situation), action, price=price)


def test_going_ahead_costs_what_the_test_would_save():
    found = weigh("r2", PERFECT)
    assert found.going_ahead == pytest.approx(110.0 - 90.0)
    (doubt,) = found.doubts
    assert (doubt.check, doubt.cents) == ("t", 10.0)
    assert doubt.p_change == pytest.approx(0.6)
    assert doubt.saves == pytest.approx(20.0)


def test_the_most_saving_check_comes_first():
    poorer = check("a", 10.0, yes_no([0.9, 0.2]))
    assert [(doubt.check, round(doubt.saves, 6)) for doubt in weigh("r2", poorer, PERFECT).doubts] == [
        ("t", 20.0),
        ("a", 9.0),
    ]


def test_a_check_as_dear_as_the_part_is_not_named():
    assert weigh("r2", PERFECT, price=10.0).doubts == ()


def test_a_check_that_does_not_pay_is_not_named():
    found = weigh("r2", check("t", 31.0, yes_no([1, 0])))
    assert (found.doubts, found.going_ahead) == ((), 0.0)


def test_what_something_else_would_save_is_not_to_a_checks_credit():
    """r1 first costs 120, r2 first 110; a check that tells nothing saves none of that."""
    assert weigh("r1", check("t", 1.0, yes_no([0.5, 0.5]))).doubts == ()


def test_checks_that_pay_only_together_are_named_together():
    looks = [check(f"look {n}", 1.0, yes_no([float(fault == n) for fault in range(4)]), opening="x") for n in range(3)]
    repairs = [repair(f"mend {n}", 100.0, [n], 4) for n in range(4)]
    situation = one_fault((0.25,) * 4, [*looks, *repairs], openings=(Opening("x", 130.0),))
    found = weigh_commitment(situation, rank_actions(situation), "mend 0", price=200.0)
    assert [doubt.check for doubt in found.doubts] == ["look 0+look 1+look 2"]
    assert found.going_ahead == pytest.approx(250.0 - 232.25)
    assert found.doubts[0].p_change == pytest.approx(0.75)


def test_a_repair_with_others_under_one_re_check_is_still_that_repair():
    repairs = [repair(f"r{n}", 10.0, [n], 2, opening="cover", powers=True, recheck=6.0) for n in range(2)]
    cover = (Opening("cover", 50.0, stays=False),)
    found = weigh("r0", check("t", 1.0, yes_no([0.5, 0.5])), repairs=repairs, openings=cover, price=30.0)
    assert found.doubts == ()


def test_an_action_that_is_not_in_the_ranking():
    with pytest.raises(PlanError, match=r"HS605 r3: it is not in the ranking; it is one of: .*r1"):
        weigh("r3", PERFECT)
