"""A job is judged by what is truly wrong; a lie is one entry; the drawn truth errs as often as its settings say."""

from dataclasses import fields, is_dataclass, replace

import numpy as np
import pytest

from halfsplit.book import shipped_book
from halfsplit.model.faults import Strength
from halfsplit.model.job import YES, Inspect, Run
from halfsplit.simulate import Drawing, Task, draw_machine
from halfsplit.simulate.benches import Bench
from halfsplit.simulate.judged import do_again, do_random_checks, judge, with_one_lie
from halfsplit.simulate.machines import ASKED, _Drawer
from halfsplit.simulate.truths import MOVED, move_book, tell_with_slips

BOOK = shipped_book()
HONEST = Drawing(is_book=True, slips=0.0, taps=0.0)
CHECKS = 4


@pytest.fixture(scope="module")
def bench():
    drawn = Task(5, 31, drawing=HONEST).draw(1)
    return do_random_checks(drawn, CHECKS, np.random.default_rng(31))


def test_random_checks_are_different_ones_and_the_same_for_the_same_seed(bench):
    names = [found.check for found in bench.found]
    assert len(set(names)) == CHECKS
    again = do_random_checks(bench.drawn, CHECKS, np.random.default_rng(31))
    assert (again.job, again.world.states) == (bench.job, bench.world.states)
    assert do_random_checks(bench.drawn, CHECKS, np.random.default_rng(32)).found != bench.found


def test_what_is_claimed_is_set_beside_what_is_there(bench):
    judged = judge(bench)
    assert judged.there
    assert judged.there <= bench.world.states.keys()
    assert {*judged.causes} == {*bench.world.left()}
    assert not judged.unknown  # the truth is the book
    assert all(0.0 <= p <= 1.0 for p in judged.claims.values())
    assert not any(BOOK.faults[root.partition("@")[0]].base.p > 0.5 for root in judged.claims)
    assert judged.has_cause_within(len(judged.claims))


def test_a_cause_that_the_book_does_not_have_is_named_and_scored_with_nothing(bench):
    cause = bench.world.left()[0]
    fault = bench.world.plans[cause].fault.id
    faults = {name: each for name, each in BOOK.faults.items() if name != fault}
    bench = do_random_checks(replace(bench.drawn, book=replace(BOOK, faults=faults)), 1, np.random.default_rng(1))
    judged = judge(bench)
    assert judged.unknown == {cause}
    assert judged.causes[cause] == 0.0


def test_a_lie_is_one_entry_that_says_what_another_machine_showed(bench):
    other = do_again(bench.drawn, bench, {"outlet_dead": "dead"})
    assert [entry.id for entry in other.job.log] == [entry.id for entry in bench.job.log]
    job, name = with_one_lie(bench.job, other.job, np.random.default_rng(1))
    assert name
    changed = [new for new, old in zip(job.log, bench.job.log, strict=True) if new != old]
    assert [entry.id for entry in changed] == [name]
    assert with_one_lie(bench.job, bench.job, np.random.default_rng(1)) == (bench.job, "")


def strengths(noun):
    """Every number with a basis, wherever it stands."""
    if isinstance(noun, Strength):
        yield noun
    elif isinstance(noun, dict) or hasattr(noun, "values"):
        for each in noun.values():
            yield from strengths(each)
    elif isinstance(noun, tuple):
        for each in noun:
            yield from strengths(each)
    elif is_dataclass(noun):
        for each in fields(noun):
            yield from strengths(getattr(noun, each.name))


def test_every_number_moves_by_its_own_spread_and_one_strength_word_as_one_draw_in_all_chapters():
    moved = move_book(BOOK, np.random.default_rng(12))
    draws = {}
    for chapter in MOVED:
        for old, new in zip(strengths(getattr(BOOK, chapter)), strengths(getattr(moved, chapter)), strict=True):
            if 0.0 < old.p < 1.0 and old.spread:
                step = np.log(new.p / (1 - new.p)) - np.log(old.p / (1 - old.p))
                draws.setdefault(old.word, []).append(step / old.spread)
    own = draws.pop("")
    assert len(own) > 300
    assert np.std(own) == pytest.approx(1.0, abs=0.15)
    assert np.mean(own) == pytest.approx(0.0, abs=0.2)
    assert len(draws) >= 5
    assert all(np.ptp(each) < 1e-6 for each in draws.values())  # however many numbers say the word


@pytest.mark.parametrize("slips", [0.0, 0.1])
def test_owners_slip_as_often_as_they_are_set_to(slips):
    drawn = draw_machine(BOOK, "nothing_happens", (5, 5))
    truth = tell_with_slips(BOOK, slips)
    drawer = _Drawer(replace(drawn.whole, complaint="nothing_happens"), truth, np.random.default_rng(3))
    total = drawer.brought_in("nothing_happens")[1]
    names = ASKED["nothing_happens"]
    told = [drawer.statements("nothing_happens", total, slips) for _ in range(600)]
    said = np.array([[next(iter(one.seen.signs.values())) == YES for one in each] for each in told])
    assert said.shape[1] == len(names)
    wrong = np.minimum(said.mean(axis=0), 1.0 - said.mean(axis=0))
    assert wrong == pytest.approx(slips, abs=4.0 * (slips * (1.0 - slips) / 600) ** 0.5)
    assert {event.p_true for event in truth.events.values()} == {1.0 - slips}


def test_the_bench_taps_wrong_as_often_as_it_is_set_to():
    drawn = Task(5, 33, drawing=HONEST).draw(1)
    names = [found.check for found in do_random_checks(drawn, 8, np.random.default_rng(2)).found]

    def entered(seed, taps):
        bench = Bench(replace(drawn, seed=(seed, 1), taps=taps))
        for name in names:
            bench.check(name, BOOK.checks[name].asks)
        looks = [entry for entry in bench.job.log if isinstance(entry, Run | Inspect)]
        return [entry for entry in looks if not isinstance(entry, Run) or entry.seen.signs or entry.seen.picture]

    wrong = []
    for seed in range(5):  # by the same seed the machine shows the same, whatever is tapped
        wrong += [one != two for one, two in zip(entered(seed, 0.0), entered(seed, 0.5), strict=True)]
    assert len(wrong) > 20
    assert np.mean(wrong) == pytest.approx(0.5, abs=4.0 * (0.5 * 0.5 / len(wrong)) ** 0.5)
    assert all(one != two for one, two in zip(entered(1, 0.0), entered(1, 1.0), strict=True))
