"""The way ahead as a tree: it ends, its chances add up, and its cost is what walking it costs."""

import numpy as np
import pytest

from halfsplit.plan import ASK_AGAIN, STOP, Action, Grower, Situation, Thumb


def grown(p=(0.5, 0.3, 0.2), costs=(900.0, 500.0, 200.0), places=60, comeback=50_000.0):
    faults = len(p)
    rows = np.vstack([np.eye(faults, dtype=bool), np.zeros((1, faults), dtype=bool)])
    weights = np.append(np.array(p), 0.0)
    actions = [Action(f"r{n}", cost, "", True, cures=np.eye(faults)[n]) for n, cost in enumerate(costs)]
    tells = np.vstack([np.eye(faults), np.full((1, faults), 1.0 / faults)])
    actions.append(Action("look", 50.0, tells=tells))
    given = Situation(weights, rows, tuple(actions), comeback=comeback)
    after = {f"r{n}": np.where(np.arange(faults + 1) == n, faults, np.arange(faults + 1)) for n in range(faults)}
    thumb = Thumb(given, after)
    done = np.zeros(len(actions), dtype=bool)
    return Grower(thumb).grow(weights, thumb.open_now, done, places=places), given


def every(place):
    yield place
    for _, child in place.branches:
        yield from every(child)


def test_a_sure_look_comes_first_and_then_the_right_repair():
    tree, given = grown()
    assert given.actions[tree.place.action].id == "look"
    for result, child in tree.place.branches:
        assert given.actions[child.action].id == f"r{result}"
    assert tree.place.cents == pytest.approx(50.0 + 0.5 * 900.0 + 0.3 * 500.0 + 0.2 * 200.0)


def test_the_chances_of_branches_add_up_and_costs_are_those_of_the_worlds():
    tree, given = grown(p=(0.4, 0.4, 0.2), costs=(300.0, 400.0, 500.0))
    for place in every(tree.place):
        if place.action not in (STOP, ASK_AGAIN) and given.actions[place.action].tells is not None:
            assert sum(child.p for _, child in place.branches) == pytest.approx(place.p)
    assert float(given.weights @ tree.cents) == pytest.approx(tree.place.cents)


@pytest.mark.parametrize("places", [1, 2, 4, 8])
def test_it_has_no_more_places_than_it_may_have(places):
    tree, given = grown(places=places)
    done = [place for place in every(tree.place) if place.action not in (STOP, ASK_AGAIN)]
    assert 1 <= len(done) <= places
    assert given.actions[tree.place.action].id == "look"


def test_it_stops_where_stopping_is_cheaper():
    tree, _ = grown(comeback=40.0)
    assert tree.place.action == STOP
    assert tree.place.cents == pytest.approx(40.0)


def test_a_tree_that_begins_with_one_action_costs_what_that_and_the_rest_cost():
    tree, given = grown()
    number = {action.id: n for n, action in enumerate(given.actions)}
    faults = given.faults.shape[1]
    after = {f"r{n}": np.where(np.arange(faults + 1) == n, faults, np.arange(faults + 1)) for n in range(faults)}
    thumb = Thumb(given, after)
    begins = {
        name: Grower(thumb).after(n, given.weights, thumb.open_now, np.zeros(len(number), dtype=bool))
        for name, n in number.items()
    }
    assert begins["look"].place == tree.place
    assert begins["r2"].place.cents == pytest.approx(200.0 + 0.5 * (50.0 + 900.0) + 0.3 * (50.0 + 500.0))
    assert min(begins, key=lambda name: begins[name].place.cents) == "look"


def hidden(can):
    """A machine that is dead of one thing, and likely has one of two more that only a running one shows."""
    rows = np.array([[1, 0, 0], [1, 1, 0], [1, 0, 1], [0, 1, 0], [0, 0, 1], [0, 0, 0]], dtype=bool)
    weights = np.array([0.2, 0.4, 0.4, 0.0, 0.0, 0.0])
    cures = np.eye(3)
    actions = [Action(f"r{n}", cost, "", True, cures=cures[n]) for n, cost in enumerate((500.0, 3000.0, 3000.0))]
    says = np.where(rows[:, 1:2], [1.0, 0.0], [0.0, 1.0])
    actions.append(Action("look", 50.0, tells=says))
    given = Situation(weights, rows, tuple(actions), comeback=50_000.0)
    after = {"r0": [3, 3, 4, 3, 4, 5], "r1": [0, 0, 2, 5, 4, 5], "r2": [0, 1, 0, 3, 5, 5]}
    after["r0"][0] = 5
    thumb = Thumb(given, {name: np.array(into) for name, into in after.items()})
    done = np.zeros(len(actions), dtype=bool)
    tree = Grower(thumb, {} if can is None else {"look": np.array(can)}).grow(weights, thumb.open_now, done)
    return tree.place, [action.id for action in actions]


def test_what_waits_for_a_repair_comes_after_it_where_the_machine_can_then_show_it():
    place, names = hidden(None)
    assert names[place.action] == "look"
    place, names = hidden([0.0, 0.0, 0.0, 1.0, 1.0, 1.0])
    assert names[place.action] == "r0"
    assert names[place.branches[0][1].action] == "look"


def test_what_waits_goes_on_waiting_where_the_repair_did_not_bring_the_machine_up():
    place, names = hidden([0.0, 0.0, 0.0, 0.4, 0.4, 1.0])
    assert names[place.action] == "r0"
    assert all(names[each.action] != "look" for each in every(place) if each.action >= 0)
