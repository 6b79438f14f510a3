"""What is withdrawn is passed over, and what is brought back stands where it stood."""

from folding import job_of

from halfsplit.job.corrections import apply_corrections

RUN = "run: {cold: yes, reached: log_in, stop: {resets: 6 min}}"
LOOK = "inspect: {at: cpu_power_plug, seen: half_in}"


def corrected(*log):
    mistakes = []
    told, kept = apply_corrections(job_of(*log), mistakes)
    assert mistakes == []
    return [entry.id for entry in (*told, *kept)]


def test_what_is_withdrawn_is_passed_over():
    assert corrected(RUN, LOOK, "correct: {entry: run_1, withdrawn: yes}") == ["inspect_1"]


def test_a_statement_can_be_withdrawn():
    assert corrected("told: storm", RUN, "correct: {entry: told_1, withdrawn: yes}") == ["run_1"]


def test_what_is_brought_back_stands_where_it_stood():
    back = (RUN, LOOK, "correct: {entry: run_1, withdrawn: yes}", "correct: {entry: run_1, withdrawn: no}")
    assert corrected(*back) == ["run_1", "inspect_1"]
    assert apply_corrections(job_of(*back), [])[1][0].seen == job_of(RUN).log[0].seen


def test_a_change_brings_back_too():
    changed = (RUN, LOOK, "correct: {entry: run_1, withdrawn: yes}", "correct: {entry: run_1, cold: no}")
    run = apply_corrections(job_of(*changed), [])[1][0]
    assert run.conditions.cold is False
    assert run.seen == job_of(RUN).log[0].seen
