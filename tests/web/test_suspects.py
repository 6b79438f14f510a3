"""What is said where readings do not go together."""

from dataclasses import replace

from folding import BOOK, job_of

from halfsplit.job.weigh import weigh_job
from halfsplit.web.suspects import doubted_readings

IMPOSSIBLE = "run: {not: standby_power, signs: {fans_turn: yes, draws_standby: yes}}"


def test_a_doubt_names_its_entries_as_the_page_does():
    job = job_of("run: {not: starts}", "inspect: {at: supply_exhaust, tool: nose, seen: fine}", IMPOSSIBLE)
    weighed = weigh_job(job, BOOK)
    assert "run_2" in weighed.impossible
    (line,) = [line for line in doubted_readings(weighed, job, BOOK) if "no set of faults" in line]
    assert line.startswith("run 2")
    assert "_" not in line


def test_what_is_laid_aside_and_is_no_run_is_named_by_what_it_says():
    job = job_of("inspect: {at: supply_exhaust, tool: nose, seen: fine}")
    (look,) = job.log
    weighed = replace(weigh_job(job, BOOK), aside=(look.id,))
    (line,) = [line for line in doubted_readings(weighed, job, BOOK) if "laid aside" in line]
    title = BOOK.inspections["supply_exhaust"].title
    assert line.startswith(f"\u2018{title}: fine\u2019: laid aside")
