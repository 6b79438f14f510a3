"""What holds in every situation; the situations are drawn from seeds."""

from dataclasses import replace
from functools import partial
from itertools import permutations

import numpy as np
import pytest
from drawn_situations import draw_situation
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from halfsplit.plan import Action, Ranking, Situation, rank_actions
from halfsplit.plan.optimum import every_set, find_optimum, follow_advice

SEEDS = st.integers(min_value=0, max_value=2**32 - 1)
FEW = settings(max_examples=40)

near = partial(pytest.approx, rel=1e-9, abs=1e-6)


def small(seed: int) -> Situation:
    return draw_situation(seed, most_faults=4, most_actions=6)


def totals(ranking: Ranking) -> dict[frozenset[str], float]:
    """Total by actions; what has several ways, in order, by the cheapest."""
    found: dict[frozenset[str], float] = {}
    for each in ranking.ranked:
        key = frozenset(each.parts) or frozenset({each.id})
        found[key] = min(found.get(key, np.inf), each.total)
    return found


@FEW
@given(SEEDS)
def test_looking_far_enough_ahead_is_the_best_of_all_policies(seed):
    """Every way of doing all actions, repairs with one re-check among them; what checks tell after a repair too."""
    situation = draw_situation(seed, most_faults=3, most_actions=4)
    best = rank_actions(situation, depth=4, width=100).ranked[0].total
    assert best == near(find_optimum(situation).cents)


@FEW
@given(SEEDS)
def test_nothing_that_is_ranked_looks_better_than_the_best_policy(seed):
    situation = small(seed)
    ranking = rank_actions(situation)
    least = find_optimum(situation).cents
    assert min(each.total for each in ranking.ranked) >= least - 1e-6
    assert follow_advice(situation, rank_actions).cents >= least - 1e-6


@FEW
@given(SEEDS, st.integers(0, 3))
def test_a_free_check_is_never_refused_when_it_could_help(seed, fault):
    situation = small(seed)
    assume(fault < situation.faults.shape[1])
    sees = situation.faults[:, fault].astype(float) * 0.9
    free = Action("free", 0.0, tells=np.stack([sees, 1.0 - sees], axis=1))
    more = replace(situation, actions=(*situation.actions, free))
    assert find_optimum(more).cents <= find_optimum(situation).cents + 1e-6
    if find_optimum(more).cents < find_optimum(situation).cents - 1e-6:
        assert rank_actions(more).ranked[0].parts[0] == "free"


@FEW
@given(SEEDS, st.floats(0.0, 1.0), st.floats(0.0, 1e4))
def test_a_check_that_cannot_change_anything_is_worth_nothing(seed, p, cents):
    situation = small(seed)
    blind = Action("blind", cents, tells=np.tile([p, 1.0 - p], (len(situation.weights), 1)))
    ranking = rank_actions(replace(situation, actions=(*situation.actions, blind)))
    ranked = next(each for each in ranking.ranked if each.id == "blind")
    assert ranked.value == pytest.approx(0.0, abs=1e-6)
    assert ranking.ranked[0].id != "blind"


@FEW
@given(SEEDS)
def test_no_value_is_below_nothing(seed):
    assert all(each.value >= 0.0 for each in rank_actions(small(seed), depth=2, width=4).ranked)


@FEW
@given(SEEDS, st.integers(0, 5), st.floats(0.01, 1e4))
def test_dearer_never_looks_better(seed, which, more):
    situation = small(seed)
    assume(which < len(situation.actions))
    actions = list(situation.actions)
    actions[which] = replace(actions[which], cents=actions[which].cents + more)
    dearer = replace(situation, actions=tuple(actions))
    name = actions[which].id
    before, after = (
        next(each for each in rank_actions(each).ranked if each.id == name) for each in (situation, dearer)
    )
    assert after.total >= before.total - 1e-6
    assert after.cents == near(before.cents + more)
    assert find_optimum(dearer).cents >= find_optimum(situation).cents - 1e-6


@FEW
@given(SEEDS, st.randoms(use_true_random=False))
def test_names_and_order_change_nothing_but_the_ids(seed, random):
    situation = small(seed)
    worlds, faults, order = (
        random.sample(range(many), many)
        for many in (len(situation.weights), situation.faults.shape[1], len(situation.actions))
    )
    renamed = tuple(
        replace(
            action,
            id=f"other {action.id}",
            tells=None if action.tells is None else action.tells[worlds],
            cures=None if action.cures is None else action.cures[faults],
        )
        for action in (situation.actions[n] for n in order)
    )
    other = replace(
        situation, weights=situation.weights[worlds], faults=situation.faults[worlds][:, faults], actions=renamed
    )
    before, after = totals(rank_actions(situation)), totals(rank_actions(other))
    ends = {"hand_back", "replace_machine"}
    named = {frozenset(part if part in ends else f"other {part}" for part in key): each for key, each in before.items()}
    assert after == near(named)


@FEW
@given(SEEDS)
def test_the_same_situation_is_ranked_the_same(seed):
    assert rank_actions(small(seed), depth=2) == rank_actions(small(seed), depth=2)


@FEW
@given(SEEDS, st.integers(0, 3), st.floats(0.1, 0.9))
def test_a_world_written_as_two_equal_ones_is_one_world(seed, world, share):
    situation = small(seed)
    rows = np.append(np.arange(len(situation.weights)), world)
    weights = situation.weights[rows].copy()
    weights[[world, -1]] *= [share, 1.0 - share]
    actions = tuple(
        replace(action, tells=None if action.tells is None else action.tells[rows]) for action in situation.actions
    )
    split = replace(situation, weights=weights, faults=situation.faults[rows], actions=actions)
    for depth in (1, 2):
        before, after = (totals(rank_actions(each, depth=depth)) for each in (situation, split))
        assert after == near(before)


@given(
    st.lists(st.floats(0.05, 1.0), min_size=2, max_size=4),
    st.lists(st.floats(0.3, 1.0), min_size=4, max_size=4),
    st.lists(st.floats(1.0, 50.0), min_size=4, max_size=4),
)
def test_repairs_of_several_faults_that_come_alone_or_together(p, works, cents):
    """One repair for each fault and no end but success: the exact cost of every order, world by world."""
    many = len(p)
    sets = every_set(many)
    weights = np.where(sets, np.array(p) * 0.6, 1.0 - np.array(p) * 0.6).prod(axis=1)
    weights[0] = 0.0
    weights /= weights.sum()
    actions = tuple(Action(f"r{n}", cents[n], cures=np.eye(many)[n] * works[n]) for n in range(many))
    comeback = 200.0

    def cost(order: tuple[int, ...]) -> float:
        """The cheapest place to stop in a fixed order."""
        spent, best = 0.0, comeback
        stays = np.ones(many)
        for n in order:
            bad = 1.0 - np.where(sets, 1.0 - stays, 1.0).prod(axis=1)
            spent += cents[n] * float(weights @ bad)
            stays[n] = 1.0 - works[n]
            bad = 1.0 - np.where(sets, 1.0 - stays, 1.0).prod(axis=1)
            best = min(best, spent + comeback * float(weights @ bad))
        return best

    least = min(cost(order) for order in permutations(range(many)))
    situation = Situation(weights, sets, actions, comeback)
    assert find_optimum(situation).cents == near(least)
    assert rank_actions(situation, depth=many, width=100).ranked[0].total == near(least)
