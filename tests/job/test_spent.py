"""What a job has cost and what was agreed are told by its log as it should have been all along."""

import pytest
from folding import BOOK, job_of

from halfsplit.job.corrections import apply_corrections
from halfsplit.job.spent import Agreed, agreed_on, finding_of, spent_on
from halfsplit.model.rates import Rates

RUN = "run: {not: starts}"
LOOK = "inspect: {at: cpu_power_plug, seen: half_in}"
REPAIR = "repair: {do: replace, at: supply}"
PAID = "spend: {text: supply, cost: 80}"
LIMIT = "agree: {text: up to, cost: 400}"


def corrected(*entries):
    return apply_corrections(job_of(*entries), [])[1]


def spent(*entries):
    return spent_on(corrected(*entries), BOOK, Rates())


@pytest.mark.parametrize(
    ("entry", "name"), [(RUN, "run_1"), (LOOK, "inspect_1"), (REPAIR, "repair_1"), (PAID, "spend_1")]
)
def test_what_is_withdrawn_cost_nothing(entry, name):
    assert spent(entry) > 0.0
    assert spent(entry, f"correct: {{entry: {name}, withdrawn: yes}}") == spent()


def test_a_sum_that_was_corrected_counts_as_corrected():
    assert spent(PAID, "correct: {entry: spend_1, cost: 30}") == spent(PAID) - 50_00.0
    limits = agreed_on(corrected(LIMIT, "correct: {entry: agree_1, cost: 40}"), Rates())
    assert limits == agreed_on(corrected("agree: {text: up to, cost: 40}"), Rates()) != agreed_on((), Rates())


def test_a_limit_that_was_withdrawn_is_none():
    assert agreed_on(corrected(LIMIT, "correct: {entry: agree_1, withdrawn: yes}"), Rates()) == agreed_on((), Rates())


def test_finding_the_fault_ends_with_the_first_repair():
    log = (RUN, LOOK, REPAIR, RUN, REPAIR)
    withdrawn = (*log, "correct: {entry: repair_1, withdrawn: yes}")
    assert [entry.id for entry in finding_of(corrected(*log))] == ["run_1", "inspect_1"]
    assert [entry.id for entry in finding_of(corrected(*withdrawn))] == ["run_1", "inspect_1", "run_2"]


def test_a_sum_is_the_owners_only_where_the_owner_agreed_to_one():
    assert agreed_on(corrected(LIMIT), Rates()) == Agreed(400_00.0, 400_00.0, is_owners=True)
    assert agreed_on(corrected("agree: {text: go on}"), Rates(diagnosis=1.0, ceiling=2.0)) == Agreed(1.0, 2.0)
