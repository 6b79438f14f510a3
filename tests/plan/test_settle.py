"""What is there after a repair, and what its re-check does not show, worked out by hand."""

import numpy as np
import pytest
from plan.small_models import repair

from halfsplit.plan import Action, Situation, rank_actions
from halfsplit.plan.optimum import every_set
from halfsplit.plan.settle import settle
from halfsplit.plan.tables import Branches, Tables

BAD = np.ones(1, dtype=bool)


def settled(sets, weights, left) -> list[float]:
    situation = Situation(np.array(weights), np.array(sets, dtype=bool), (repair("r", 1.0, [0], 2),), 100.0)
    tables = Tables(situation)
    start = tables.start()
    after = Branches(start.weights, np.array([left]), start.is_open, start.is_done, BAD)
    found = settle(tables, after)
    assert (found.left == 1.0).all()
    return found.weights[0].tolist()


def test_the_weight_of_a_world_goes_to_what_is_left_of_its_faults():
    weights = settled(every_set(2), [0.1, 0.2, 0.3, 0.4], [0.25, 0.5])
    clean = 0.1 + 0.2 * 0.75 + 0.3 * 0.5 + 0.4 * 0.75 * 0.5
    first = 0.2 * 0.25 + 0.4 * 0.25 * 0.5
    second = 0.3 * 0.5 + 0.4 * 0.75 * 0.5
    assert weights == pytest.approx([clean, first, second, 0.4 * 0.25 * 0.5])


def test_worlds_with_the_same_faults_share_what_comes_to_them_as_they_stand():
    sets = [[1, 1], [0, 1], [0, 1]]
    assert settled(sets, [0.4, 0.45, 0.15], [0.0, 1.0]) == pytest.approx([0.0, 0.45 + 0.3, 0.15 + 0.1])


def test_what_no_world_has_stays_as_it_was():
    """The second fault alone is in no world, and a machine without a fault would have ended the job."""
    assert settled([[1, 0], [1, 1]], [0.6, 0.4], [0.0, 1.0]) == pytest.approx([0.0, 0.4])


@pytest.mark.parametrize("there", [1.0, 0.5])
def test_a_fault_that_the_re_check_does_not_show_comes_back(there):
    """Cured in 4 of 5; of the rest half shows and costs 70 to hand back, half does not and costs 100 as a comeback."""
    mend = Action("r", 10.0, cures=np.array([0.8]))
    weights = np.array([1.0 - there, there])
    situation = Situation(weights, every_set(1), (mend,), 100.0, shows=np.array([0.5]), broken=70.0)
    ranked = {each.id: each.total for each in rank_actions(situation).ranked}
    assert ranked["r"] == pytest.approx(10.0 + there * (0.1 * 70.0 + 0.1 * 100.0))
    assert ranked["hand_back"] == pytest.approx(there * (0.5 * 70.0 + 0.5 * 100.0))
