"""What checks would show and repairs would do, held against literal enumeration of all that the faults may do."""

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from small_book import SMALL_BOOK, by_id

from halfsplit.infer import compile_readings, weigh_compiled
from halfsplit.job.asked import placed_entries
from halfsplit.job.changes import Course
from halfsplit.job.conditions import FactsMaker, p_holds
from halfsplit.job.effects import Effects
from halfsplit.job.eyes import Eyes
from halfsplit.job.findings import INSIDE, OTHER
from halfsplit.job.fold import fold_job
from halfsplit.job.foresight import Foresight
from halfsplit.job.kept import Kept
from halfsplit.job.moments import Walker
from halfsplit.job.moves import MoveMaker
from halfsplit.job.outlook import look_out
from halfsplit.job.pictures import STAGES, picture
from halfsplit.job.plans import Plans
from halfsplit.job.reports import UNTOLD_MINUTES
from halfsplit.job.roots import plan_roots
from halfsplit.job.units import OWNER, Gatherer
from halfsplit.job.worlds import Worlds
from halfsplit.job.wrong_taps import P_MISNOTED, P_MISTAPPED
from halfsplit.model.bench import Check, Forced, Minutes, Opening, Sign
from halfsplit.model.faults import ALWAYS, Act, Cure, Ending, Fault, Looks, Pattern, Reads, Strength, When
from halfsplit.model.job import Job, RepairDone, Run, Seen
from halfsplit.model.ladder import NO_STOP
from halfsplit.model.machine import PartKind
from halfsplit.model.rates import Rates

BENCH_REPAIRS = ("reseat_memory", "replace_supply", "reseat_card_plug")


def strength(p):
    return Strength(p, 0.0)


def act(q, when=ALWAYS, **ending):
    return Act(strength(q), (Ending(**ending),), when)


def check(name, kind="run", **rest):
    return Check(name, name.replace("_", " "), kind, rest.pop("opening", ""), Minutes(1.0, 1.0), (), **rest)


FAULTS = by_id(
    Fault(
        "supply_dead",
        "supply dead",
        ("supply",),
        strength(0.1),
        (
            Pattern("always", 0.6, (act(1.0, not_reached="starts"),)),
            Pattern("at_times", 0.4, (act(0.4, not_reached="starts", kind="cuts_out"),)),
        ),
        cures=(Cure("replace_supply", strength(0.95)),),
    ),
    Fault(
        "supply_low",
        "supply gives too little",
        ("supply",),
        strength(0.08),
        (
            Pattern(
                "low",
                1.0,
                (act(0.5, When(load=("card",)), seconds=20.0, kind="resets"),),
                reads=(Reads("rail_12v", "low", strength(0.7)),),
            ),
        ),
    ),
    Fault(
        "memory_bad",
        "module bad",
        ("memory",),
        strength(0.05),
        (Pattern("dead", 1.0, (act(0.9, not_reached="memory_passes", shows=("beep",)),)),),
    ),
    Fault(
        "seat_loose",
        "module not home",
        ("memory_seat",),
        strength(0.05),
        (
            Pattern(
                "loose",
                1.0,
                (act(0.8, not_reached="memory_passes", shows=("beep",)),),
                looks=(Looks("memory_seat", "half_in", strength(0.9)),),
            ),
        ),
        cures=(Cure("reseat_memory", strength(0.9), strength(0.01)),),
        made_by={"side_panel": strength(0.05)},
    ),
    Fault(
        "plug_half_in",
        "card plug half in",
        ("card_power_plug",),
        strength(0.06),
        (
            Pattern(
                "half",
                1.0,
                (act(0.7, dark=("used",)),),
                looks=(Looks("card_power_plug", "half_in", strength(0.8)),),
            ),
        ),
        cures=(Cure("reseat_card_plug", strength(0.98)),),
    ),
    Fault(
        "board_mute",
        "board mute",
        ("board",),
        strength(0.04),
        (Pattern("mute", 1.0, (act(0.6, hides=("beep", "stripes")),)),),
    ),
    Fault(
        "board_latched",
        "board latched off",
        ("board",),
        strength(0.04),
        (Pattern("latched", 1.0, (act(0.9, not_reached="starts"),)),),
        cures=(Cure("power_cycle", strength(0.9)),),
    ),
    Fault(
        "card_stripes",
        "stripes",
        ("card",),
        strength(0.04),
        (Pattern("stripes", 1.0, (act(0.5, shows=("stripes",)),)),),
    ),
)

BOOK = replace(
    SMALL_BOOK,
    hash="foreseen",
    kinds={**SMALL_BOOK.kinds, **by_id(PartKind("monitor", "monitor", outside=True))},
    signs={
        **SMALL_BOOK.signs,
        **by_id(Sign("light", "power light", "standby_power", "standby_power", is_on=True)),
    },
    forced=(Forced(When(lacks=("memory",)), strength(1.0), (Ending(not_reached="memory_passes", shows=("beep",)),)),),
    faults=FAULTS,
    openings=by_id(Opening("side_panel", "side panel off", "", 1, 1, disturbs={"memory_seat": strength(0.05)})),
    checks=by_id(
        check("start_it", asks=("beep", "light", "stop")),
        check("watch_picture", asks=("stripes", "stop")),
        check("load_card", asks=("stop",), conditions={"load": "card", "minutes": "2"}),
        check("memory_out", asks=("beep", "stop"), setup={"memory": "out"}, opening="side_panel"),
        check("other_supply", asks=("light", "stop"), setup={"supply": "shelf"}, shelf=("supply",)),
        check("seat_look", "inspect", asks=("memory_seat",), tools=("torch",), opening="side_panel"),
        check("plug_look", "inspect", asks=("card_power_plug",), tools=("torch",)),
        check("rail", "measure", asks=("rail_12v",)),
        check("run_and_rail", asks=("stop", "rail_12v")),
    ),
    repairs={name: SMALL_BOOK.repairs[name] for name in SMALL_BOOK.repairs if name in BENCH_REPAIRS},
)
LOG = (Run("first", seen=Seen(not_reached="log_in")),)


class Literal:
    """A check's readings drawn literally: every root's state after the work, every outcome, one by one."""

    def __init__(self, job):
        self.gatherer = Gatherer(BOOK, BOOK.joints)
        self.walker = Walker(job, BOOK, self.gatherer, [])
        moments = [self.walker.step(2 * n, entry) for n, entry in enumerate(job.log, 1)]
        moments.append(self.walker.put_back(2 * len(job.log) + 2))
        self.moments, self.job = moments, job
        self.effects, self.facts = Effects(BOOK), FactsMaker(BOOK)

    def steps(self, name):
        aside = self.walker.aside()
        entries = placed_entries(BOOK.checks[name], self.walker.standing[OWNER], BOOK)
        steps = [aside.step(100 + n, entry) for n, entry in enumerate(entries)]
        course = Course(self.walker.intake, (*self.moments, *steps), self.walker.standing)
        return steps, plan_roots(BOOK, course, self.gatherer, {})

    def states(self, plans, world, moved):
        """Each plan with the chances of its states when the reading is made."""
        for plan in plans:
            size = 1 + len(plan.states)
            if plan.id in world:
                start = np.eye(size)[world[plan.id]]
            else:
                start = np.array([1.0 - plan.p, *(plan.p * state.share for state in plan.states)])
            yield plan, start @ moved.get(plan.id, np.eye(size))

    def moved(self, plans, steps):
        found = {}
        for step in steps:
            for name, moves in MoveMaker(BOOK, Plans(plans)).moves([step], frozenset()).items():
                found[name] = found.get(name, np.eye(len(moves[0].matrix))) @ moves[0].matrix
        return found

    def run(self, step, plans, world, moved, asks):
        facts = self.facts.facts(step.together, step.entry.conditions, lead_out=step.lead_out)
        shown = [sign for sign in BOOK.signs if BOOK.signs[sign].is_on]
        shown += [picture(out, stage) for out in facts.used if BOOK.outputs[out].part in facts.has for stage in STAGES]
        totals = {(NO_STOP, self.effects.mask(shown), 0): 1.0}
        draws = [
            [
                (p_holds(each.when, facts) * each.q.p * share, effect)
                for share, effect in self.effects.draw(each.endings, facts)
            ]
            for each in BOOK.forced
        ]
        for plan, chances in self.states(plans, world, moved):
            ways = []
            for state, p in zip(plan.states, chances[1:], strict=True):
                if plan.present(step.together.footholds) and state.pattern.acts:
                    (one,) = state.pattern.acts
                    p_act = p * one.q.p * p_holds(one.when, facts)
                    ways += [(p_act * share, effect) for share, effect in self.effects.draw(one.endings, facts)]
            draws.append(ways)
        for ways in draws:
            rest = 1.0 - sum(p for p, _ in ways)
            after = {}
            for (stop, on, off), p in totals.items():
                after[stop, on, off] = after.get((stop, on, off), 0.0) + p * rest
                for share, effect in ways:
                    key = (min(stop, effect.stop), on | effect.shown, off | effect.hidden)
                    after[key] = after.get(key, 0.0) + p * share
            totals = after
        eyes = Eyes(self.effects, asks, step.entry.conditions.minutes or UNTOLD_MINUTES)
        found = {}
        for (stop, on, off), p in totals.items():
            if p > 0.0:
                seen = eyes.seen(stop, [self.sees(ask, facts, stop, on & ~off) for ask in asks])
                found[seen] = found.get(seen, 0.0) + p
        return found

    def sees(self, ask, facts, stop, lit):
        if not lit >> self.effects.bit[ask] & 1 or stop < self.effects.needs[ask]:
            return False
        if ask in BOOK.signs and BOOK.signs[ask].on_screen:
            screens = [picture(out, stage) for out in facts.used for stage in STAGES]
            return any(self.sees(screen, facts, stop, lit) for screen in screens)
        return True

    def look(self, step, plans, world, moved):
        what = step.entry.what.partition(".")[0]
        inspection, h = BOOK.inspections[what], BOOK.tools[step.entry.tool].reach
        p_fine, catch = 1.0, None
        for plan, chances in self.states(plans, world, moved):
            for state, p in zip(plan.states, chances[1:], strict=True):
                for look in state.pattern.looks:
                    if look.inspection == what and plan.all_footholds & step.looked_at:
                        p_fine, catch = p_fine * (1.0 - p), (look.word, look.catch.p)
        alarm = inspection.false_alarm.p
        words = inspection.seen
        fine = {word: 1.0 - alarm if word == words[-1] else alarm / (len(words) - 1) for word in words}
        if catch is None:
            return fine
        slips = 0.02 if len(words) > 2 else 0.0
        found = {word: slips / max(1, len(words) - 2) for word in words}
        found[catch[0]], found[words[-1]] = catch[1], 1.0 - catch[1] - slips
        there = {word: h * found[word] + (1.0 - h) * fine[word] for word in words}
        there = {word: p / sum(there.values()) for word, p in there.items()}
        said = {word: p_fine * fine[word] + (1.0 - p_fine) * there[word] for word in words}
        others = len(words) - 1
        return {word: (1.0 - P_MISTAPPED) * p + P_MISTAPPED * (1.0 - p) / others for word, p in said.items()}


@pytest.fixture(scope="module")
def bench():
    job = Job(log=LOG)
    folded = fold_job(job, BOOK)
    roots = folded.evidence.roots
    sizes = [len(root.states) for root in roots]
    rows = [np.zeros(len(roots), dtype=np.int64)]
    for a, b in product(range(len(roots)), repeat=2):
        for states in product(range(1, sizes[a]), range(1, sizes[b])) if a <= b else ():
            row = np.zeros(len(roots), dtype=np.int64)
            row[a], row[b] = states
            rows.append(row)
    states = np.unique(np.array(rows), axis=0)
    weights = np.random.default_rng(5).exponential(size=len(states))
    worlds = Worlds(states, weights / weights.sum())
    return job, folded, worlds, Foresight(job, folded, worlds, Kept(BOOK))


def by_root(folded, row):
    return {root.id: int(state) for root, state in zip(folded.evidence.roots, row, strict=True)}


@pytest.mark.parametrize(
    ("name", "within"),
    [("start_it", 1e-9), ("watch_picture", 1e-9), ("load_card", 1e-9), ("memory_out", 1e-9), ("other_supply", 6e-3)],
)
def test_a_run_shows_what_drawing_it_literally_shows(bench, name, within):
    job, folded, worlds, foresight = bench
    literal = Literal(job)
    steps, plans = literal.steps(name)
    moved = literal.moved(plans, steps)
    seen = foresight.check(BOOK.checks[name])
    asks = [sign for sign in BOOK.checks[name].asks if sign in BOOK.signs]
    asks += [picture(out, stage) for out in steps[0].together.used for stage in STAGES]
    for row, tells in zip(worlds.states, seen.tells, strict=True):
        p = literal.run(steps[0], plans, by_root(folded, row), moved, asks)
        kept = {result for (result,) in seen.results if result != OTHER}
        for (result,), told in zip(seen.results, tells, strict=True):
            right = sum(q for each, q in p.items() if each not in kept) if result == OTHER else p.get(result, 0.0)
            assert told == pytest.approx(right, abs=within)


@pytest.mark.parametrize("name", ["seat_look", "plug_look"])
def test_a_look_shows_what_enumerating_the_levels_shows(bench, name):
    job, folded, worlds, foresight = bench
    literal = Literal(job)
    steps, plans = literal.steps(name)
    seen = foresight.check(BOOK.checks[name])
    assert len(seen.entries) == len(steps)
    for row, tells in zip(worlds.states, seen.tells, strict=True):
        alone = [
            literal.look(step, plans, by_root(folded, row), literal.moved(plans, steps[: n + 1]))
            for n, step in enumerate(steps)
        ]
        for result, told in zip(seen.results, tells, strict=True):
            assert told == pytest.approx(np.prod([p[word] for p, word in zip(alone, result, strict=True)]), abs=1e-9)


def test_a_number_is_low_as_often_as_the_fault_puts_it_there(bench):
    _, folded, worlds, foresight = bench
    seen = foresight.check(BOOK.checks["rail"])
    ids = [root.id for root in folded.evidence.roots]
    low, dead, latched = (ids.index(name) for name in ("supply_low", "supply_dead", "board_latched"))
    for row, tells in zip(worlds.states, seen.tells, strict=True):
        p = dict(zip([result for (result,) in seen.results], tells, strict=True))
        # a machine that does not start has no such rail
        p_off = 1.0 - (1.0, 0.0, 0.6)[row[dead]] * (1.0, 0.1)[row[latched]]
        p_low = (1.0 - p_off) * 0.7 * bool(row[low])
        assert p["absent"] == pytest.approx(p_off * (1.0 - P_MISNOTED), abs=1e-9)
        assert p["low"] == pytest.approx(p_low * (1.0 - P_MISNOTED), abs=1e-9)
        assert p[INSIDE] == pytest.approx(1.0 - (p_off + p_low) * (1.0 - P_MISNOTED), abs=1e-9)


def test_every_row_adds_up_to_one_and_no_chance_lies_outside(bench):
    *_, foresight = bench
    for each in BOOK.checks.values():
        tells = foresight.check(each).tells
        assert tells.min() >= 0.0
        assert np.abs(tells.sum(axis=1) - 1.0).max() < 1e-12


def test_what_was_kept_changes_no_answer(bench):
    job, folded, worlds, _ = bench
    kept = Kept(BOOK)
    other = Worlds(worlds.states[::2], worlds.weights[::2] / worlds.weights[::2].sum())
    Foresight(job, folded, other, kept).check(BOOK.checks["start_it"])
    for each in BOOK.checks.values():
        cold = Foresight(job, folded, worlds, Kept(BOOK)).check(each)
        warm = Foresight(job, folded, worlds, kept).check(each)
        assert warm.results == cold.results
        assert np.abs(warm.tells - cold.tells).max() < 1e-12


def test_a_repair_takes_away_what_its_matrix_takes_away(bench):
    job, _, _, foresight = bench
    literal = Literal(job)
    for name, number, root in [
        ("reseat_memory", ".1", "seat_loose@memory.1"),
        ("reseat_memory", ".2", "seat_loose@memory.2"),
        ("reseat_card_plug", "", "plug_half_in"),
    ]:
        repair = BOOK.repairs[name]
        step = literal.walker.aside().step(100, RepairDone("repair", do=name, to=repair.at + number))
        plans = plan_roots(
            BOOK, Course(literal.walker.intake, (*literal.moments, step), literal.walker.standing), literal.gatherer, {}
        )
        matrix = literal.moved(plans, [step])[root]
        mends = foresight.repair(repair, number)
        assert mends.goes[root][1:2] == pytest.approx(matrix[1:2, 0], abs=1e-12)
        assert mends.goes[root][1] > 0.8


def test_a_replacement_takes_all_faults_of_the_part_with_it(bench):
    *_, foresight = bench
    goes = foresight.repair(BOOK.repairs["replace_supply"]).goes
    assert goes["supply_dead"][1:3] == pytest.approx([1.0, 1.0])
    assert goes["supply_low"][1] == pytest.approx(1.0)
    assert "memory_bad@memory.1" not in goes


def test_a_repair_brings_what_the_book_says_its_work_makes(bench):
    job, folded, worlds, _ = bench
    fault = BOOK.faults["supply_low"]
    made = replace(fault, made_by={"reseat_memory": strength(0.2)})
    book = replace(BOOK, faults={**BOOK.faults, "supply_low": made})
    places = {"reseat_memory": ".1", "replace_supply": ""}
    now, then = (
        {name: foresight.repair(each.repairs[name], at).brings for name, at in places.items()}
        for each in (BOOK, book)
        for foresight in (Foresight(job, fold_job(job, each), worlds, Kept(each)),)
    )
    number = [root.id for root in folded.evidence.roots].index("supply_low")
    absent = float(worlds.weights[worlds.states[:, number] == 0].sum())
    assert then["reseat_memory"] - now["reseat_memory"] == pytest.approx(0.2 * absent)
    assert then["replace_supply"] == now["replace_supply"] == 0.0


def test_what_repairs_bring_is_paid_for(bench):
    job, folded, *_ = bench
    posterior = weigh_compiled(compile_readings(folded.evidence))
    rates = [replace(Rates(), mishap=mishap) for mishap in (0.0, 50_00.0)]
    outlooks = [look_out(job, folded, posterior, each, Kept(BOOK), steps=1) for each in rates]
    cents = [{action.id: float(np.mean(action.cents)) for action in outlook.situation.actions} for outlook in outlooks]
    mends = outlooks[0].mends
    assert any(found.brings for found in mends.values())
    for name, found in mends.items():
        assert cents[1][name] - cents[0][name] == pytest.approx(50_00.0 * found.brings)
        assert outlooks[1].risk[name] == pytest.approx(50_00.0 * found.brings)


def test_worlds_are_closed_under_repairs(bench):
    job, folded, *_ = bench
    posterior = weigh_compiled(compile_readings(folded.evidence))
    outlook = look_out(job, folded, posterior, Rates(), Kept(BOOK))
    known = {row.tobytes() for row in outlook.ends}
    assert len(outlook.ends) == len(outlook.situation.weights)
    for name, into in outlook.after.items():
        cures = next(each.cures for each in outlook.situation.actions if each.id == name)
        left = np.where(cures > 0.5, False, outlook.ends)
        assert (outlook.ends[into] == left).all()
        assert all(row.tobytes() in known for row in left)


def test_one_step_knows_the_worlds_that_every_first_repair_makes(bench):
    job, folded, *_ = bench
    posterior = weigh_compiled(compile_readings(folded.evidence))
    outlook = look_out(job, folded, posterior, Rates(), Kept(BOOK), steps=1)
    many = len(outlook.situation.weights)
    assert len(outlook.ends) > many
    for name, into in outlook.after.items():
        cures = next(each.cures for each in outlook.situation.actions if each.id == name)
        assert (outlook.ends[into] == np.where(cures > 0.5, False, outlook.ends[:many])).all()


def test_a_machine_that_cannot_start_tells_nothing_of_what_lies_above(bench):
    job, folded, worlds, _ = bench
    dead = [root.id for root in folded.evidence.roots].index("supply_dead")
    states = worlds.states.copy()
    states[:, dead] = 1
    foresight = Foresight(job, folded, Worlds(states, worlds.weights), Kept(BOOK))
    for name in ("start_it", "watch_picture", "load_card"):
        tells = foresight.check(BOOK.checks[name]).tells
        assert np.abs(tells - tells[0]).max() < 1e-12


def test_a_swap_says_what_it_may_have_changed_besides(bench):
    job, folded, worlds, _ = bench
    latched = [root.id for root in folded.evidence.roots].index("board_latched")
    states = worlds.states[worlds.states[:, latched] > 0]
    foresight = Foresight(job, folded, Worlds(states, np.full(len(states), 1.0 / len(states))), Kept(BOOK))
    assert foresight.check(BOOK.checks["other_supply"]).muddles[0] == "board_latched"  # the lead is out for the swap
    assert "board_latched" not in foresight.check(BOOK.checks["start_it"]).muddles
    assert foresight.check(BOOK.checks["plug_look"]).muddles == ()
    never = Foresight(job, folded, Worlds(np.zeros_like(states[:1]), np.ones(1)), Kept(BOOK))
    assert never.check(BOOK.checks["other_supply"]).muddles == ()
