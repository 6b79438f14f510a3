"""Worked examples with exact answers, for the best of all policies and for the advice."""

from functools import partial
from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from plan.small_models import NEVER, check, one_fault, repair, yes_no

from halfsplit.plan import Opening, rank_actions
from halfsplit.plan.optimum import find_optimum, follow_advice
from halfsplit.plan.repairs import cost_to_go
from halfsplit.plan.tables import Tables


def both(situation, **how) -> tuple[float, float]:
    return find_optimum(situation).cents, follow_advice(situation, partial(rank_actions, **how)).cents


def in_order(order, p, cures, cents) -> float:
    """Expected cost of repairs in a fixed order, one of the faults there; worked out by the definition."""
    total, left = 0.0, dict(enumerate(p))
    for name in order:
        total += cents[name] * sum(left.values())
        left = {fault: chance for fault, chance in left.items() if fault not in cures[name]}
    return total


# Kadane and Simon, "Optimal strategies for a class of constrained sequential problems", Annals of Statistics 5 (1977):
# with one fault and independent perfect repairs the order by p / c is best.  The numbers are worked here.

P = (0.5, 0.3, 0.2)
CENTS = (10.0, 3.0, 1.0)


def test_the_order_by_p_over_c():
    ordered = one_fault(P, [repair(str(n + 1), CENTS[n], [n], 3) for n in range(3)])
    assert both(ordered) == pytest.approx((8.4, 8.4))
    assert [each.id for each in rank_actions(ordered).ranked][:3] == ["3", "2", "1"]


def test_all_six_orders():
    cures = {n: {n} for n in range(3)}
    costs = {order: in_order(order, P, cures, CENTS) for order in permutations(range(3))}
    assert sorted(costs.values()) == pytest.approx([8.4, 8.7, 9.9, 10.2, 11.4, 11.7])


@given(
    st.lists(
        st.tuples(st.floats(0.05, 1.0), st.floats(1.0, 100.0)),
        min_size=2,
        max_size=5,
    )
)
def test_one_fault_and_perfect_repairs_are_put_in_the_best_of_all_orders(drawn):
    whole = sum(weight for weight, _ in drawn)
    p = [weight / whole for weight, _ in drawn]
    cents = [each for _, each in drawn]
    cures = {n: {n} for n in range(len(p))}
    least = min(in_order(order, p, cures, cents) for order in permutations(range(len(p))))
    situation = one_fault(p, [repair(str(n), cents[n], [n], len(p)) for n in range(len(p))])
    assert both(situation) == pytest.approx((least, least))


# Repairs that share faults; the structure is that of the "dependent actions" in Vomlelova (2003) and Ottosen and
# Jensen (2010), the numbers are worked here.

SHARED_P = (0.20, 0.25, 0.40, 0.15)
SHARED_CURES = {"A1": {0, 1}, "A2": {1, 2}, "A3": {2, 3}}
SHARED = one_fault(SHARED_P, [repair(name, 1.0, faults, 4) for name, faults in SHARED_CURES.items()])


def test_dependent_repairs():
    one_cent = dict.fromkeys(SHARED_CURES, 1.0)
    by_p_over_c_once = in_order(["A2", "A3", "A1"], SHARED_P, SHARED_CURES, one_cent)
    assert by_p_over_c_once == pytest.approx(1.55)
    tables = Tables(SHARED)
    worked_out_anew = cost_to_go(tables, tables.start()).cents[0]
    assert worked_out_anew == pytest.approx(1.50)
    assert both(SHARED) == pytest.approx((1.45, 1.45))
    assert rank_actions(SHARED).ranked[0].id == "A3"


# A cost cluster, in the style of Langseth and Jensen, "Decision theoretic troubleshooting of coherent systems",
# Reliability Engineering and System Safety 80 (2003); the numbers are worked here.


def test_a_cost_cluster():
    actions = [
        repair("a", 3.0, [0], 4),
        repair("b", 2.0, [1], 4, opening="x"),
        repair("c", 1.0, [2], 4, opening="x"),
        repair("d", 5.0, [3], 4),
    ]
    cluster = one_fault((0.3, 0.4, 0.2, 0.1), actions, openings=(Opening("x", 4.0),))
    assert both(cluster) == pytest.approx((8.0, 8.0))
    ranking = rank_actions(cluster)
    assert ranking.ranked[0].id == "a"
    assert ranking.without == pytest.approx(8.0)


# The value of a test, worked here: F1 .6 and F2 .4, repairs for 100 and 50, tests for 10.

REPAIRS = [repair("r1", 100.0, [0], 2), repair("r2", 50.0, [1], 2)]


def with_test(*p_yes, cents=10.0):
    return one_fault((0.6, 0.4), [*REPAIRS, check("t", cents, yes_no(p_yes))])


def test_the_value_of_a_test():
    assert both(one_fault((0.6, 0.4), REPAIRS)) == pytest.approx((110.0, 110.0))
    assert both(with_test(1.0, 0.0)) == pytest.approx((90.0, 90.0))
    assert both(with_test(0.9, 0.2)) == pytest.approx((101.0, 101.0))


def test_a_test_is_worth_its_break_even_price():
    ranked = {each.id: each for each in rank_actions(with_test(0.9, 0.2)).ranked}
    assert ranked["t"].value == pytest.approx(19.0)
    assert rank_actions(with_test(0.9, 0.2, cents=18.99)).ranked[0].id == "t"
    assert rank_actions(with_test(0.9, 0.2, cents=19.01)).ranked[0].id == "r2"


def test_what_each_result_would_lead_to():
    then = rank_actions(with_test(0.9, 0.2)).then["t"]
    assert [first for _, first in then] == ["r1", "r2"]
    assert [p for p, _ in then] == pytest.approx([0.62, 0.38])


# Half-split, worked here: a chain of four stages with tests for one cent between them; every needless repair costs so
# much that the stage is always found first.


def test_half_split():
    stages = (0.4, 0.3, 0.2, 0.1)
    tests = [check(f"after stage {n}", 1.0, yes_no([float(fault < n) for fault in range(4)])) for n in (1, 2, 3)]
    chain = one_fault(stages, [*tests, *(repair(f"mend {n}", 100.0, [n], 4) for n in range(4))])
    assert both(chain) == pytest.approx((101.9, 101.9))
    assert both(chain, depth=2) == pytest.approx((101.9, 101.9))
    assert find_optimum(chain).first == ("after stage 1",)


def test_handing_back_and_another_machine_are_ends():
    repairs = [repair("r", 50.0, [0], 1)]
    assert find_optimum(one_fault((1.0,), repairs, comeback=NEVER)).first == ("r",)
    for comeback, replacing, first, cents in ((40.0, 60.0, "hand_back", 40.0), (60.0, 45.0, "replace_machine", 45.0)):
        situation = one_fault((1.0,), repairs, comeback=comeback, replacing=replacing)
        assert find_optimum(situation).first == (first,)
        assert rank_actions(situation).ranked[0].id == first
        assert both(situation) == pytest.approx((cents, cents))
