"""The setup that a check wants, beside the setup that there is."""

from halfsplit.job.asked import placed_entries
from halfsplit.job.changes import Course
from halfsplit.job.setups import SetupChanger
from halfsplit.job.units import OWNER
from halfsplit.model.bench import Check
from halfsplit.model.book import Book
from halfsplit.model.job import ChangeSetup, Run
from halfsplit.model.machine import Setup


def setup_wanted(check: Check, course: Course, book: Book) -> tuple[Setup, Setup]:
    """Return the setup of a check's host as it stands now, and as the check wants it.

    Args:
        check: the check.
        course: what the log did to the machine (``walk_job``).
        book: the fault book.

    Returns:
        Two setups of one host; equal where the check changes nothing.  What the check names and the machine
        never had stays as it is.
    """
    asked = placed_entries(check, course.standing[OWNER], book)
    changing = next((entry for entry in asked if isinstance(entry, Run | ChangeSetup)), None)
    if changing is None:
        return course.standing[OWNER], course.standing[OWNER]
    changer = SetupChanger(book, course.intake, [])
    after = changer.change(course.standing, changing.on, changing.swaps, output=changing.output, case=changing.case)
    return course.standing[changing.on], after[changing.on]
