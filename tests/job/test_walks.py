"""What can come next is walked once for a state of the bench, and is the same as if it were walked anew."""

import pytest
from folding import BOOK, job_of

from halfsplit.job.corrections import apply_corrections
from halfsplit.job.kept import Kept
from halfsplit.job.machine import facts_of
from halfsplit.job.moments import Walker
from halfsplit.job.walks import Walks

MACHINE = "{kind: built, card: there}"
START = "run: {not: self_test}"
PLUGS = "inspect: {at: main_power_plug, seen: fine, tool: torch}"
CPU_PLUG = "inspect: {at: cpu_power_plug, seen: half_in, tool: torch}"
LOG = (
    START,
    PLUGS,
    CPU_PLUG,
    "repair: {do: reseat_cpu_power_plug, at: cpu_power_plug}",
    "run: {reached: log_in, stop: none}",
    "setup: {memory.1: out}",
    "run: {with: {supply: shelf.supply_a}, reached: log_in}",
    "repair: {do: replace_supply, at: supply}",
    START,
)


def walked(*entries, kept):
    """Return the walker at the end of a log."""
    job = job_of(*entries, machine=MACHINE)
    _, log = apply_corrections(job, [])
    walker = Walker(job, BOOK, kept.gatherer, [])
    for number, entry in enumerate(log):
        walker.step(number, entry)
    walker.put_back(len(log))
    assert walker.mistakes == []
    return walker, facts_of(job, BOOK, [])


def states(*logs):
    kept = Kept(BOOK)
    return [walked(*log, kept=kept)[0].state() for log in logs]


def test_another_look_into_the_opened_machine_leaves_the_state_as_it_is():
    one, other = states((START, PLUGS), (START, PLUGS, CPU_PLUG))
    assert one == other


def test_another_start_of_the_closed_machine_leaves_the_state_as_it_is():
    one, other = states((START,), (START, START))
    assert one == other


@pytest.mark.parametrize(
    "more", [(PLUGS,), LOG[3:4], LOG[5:6], LOG[7:8]], ids=["opened", "mended", "taken out", "fitted"]
)
def test_work_changes_the_state(more):
    one, other = states((START,), (START, *more))
    assert one != other


@pytest.mark.parametrize("length", [2, 4, 7, 9])
def test_what_is_kept_is_what_would_be_walked_anew(length):
    kept = Kept(BOOK)
    for n in range(length):
        kept.walks(*walked(*LOG[:n], kept=kept))
    walker, facts = walked(*LOG[:length], kept=kept)
    walks, anew = kept.walks(walker, facts), Walks(walker, BOOK, facts, {})
    again, _ = walked(*LOG[:length], kept=kept)
    assert kept.walks(again, facts) is walks
    for check in BOOK.checks.values():
        assert walks.check(check, lambda _: False) == anew.check(check, lambda _: False)
    for repair in BOOK.repairs.values():
        assert walks.repair(repair) == anew.repair(repair)


def test_what_is_known_already_is_left_out():
    kept = Kept(BOOK)
    walks = kept.walks(*walked(START, kept=kept))
    check = next(each for each in BOOK.checks.values() if "main_power_plug" in each.asks and len(each.asks) > 1)
    every = walks.check(check, lambda _: False)
    some = walks.check(check, lambda look: look.what == "main_power_plug")
    assert len(some) == len(every) - 1
    assert [moment.entry for moment in some] == [m.entry for m in every if m.entry.id != "main_power_plug"]


def test_only_the_last_states_are_kept():
    kept = Kept(BOOK)
    walker, facts = walked(START, kept=kept)
    first = kept.walks(walker, facts)
    for number in range(8):
        kept.walks(walker, {**facts, "age_years": number})
    assert kept.walks(walker, facts) is not first
    assert kept.walks(walker, facts) is kept.walks(walker, dict(facts))
