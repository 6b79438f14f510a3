"""Policies on drawn machines: they end, play the same twice, and pay for what they do; suspicions are honest."""

import os
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest

from halfsplit.book import shipped_book
from halfsplit.errors import UsageError
from halfsplit.infer import compile_readings, weigh_compiled
from halfsplit.job.advise import advise
from halfsplit.job.done import is_failed
from halfsplit.job.fold import fold_job
from halfsplit.model.job import Correct, Run
from halfsplit.simulate import POLICIES, Drawing, Task, draw_machine, mean_cents, of_policy, play_all
from halfsplit.simulate.advised import MOST_WITHDRAWN, follow
from halfsplit.simulate.benches import HANDED_BACK, PROVEN, REPLACED, Bench
from halfsplit.simulate.playing import ADVICE, MOST_STEPS, ROUTINE

BOOK = shipped_book()
CLASSES = tuple(BOOK.complaints)
HONEST = Drawing(is_book=True, slips=0.0, taps=0.0)
QUICK = (ROUTINE, "swap")
MACHINES = 3


@pytest.fixture(scope="module")
def played():
    return play_all(Task(MACHINES, 7, QUICK))


def repair_what_is_wrong(bench):
    """Repair every fault that there truly is by its surest repair, and prove it."""
    for _ in range(6):
        for name in bench.world.left():
            fault = bench.world.plans[name].fault
            cures = sorted(fault.cures if fault else (), key=lambda c: (-c.goes.p, bench.cost(c.repair)))
            number = name.partition("@")[2].partition(":")[0]
            for cure in cures:
                places = bench.places(bench.book.repairs[cure.repair])
                mine = [at for at in places if "." not in at or not number or at.endswith(number[-2:])]
                if mine:
                    bench.repair(cure.repair, mine[0])
                    break
        if bench.prove():
            return
    bench.hand_back()


def test_every_policy_is_named_and_these_end_on_every_machine(played):
    assert {*QUICK} < {*POLICIES}
    assert len(played) == MACHINES * len(QUICK)
    assert {each.ended for each in played} <= {PROVEN, HANDED_BACK, REPLACED}
    assert all(each.path[-1] == each.ended for each in played)
    assert all(len(each.path) < 4 * MOST_STEPS for each in played)


def test_the_bill_adds_up_and_needless_parts_are_among_those_bought(played):
    for each in played:
        assert each.cents == pytest.approx(each.time + each.parts + each.damage + each.end)
        assert 0 <= each.needless <= each.replaced
        assert each.time > 0.0
        assert each.end > 0.0 or not each.left or each.ended == REPLACED


def test_the_same_seed_plays_the_same_in_one_process_and_in_two(played):
    assert play_all(Task(MACHINES, 7, (ROUTINE,)), processes=2) == of_policy(played, ROUTINE)


def test_the_same_seed_plays_the_same_whatever_order_sets_come_in():
    """Text is hashed anew in each process, so that sets come in another order."""
    code = (
        "from halfsplit.simulate.playing import Task, play\n"
        "print([play(Task(4, 2026).draw(n), 'routine', n) for n in (3, 1, 0)])"
    )
    said = [
        subprocess.run(
            [sys.executable, "-c", code], env={**os.environ, "PYTHONHASHSEED": seed}, capture_output=True, check=True
        ).stdout
        for seed in ("1", "2")
    ]
    assert said[0] == said[1] != b""


def test_a_step_of_the_advice_does_something_and_enters_it():
    bench = Bench(Task(1, 7).draw(1))
    for step in (1, 2):
        POLICIES[ADVICE](bench)
        assert len(bench.path) >= step
    assert bench.ended or len(bench.job.log) >= 2
    assert bench.bill.cents > 0.0


def test_what_was_laid_aside_is_withdrawn_and_who_withdraws_too_much_gives_up():
    bench = Bench(Task(1, 7).draw(1))
    for _ in range(MOST_WITHDRAWN):
        bench.check("counter_run")
    advice = advise(bench.job, BOOK)
    runs = [entry.id for entry in bench.job.log if isinstance(entry, Run)]
    first = advice.top
    follow(bench, replace(advice, step_back=(runs[0],)), first)
    assert [entry.entry for entry in bench.job.log if isinstance(entry, Correct)] == [runs[0]]
    assert not bench.ended
    done = len(bench.found)
    follow(bench, replace(advice, step_back=tuple(runs[1:MOST_WITHDRAWN])), first)
    assert bench.ended == HANDED_BACK
    assert len(bench.found) == done


def test_a_run_of_the_proof_that_failed_is_done_again_and_one_that_passed_is_not():
    kinds = set()
    for number in range(10):
        bench = Bench(Task(10, 7).draw(number))
        first = bench.check("counter_run")
        bench.prove()
        failed = is_failed(first.entries[0])
        assert [found.check for found in bench.found].count("counter_run") == 1 + failed
        kinds.add(failed)
    assert kinds == {True, False}


def test_repairing_what_is_wrong_at_once_costs_less_on_average_than_any_policy(played):
    costs = []
    for number in range(MACHINES):
        bench = Bench(Task(MACHINES, 7).draw(number))
        repair_what_is_wrong(bench)
        costs.append(bench.bill.cents)
    assert all(np.mean(costs) < mean_cents(of_policy(played, policy)) for policy in QUICK)


def test_suspicions_are_calibrated_where_the_truth_is_the_book_and_nobody_lies():
    off, variance = 0.0, 0.0
    for number in range(60):
        drawn = draw_machine(BOOK, CLASSES[number % len(CLASSES)], (23, number), HONEST)
        bench = Bench(drawn)
        bench.check("power_plugs_look")
        folded = fold_job(bench.job, bench.book)
        posterior = weigh_compiled(compile_readings(folded.evidence))
        names = [root.id for root in folded.evidence.roots]
        p = np.where([folded.roots[name].matters for name in names], posterior.p_faults, 0.0)
        leading = int(p.argmax())
        off += float(names[leading] in bench.world.states) - p[leading]
        variance += p[leading] * (1.0 - p[leading])
    assert variance > 3.0  # there was something to be wrong about
    assert abs(off) < 3.0 * variance**0.5


def test_a_cluster_without_its_library_or_its_scheduler_is_refused_with_a_code():
    with pytest.raises(UsageError) as refused:
        play_all(Task(1, 1, (ROUTINE,)), cluster="tcp://127.0.0.1:1")
    assert {mistake.code for mistake in refused.value.mistakes} <= {"HS910", "HS911"}
