"""The tables behind what a reading may come to, held against plain loops over every draw."""

import itertools
import math

import numpy as np
import pytest
from folding import BOOK
from hypothesis import given
from hypothesis import strategies as st

from halfsplit.job.act_tables import ActTableMaker, EffectNumbers
from halfsplit.job.acts import StateActs
from halfsplit.job.cells import Cells, Present, Roots
from halfsplit.job.effects import Effects, joint_draw
from halfsplit.job.eyes import Eyes
from halfsplit.job.findings import RunSeen
from halfsplit.job.pictures import picture
from halfsplit.job.roots import Plan, State
from halfsplit.job.scale_views import ScaleView, tell_scales
from halfsplit.job.totals import Groups, Spreader, spread
from halfsplit.model.evidence import NOTHING, Acts, Effect, Evidence, Root, SignAsked
from halfsplit.model.faults import Pattern
from halfsplit.model.ladder import NO_STOP

SIGNS = (SignAsked(0, 0, 1.0, 0.0), SignAsked(70, 3, 1.0, 0.0))
EFFECTS = st.builds(
    Effect,
    st.sampled_from([1, 4, NO_STOP]),
    st.sampled_from([0, 1, 1 << 70, 1 | 1 << 70, 1 << 5]),
    st.sampled_from([0, 1, 1 << 70]),
)


@st.composite
def draws(draw):
    effects = draw(st.lists(EFFECTS, min_size=1, max_size=3, unique=True))
    parts = draw(st.lists(st.integers(1, 9), min_size=len(effects) + 1, max_size=len(effects) + 1))
    return tuple((part / sum(parts), effect) for part, effect in zip(parts, effects, strict=False))


def state(name: str, share: float) -> State:
    return State(name, "fault", Pattern(name, share, ()), share, frozenset())


def plan(name: str, *states: str, p: float = 0.5) -> Plan:
    return Plan(name, None, name, {}, tuple(state(each, 1 / len(states)) for each in states), p)


def root(name: str, *states: str) -> Root:
    return Root(name, ("absent", *states), np.full(len(states) + 1, 1 / (len(states) + 1)))


@given(draws(), st.lists(draws(), max_size=3))
def test_totals_of_a_group_are_those_of_all_its_draws_taken_one_by_one(whole, members):
    numbering = EffectNumbers(80)
    spreader = Spreader(SIGNS, numbering)
    numbers = []
    for draw in (whole, *members):
        codes = spreader.codes(np.array([numbering.number(effect) for _, effect in draw], dtype=np.int64))
        numbers.append(spreader.add(codes, np.array([p for p, _ in draw]), np.array([len(draw)])))
    table = np.array([[*numbers[1:], -1]], dtype=np.int64)
    (totals,) = spread([Groups(spreader, numbers[0], table)])
    found: dict[tuple[int, tuple[bool, ...]], float] = {}
    for stop, bits, p in zip(*(each.tolist() for each in (*spreader.seen(totals.code), totals.p)), strict=True):
        key = (stop, tuple(bool(bits >> place & 1) for place in range(len(SIGNS))))
        found[key] = found.get(key, 0.0) + p
    asked: dict[tuple[int, tuple[bool, ...]], float] = {}
    for p, total in joint_draw([whole, *members]):
        key = (total.stop, tuple(sign.is_visible(total) for sign in SIGNS))
        asked[key] = asked.get(key, 0.0) + p
    assert {key for key, p in found.items() if p > 1e-4} <= asked.keys()
    for key, p in asked.items():
        assert found.get(key, 0.0) == pytest.approx(p, abs=1e-3)


def test_runs_have_the_same_number_where_they_look_the_same():
    effects = Effects(BOOK)
    proving, *others = sorted(BOOK.signs, key=lambda name: not BOOK.signs[name].proves)
    asks = (proving, picture("card", "self_test"), others[-1], picture("card", "system"))
    eyes = Eyes(effects, asks, 10.0)
    stops, visible = (each.ravel() for each in np.meshgrid([stop for stop, *_ in effects.stops] + [NO_STOP], range(16)))
    numbers = eyes.numbers(stops, visible)
    numbered: dict[int, RunSeen] = {}
    for stop, bits, number in zip(stops.tolist(), visible.tolist(), numbers.tolist(), strict=True):
        seen = eyes.seen(stop, [bool(bits >> place & 1) for place in range(4)])
        assert eyes.of_number(number) == seen
        assert numbered.setdefault(number, seen) == seen
    assert len(set(numbered.values())) == len(numbered) > 20


def acts_of(*draws_: tuple[tuple[float, Effect], ...] | None) -> StateActs:
    return tuple(None if draw is None else Acts(draw) for draw in draws_)


@given(draws(), draws(), st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_after_work_a_state_does_what_the_state_it_turns_into_does(first, second, stays, goes):
    cells, numbering = Cells(), EffectNumbers(80)
    moved, other = plan("moved", "a", "b"), plan("other", "c")
    for each in (moved, other):
        cells.add(each)
    acts = {id(moved): (moved, acts_of(None, first, second)), id(other): (other, acts_of(None, first))}
    matrix = np.array([[1.0, 0.0, 0.0], [1.0 - stays, stays, 0.0], [0.0, 1.0 - goes, goes]])
    table = ActTableMaker(cells, numbering).table(acts).moved({id(moved): matrix}, cells)
    every = {numbering.number(effect): effect for _, effect in (*first, *second)}
    found: dict[tuple[int, Effect], float] = {}
    for cell, effect, p in zip(table.cell.tolist(), table.effect.tolist(), table.p.tolist(), strict=True):
        found[cell, every[effect]] = found.get((cell, every[effect]), 0.0) + p
    asked = {(cells.first(id(other)) + 1, effect): p for p, effect in first}
    at = cells.first(id(moved))
    for row in range(3):
        for into, draw in ((1, first), (2, second)):
            for p, effect in draw:
                asked[at + row, effect] = asked.get((at + row, effect), 0.0) + matrix[row, into] * p
    assert found == {key: pytest.approx(p) for key, p in asked.items() if p > 0.0}


LEVELS = st.sampled_from([0, 1, 2, NO_STOP])
SHOWN = st.lists(st.tuples(st.integers(1, 9), LEVELS), min_size=1, max_size=3, unique_by=lambda each: each[1])


def worst_level(shown, levels: int) -> np.ndarray:
    """Return P(worst level) for independent draws of levels, the last for none of them, by going through them all."""
    found = np.zeros(levels + 1)
    for ways in itertools.product(*shown):
        level = min((level for _, level in ways), default=NO_STOP)
        found[min(level, levels)] += math.prod(p for p, _ in ways)
    return found


@given(st.lists(SHOWN, min_size=4, max_size=4), st.lists(st.integers(0, 3), min_size=1, max_size=4), st.floats(0, 1))
def test_looks_of_any_number_of_levels_tell_together_what_each_world_shows(shown, levels, p_lent):
    cells, numbering = Cells(), EffectNumbers(80)
    one, two, lent = plan("one", "a", "b"), plan("two", "c"), plan("lent", "d", p=p_lent)
    for each in (one, two, lent):
        cells.add(each)
    draws_ = [tuple((part / sum(p for p, _ in own), level) for part, level in own) for own in shown]
    acts = [Acts(tuple((p, Effect(level)) for p, level in own)) for own in draws_]
    table = ActTableMaker(cells, numbering).table(
        {
            id(one): (one, (None, acts[0], acts[1])),
            id(two): (two, (None, acts[2])),
            id(lent): (lent, (None, acts[3])),
        }
    )
    roots = Roots(Evidence((), (root("one", "a", "b"), root("two", "c")), ()))
    placed = cells.place((one, two, lent), roots)
    worlds = np.array([[0, 0], [1, 0], [2, 0], [0, 1], [1, 1], [2, 1]])
    present = Present(worlds, np.arange(1, 7) / 21, placed)
    views = []
    for many in levels:
        says = np.eye(many + 1) * 0.9 + 0.1 / (many + 1)
        view = ScaleView(cells, numbering, tuple(f"word {n}" for n in range(many + 1)), says)
        view.place(table, lambda: table, placed)
        views.append(view)
    sometimes = ((1.0 - p_lent, NO_STOP), *((p_lent * p, level) for p, level in draws_[3]))
    for view, (names, tells) in zip(views, tell_scales(views, present), strict=True):
        assert names == view.results
        for world, told in zip(worlds.tolist(), tells, strict=True):
            there = [draws_[world[0] - 1]] * (world[0] > 0) + [draws_[2]] * (world[1] > 0) + [sometimes]
            assert told == pytest.approx(worst_level(there, view.levels) @ view.says)


def test_a_root_has_its_cell_where_its_state_is_named_alike_and_what_is_not_weighed_is_as_it_starts():
    cells = Cells()
    weighed, lent = plan("weighed", "a", "b", "c"), plan("lent", "d", p=0.2)
    for each in (lent, weighed):
        cells.add(each)
    roots = Roots(Evidence((), (root("weighed", "b", "a"),), ()))
    placed = cells.place((weighed, lent), roots)
    first = cells.first(id(weighed))
    assert placed.cell.tolist() == [[0, first + 2, first + 1]]
    lent_at = cells.first(id(lent))
    assert placed.p_fresh(np.array([lent_at, lent_at + 1, first, first + 1])).tolist() == pytest.approx(
        [0.8, 0.2, 1, 0]
    )
    assert placed.p_fresh(np.array([cells.total + 5])).tolist() == [0.0]
    assert cells.owners(np.array([first + 3, lent_at + 1])).tolist() == [first, lent_at]
    present = Present(np.array([[0], [1]]), np.array([0.25, 0.75]), placed)
    assert present.cell.tolist() == [0, 0, first + 2]
    assert present.p_cell_of(np.array([first + 2, first + 1, 0])).tolist() == [0.75, 0.0, 0.0]


def test_effects_are_numbered_once_and_their_tables_grow():
    numbering = EffectNumbers(80)
    assert numbering.number(NOTHING) == 0
    assert numbering.number(Effect(4, 1 << 70, 2)) == 1
    stop, shown, hidden = numbering.tables()
    assert (stop.tolist(), shown[1].nonzero()[0].tolist(), hidden[1].nonzero()[0].tolist()) == ([NO_STOP, 4], [70], [1])
    assert numbering.number(Effect(4, 1 << 70, 2)) == 1
    numbering.number(Effect(2))
    assert numbering.tables()[0].tolist() == [NO_STOP, 4, 2]
