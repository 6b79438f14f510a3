"""Runs that cannot be as they were entered: the job is weighed all the same, and what was laid aside is told."""

import pytest
from folding import BOOK, job_of

from halfsplit.job.advise import advise
from halfsplit.job.done import Done, is_failed
from halfsplit.job.doubted import laid_aside, weigh_folded
from halfsplit.job.fold import fold_job
from halfsplit.job.weigh import weigh_job

UP = "run: {reached: log_in, stop: none, minutes: 10, picture: {board: {self_test: yes, system: yes}}}"
DEAD_AND_LIT = "run: {not: standby_power, signs: {fans_turn: yes, draws_standby: yes}}"
MACHINE = "{kind: built, age_years: 4, card: none, board: {video_output: yes}}"


def job(*log):
    return job_of(*log, machine=MACHINE, complaint="starts_misbehaves")


def suspicions(one):
    return {fault.id: fault.p for fault in weigh_job(one, BOOK).faults}


def test_readings_that_go_together_are_weighed_as_they_stand():
    folded = fold_job(job(UP), BOOK)
    answer = weigh_folded(folded)
    assert answer.compiled.evidence is folded.evidence
    assert laid_aside(folded, answer.posterior) == ()


def test_a_run_that_nothing_can_show_is_taken_for_a_wrong_entry_and_changes_nothing():
    """What is impossible whatever is wrong is as good as not entered."""
    said = weigh_job(job(UP, DEAD_AND_LIT), BOOK)
    assert said.impossible == ("run_2",)
    untold = suspicions(job(UP, "run: {}"))
    assert {fault.id: fault.p for fault in said.faults} == pytest.approx(untold, rel=0.03)  # both within their bounds


def test_there_is_an_advice_all_the_same():
    assert advise(job(UP, DEAD_AND_LIT), BOOK).top


def test_a_run_that_failed_is_due_again_and_one_that_passed_since_is_not():
    failed = "run: {not: log_in}"
    passed = "run: {reached: log_in, stop: none}"
    for log, is_passed in (((failed,), False), ((passed,), True), ((passed, failed), False), ((failed, passed), True)):
        one = job(*log)
        assert Done(one).is_passed(one.log[:1]) is is_passed, log
        assert Done(one).is_read(one.log[:1])


@pytest.mark.parametrize(
    ("seen", "fails"),
    [
        ("reached: log_in, stop: none", False),
        ("not: log_in", True),
        ("stop: resets", True),
        ("picture: {board: {self_test: no}}", True),
        ("picture: {board: {self_test: no, system: yes}}", False),
        ("signs: {fans_turn: yes}", False),
        ("stop: resets, failed: 1, of: 5", True),
    ],
)
def test_what_counts_as_a_run_that_did_not_go_through(seen, fails):
    assert is_failed(job(f"run: {{{seen}}}").log[0]) is fails
