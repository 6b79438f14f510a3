"""What is said where readings do not go together."""

from dataclasses import replace

from folding import BOOK, job_of
from stores import NOON

from halfsplit.actions import open_job, record
from halfsplit.job.weigh import weigh_job
from halfsplit.web.suspects import doubted_readings

MACHINE = "{complaint: nothing_happens, machine: {kind: built, age_years: 1}}"
IMPOSSIBLE = "run: {not: standby_power, signs: {fans_turn: yes, draws_standby: yes}}"


def test_a_doubt_names_its_entries_as_the_page_does():
    job = job_of("run: {not: starts}", "inspect: {at: supply_exhaust, tool: nose, seen: fine}", IMPOSSIBLE)
    weighed = weigh_job(job, BOOK)
    assert weighed.impossible == ("run_2",)
    (doubted,) = [each for each in doubted_readings(weighed, job, BOOK) if "no set of faults" in each.line]
    assert doubted.line.startswith("run 2: no set of faults can have shown all that it says.")
    assert doubted.entries == (("run_2", "run 2"),)


def test_several_that_cannot_all_be_true_are_named_each():
    job = job_of("run: {not: starts}", IMPOSSIBLE)
    weighed = replace(weigh_job(job, BOOK), impossible=("run_1", "run_2"))
    (doubted,) = [each for each in doubted_readings(weighed, job, BOOK) if "no set of faults" in each.line]
    assert doubted.line.startswith("run 1, run 2: no set of faults can have shown all of them.")


def test_what_is_laid_aside_and_is_no_run_is_named_by_what_it_says():
    job = job_of("inspect: {at: supply_exhaust, tool: nose, seen: fine}")
    (look,) = job.log
    weighed = replace(weigh_job(job, BOOK), aside=(look.id,))
    (doubted,) = [each for each in doubted_readings(weighed, job, BOOK) if "laid aside" in each.line]
    title = BOOK.inspections["supply_exhaust"].title
    assert doubted.line.startswith(f"\u2018{title}: fine\u2019: laid aside")


def test_from_a_doubt_it_is_one_tap_to_the_entry(browser, desk):
    number = open_job(desk.bench, MACHINE, by="AB", now=NOON)
    record(desk.bench, number, IMPOSSIBLE, by="AB", now=NOON)
    browser.open(f"/jobs/{number}")
    desk.weigher.work_off()
    page = browser.open(f"/jobs/{number}")
    (link,) = [each for each in page.all("a", class_="button") if each.text == "correct run 1"]
    assert browser.open(link.attrs["href"]).all("h1")[0].text == "Correct: run 1"
