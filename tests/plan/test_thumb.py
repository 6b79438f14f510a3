"""The rule of thumb: its laws, and the first actions of the worked examples that it gets right."""

from dataclasses import replace

import numpy as np
import pytest

from halfsplit.plan import HAND_BACK, Action, Opening, Situation, Thumb, firsts_after, rank_by_thumb
from halfsplit.plan.blind import Blind

FAULTS, CHECKS = 4, 5


def situation(seed, *, extra=()):
    rng = np.random.default_rng([11, seed])
    worlds = np.unique(rng.random((20, FAULTS)) < 0.4, axis=0)
    weights = rng.exponential(size=len(worlds))
    actions = [
        Action(f"c{n}", float(rng.uniform(20, 400)), "lid" if n % 2 else "", n % 2 == 0, tells=tells(rng, worlds))
        for n in range(CHECKS)
    ]
    actions += [
        Action(f"r{n}", float(rng.uniform(300, 4000)), "", True, cures=0.9 * np.eye(FAULTS)[n]) for n in range(FAULTS)
    ]
    return Situation(
        weights / weights.sum(),
        worlds,
        (*actions, *extra),
        comeback=12_000.0,
        replacing=40_000.0,
        openings=(Opening("lid", 150.0),),
        shows=rng.uniform(0.7, 1.0, FAULTS),
    )


def tells(rng, worlds):
    seen = worlds @ rng.uniform(0.0, 3.0, FAULTS)
    p = 1.0 / (1.0 + np.exp(2.0 - seen))
    return np.stack([1.0 - p, p], axis=1)


def closed(given):
    """The worlds and those that each repair makes of them, and which: one repair cures one fault."""
    rows = [tuple(row) for row in given.faults.tolist()]
    after = {}
    for n in range(given.faults.shape[1]):
        left = [tuple(has and f != n for f, has in enumerate(row)) for row in map(tuple, given.faults.tolist())]
        rows += [row for row in dict.fromkeys(left) if row not in rows]
        after[f"r{n}"] = np.array([rows.index(row) for row in left])
    return after, np.array(rows, dtype=bool)


def thumb(given, **rest):
    after, ends = closed(given)
    return Thumb(given, after, ends=ends, proof=300.0, **rest)


def values(given, **rest):
    return {each.id: each.value for each in rank_by_thumb(thumb(given, **rest)).ranked}


@pytest.mark.parametrize("seed", range(12))
def test_no_value_is_negative_and_none_of_what_tells_nothing(seed):
    worlds = len(situation(seed).weights)
    idle = Action("idle", 70.0, tells=np.tile([0.3, 0.7], (worlds, 1)))
    found = values(situation(seed, extra=(idle,)))
    assert min(found.values()) >= 0.0
    assert found["idle"] == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("seed", range(12))
def test_what_is_dearer_is_never_better(seed):
    given = situation(seed)
    for n in range(CHECKS):
        before = {each.id: each.total for each in rank_by_thumb(thumb(given)).ranked}
        dear = [replace(a, cents=a.cents + 500.0) if a.id == f"c{n}" else a for a in given.actions]
        engine = thumb(replace(given, actions=tuple(dear)))
        engine.cents_a_bit = thumb(given).cents_a_bit
        after = {each.id: each.total for each in rank_by_thumb(engine).ranked}
        assert after[f"c{n}"] == pytest.approx(before[f"c{n}"] + 500.0, rel=1e-6)


@pytest.mark.parametrize("seed", range(6))
def test_names_and_order_of_worlds_and_actions_change_nothing(seed):
    given = situation(seed)
    rng = np.random.default_rng(seed)
    worlds, order = rng.permutation(len(given.weights)), rng.permutation(len(given.actions))
    moved = [replace(a, tells=a.tells[worlds]) if a.tells is not None else a for a in (given.actions[n] for n in order)]
    other = replace(given, weights=given.weights[worlds], faults=given.faults[worlds], actions=tuple(moved))
    one, two = rank_by_thumb(thumb(given)), rank_by_thumb(thumb(other))
    assert [each.id for each in one.ranked] == [each.id for each in two.ranked]
    assert [each.total for each in one.ranked] == pytest.approx([each.total for each in two.ranked])


@pytest.mark.parametrize("seed", range(6))
def test_a_repair_leaves_what_working_it_out_world_by_world_leaves(seed):
    given = situation(seed)
    engine = thumb(given)
    after, ends = closed(given)
    total = engine.guess(given.weights, engine.open_now, np.zeros(len(given.actions), dtype=bool)).total
    shows = 1.0 - np.where(ends, 1.0 - given.shows, 1.0).prod(axis=1)
    now = np.concatenate([given.weights, np.zeros(len(ends) - len(given.weights))])
    without = min(branch_cost(engine, given, ends, now), float(now @ engine.stop_open), given.replacing)
    told_anyway = max(0.0, without - after_recheck(engine, given, ends, now, shows))
    for n in range(FAULTS):
        then = np.zeros(len(ends))
        goes = np.where(given.faults[:, n], 0.9, 0.0)
        np.add.at(then, after[f"r{n}"], given.weights * goes)
        then[: len(goes)] += given.weights * (1.0 - goes)
        left = after_recheck(engine, given, ends, then, shows)
        right = given.actions[CHECKS + n].cents + min(left + told_anyway, max(left, without))
        if given.faults[:, n].any():
            assert total[CHECKS + n] == pytest.approx(right, rel=1e-9)


def after_recheck(engine, given, ends, then, shows):
    """What is left once a re-check showed a fault, or was fine and is proved."""
    bad, fine = (branch_cost(engine, given, ends, then * p) for p in (shows, 1.0 - shows))
    is_dirty = float((then * (1.0 - shows))[ends.any(axis=1)].sum())
    p_bad, p_fine = float(then @ shows), float(then @ (1.0 - shows))
    stop = float((then * (1.0 - shows)) @ engine.stop_open)
    proved = 300.0 * p_fine + given.comeback * is_dirty
    return min(bad, p_bad * given.stopping) + min(fine, stop, p_fine * given.replacing, proved)


def branch_cost(engine, given, ends, weights):
    sets = np.bincount(engine.set_of, weights=weights)
    p = sets / weights.sum()
    bits = -sum(each * np.log2(each) for each in p if each > 0.0)
    looked_on = float(weights @ engine.known) + engine.cents_a_bit * weights.sum() * bits
    return min(looked_on, mended_blindly(given, ends, weights))


def mended_blindly(given, ends, weights):
    """World by world: the repairs by chance over cost, proved when done, given up where that is cheapest."""
    cents = [given.actions[CHECKS + n].cents / 0.9 for n in range(FAULTS)] + [300.0]  # the last is the proof
    shows = 1.0 - np.where(ends, 1.0 - given.shows, 1.0).prod(axis=1)
    needs = []
    for world, p in zip(ends, shows, strict=True):
        known = sum(cents[n] for n in range(FAULTS) if world[n]) + 300.0
        stop = min(given.left_broken * p + given.comeback * (world.any() - p), given.replacing)
        needs.append(None if world.any() and known > stop else {n for n in range(FAULTS) if world[n]} or {FAULTS})
    chance = [sum(w for w, own in zip(weights, needs, strict=True) if own and n in own) for n in range(FAULTS + 1)]
    order = sorted(range(FAULTS + 1), key=lambda n: -chance[n] / cents[n])
    costs, spent = [], 0.0
    for place, n in enumerate(order, 1):
        done = set(order[:place])
        left = [w for w, own in zip(weights, needs, strict=True) if own is None or not own <= done - {n}]
        spent += cents[n] * sum(left)
        mended = [w for w, own in zip(weights, needs, strict=True) if own and own <= done]
        proved = 300.0 * sum(
            w for w, own in zip(weights, needs, strict=True) if own and own <= done and FAULTS not in own
        )
        costs.append(spent + proved + given.stopping * (weights.sum() - sum(mended)))
    return min(costs)


def test_repairs_without_looking_are_done_by_chance_over_cost():
    """Faults .5, .3, .2 and repairs for 10, 4, 1 (order 3, 2, 1): .2 x 1 + .3 x 5 + .5 x 15 (worked here)."""
    blind = Blind(
        np.eye(3, dtype=bool), np.array([10.0, 4.0, 1.0]), np.zeros(3, bool), np.zeros(3, bool), 0.0, 0.0, 1e6
    )
    assert blind.cost(np.array([[0.5], [0.3], [0.2]]), np.arange(3))[0] == pytest.approx(
        0.2 * 1.0 + 0.3 * 5.0 + 0.5 * 15.0
    )


def test_repairs_without_looking_end_where_giving_up_is_cheaper():
    """Faults .9 and .1, repairs for 1 and 100, giving up costs 20: the second repair is not tried (worked here)."""
    blind = Blind(np.eye(2, dtype=bool), np.array([1.0, 100.0]), np.zeros(2, bool), np.zeros(2, bool), 0.0, 0.0, 20.0)
    assert blind.cost(np.array([[0.9], [0.1]]), np.arange(2))[0] == pytest.approx(1.0 + 0.1 * 20.0)


def test_another_start_is_the_credit_of_one_check_alone():
    given = situation(3)
    again = given.actions[0].tells
    same = tuple(replace(given.actions[0], id=f"same{n}", cents=given.actions[0].cents + n) for n in (1.0, 2.0))
    given = replace(given, actions=(*given.actions, *same))
    plain, once = values(given), values(given, again=again, starts={"c0", "same1.0", "same2.0"})
    assert plain["same1.0"] == pytest.approx(plain["c0"])
    assert once["c0"] == pytest.approx(plain["c0"])
    assert once["same1.0"] == pytest.approx(0.0, abs=1e-6)
    assert all(once[f"c{n}"] == pytest.approx(plain[f"c{n}"]) for n in range(1, CHECKS))


def single(p, costs, *, extra=(), cures=None, openings=(), places=None):
    """A situation with one fault for sure, and a repair for each."""
    faults = len(p)
    cures = np.eye(faults) if cures is None else cures
    places = places or [""] * len(costs)
    repairs = [
        Action(f"r{n}", cost, at, True, cures=row)
        for n, (cost, row, at) in enumerate(zip(costs, cures, places, strict=True))
    ]
    given = Situation(
        np.array(p), np.eye(faults, dtype=bool), (*repairs, *extra), comeback=1e6, openings=tuple(openings)
    )
    ends = np.vstack([np.eye(faults, dtype=bool), np.zeros(faults, dtype=bool)])
    after = {f"r{n}": np.where(row > 0.0, faults, np.arange(faults)) for n, row in enumerate(cures)}
    return rank_by_thumb(Thumb(given, after, ends=ends))


def test_half_split_of_a_chain():
    """Four parts in a row, .4 .3 .2 .1, a test of equal price between each: the one after the first comes first."""
    checks = [
        Action(f"after{n + 1}", 100.0, tells=np.array([[1.0, 0.0] if k <= n else [0.0, 1.0] for k in range(4)]))
        for n in range(3)
    ]
    ranking = single((0.4, 0.3, 0.2, 0.1), (2000.0,) * 4, extra=checks)
    checked = [each.id for each in ranking.ranked if each.id.startswith("after")]
    assert checked[0] == "after1"
    assert checked[-1] == "after3"


def test_a_perfect_test_comes_before_a_dear_repair():
    """Faults .6 and .4, repairs 100 and 50, a perfect test for 10: test first, 90 against 110."""
    test = Action("test", 10_00.0, tells=np.eye(2))
    ranking = single((0.6, 0.4), (100_00.0, 50_00.0), extra=[test])
    assert next(each.id for each in ranking.ranked if each.id not in (HAND_BACK,)) == "test"


def test_what_comes_first_after_a_perfect_test_is_the_repair_of_what_it_showed():
    test = Action("test", 10_00.0, tells=np.eye(2))
    repairs = [Action(f"r{n}", cost, "", True, cures=np.eye(2)[n]) for n, cost in enumerate((100_00.0, 50_00.0))]
    given = Situation(np.array([0.6, 0.4]), np.eye(2, dtype=bool), (*repairs, test), comeback=1e6)
    ends = np.vstack([np.eye(2, dtype=bool), np.zeros(2, dtype=bool)])
    engine = Thumb(given, {"r0": np.array([2, 1]), "r1": np.array([0, 2])}, ends=ends)
    found = firsts_after(engine, rank_by_thumb(engine), "test")
    assert found == ((pytest.approx(0.6), "r0"), (pytest.approx(0.4), "r1"))
