"""What makes no situation, and every mistake of it at once."""

from dataclasses import replace

import numpy as np
import pytest
from plan.small_models import check, one_fault, repair, yes_no

from halfsplit.errors import PlanError
from halfsplit.plan import Action, Opening, rank_actions
from halfsplit.plan.optimum import MOST_FAULTS, find_optimum, follow_advice

GOOD = one_fault(
    (0.6, 0.4), [repair("r", 100.0, [0], 2, opening="cover"), check("t", 10.0, yes_no([1, 0]))],
    openings=(Opening("cover", 5.0),),
)  # fmt: skip
MEND, TEST = GOOD.actions


def codes(**changes) -> list[str]:
    with pytest.raises(PlanError) as caught:
        replace(GOOD, **changes)
    return [f"{mistake.code} {mistake.place}" for mistake in caught.value.mistakes]


@pytest.mark.parametrize(
    ("changes", "place"),
    [
        ({"weights": np.ones(3) / 3}, "weights"),
        ({"shows": np.ones(3)}, "shows"),
        ({"actions": (replace(MEND, tells=TEST.tells),)}, "r"),
        ({"actions": (Action("nothing", 1.0),)}, "nothing"),
        ({"actions": (replace(MEND, cures=np.ones(3)),)}, "r.cures"),
        ({"actions": (replace(TEST, tells=np.ones((2, 1))),)}, "t.tells"),
        ({"actions": (replace(MEND, cents=np.ones(2)),)}, "r.cents"),
    ],
)
def test_shapes_that_do_not_fit(changes, place):
    assert codes(**changes) == [f"HS601 {place}"]


@pytest.mark.parametrize(
    ("changes", "place"),
    [
        ({"weights": np.array([0.0, 0.5, 0.4, 0.0])}, "weights"),
        ({"weights": np.array([0.0, 1.5, -0.5, 0.0])}, "weights"),
        ({"comeback": -1.0}, "comeback"),
        ({"comeback": np.inf}, "comeback"),
        ({"comeback": np.nan}, "comeback"),
        ({"broken": np.inf}, "broken"),
        ({"replacing": -1.0}, "replacing"),
        ({"openings": (Opening("cover", -1.0),)}, "cover"),
        ({"actions": (replace(MEND, cents=-1.0),)}, "r"),
        ({"actions": (replace(MEND, recheck=100.01),)}, "r"),
        ({"actions": (replace(MEND, cures=np.array([1.1, 0.0])),)}, "r"),
        ({"actions": (replace(TEST, tells=np.full((4, 2), 0.4)),)}, "t"),
    ],
)
def test_numbers_that_are_no_probabilities_or_costs(changes, place):
    assert codes(**changes) == [f"HS602 {place}"]


@pytest.mark.parametrize(
    ("changes", "place"),
    [
        ({"openings": ()}, "r"),
        ({"openings": (Opening("cover", 5.0, inside="case"),)}, "cover"),
        ({"open_now": frozenset({"lid"})}, "open_now"),
    ],
)
def test_openings_that_are_not_known(changes, place):
    assert codes(**changes) == [f"HS603 {place}"]


def test_all_mistakes_are_told_at_once():
    changes = {"comeback": -1.0, "openings": (), "shows": np.ones(3)}
    assert codes(**changes) == ["HS602 comeback", "HS603 r", "HS601 shows"]


@pytest.mark.parametrize(
    "situation",
    [
        one_fault((1.0,) + (0.0,) * MOST_FAULTS, [repair("r", 1.0, [0], MOST_FAULTS + 1)]),
        one_fault((1.0,), [repair(f"r{n}", 1.0, [0], 1) for n in range(9)]),
        replace(GOOD, shows=np.array([0.9, 1.0])),
        replace(GOOD, faults=GOOD.faults[::-1]),
    ],
    ids=["too many faults", "too many actions", "a re-check misses a fault", "worlds in another order"],
)
def test_what_is_no_small_model(situation):
    with pytest.raises(PlanError, match="HS604"):
        find_optimum(situation)
    with pytest.raises(PlanError, match="HS604"):
        follow_advice(situation, rank_actions)
