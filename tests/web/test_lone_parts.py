"""A part of which a machine has one only is said without a number; where there are several, each with its own."""

import pytest
from folding import BOOK, job_of
from web_reader import Browser

from halfsplit import actions
from halfsplit.job.lines import book_of, line_of, numbered_at, title_of, title_of_point, title_of_slot
from halfsplit.job.trail import walk_job
from halfsplit.model.book import Book

LOOK = "inspect: {at: memory_seat.1, seen: fine}"
TITLE = BOOK.kinds["memory"].title


def spoken(modules: str, *log: str) -> Book:
    """Return the book to speak of a machine with that has these modules."""
    return book_of(walk_job(job_of(*log, machine=f"{{memory: {modules}}}"), BOOK), BOOK)


def names(book: Book) -> list[str]:
    """Return what is at the first module in each of the ways in which it is said."""
    (look,) = job_of(LOOK).log
    repair = BOOK.repairs["reseat_memory"]
    return [
        title_of_slot("memory.1", book),
        title_of("owner.memory.1", book),
        line_of([look], book),
        numbered_at(repair.title, "memory_seat.1", book),
        numbered_at("memory module worn", "memory.1", book),
    ]


def test_the_number_is_said_where_there_are_several_and_only_there():
    assert all("no.\u00a01" in name for name in names(spoken("[8, 8]")))
    assert all("no." not in name for name in names(spoken("[8]")))


def test_what_was_taken_out_still_counts():
    assert all("no.\u00a01" in name for name in names(spoken("[8, 8]", "setup: {memory.2: out}")))


def test_of_a_machine_of_which_nothing_is_known_every_number_is_said():
    assert book_of(None, BOOK) is BOOK
    assert all("no.\u00a01" in name for name in names(BOOK))


def test_a_point_to_measure_at_is_said_likewise():
    point = next(each for each in BOOK.measurements.values() if each.at == "drive")
    one, two = (book_of(walk_job(job_of(machine=f"{{drive: {many}}}"), BOOK), BOOK) for many in ("[hdd]", "[hdd, hdd]"))
    assert "no." not in title_of_point(f"{point.id}.1", one)
    assert "no.\u00a01" in title_of_point(f"{point.id}.1", two)


@pytest.mark.parametrize(("modules", "is_said"), [("[8]", False), ("[8, 8]", True)])
def test_the_pages_say_it_so(desk, clock, modules, is_said):
    bench = desk.bench
    number = actions.open_job(bench, f"machine: {{memory: {modules}}}", by="AB", now=clock())
    actions.record(bench, number, LOOK, by="AB", now=clock())
    desk.weigher.ask(number)
    desk.weigher.work_off()
    browser = Browser(desk)
    page = browser.open(f"/jobs/{number}")
    chips = page.all("form", class_="chips")[0].all("button")
    parts = [page.all("ol", class_="log")[0], next(each for each in chips if each.text.startswith(TITLE))]
    looks = browser.open(f"/jobs/{number}/seen").all("details", class_="group")
    parts += [each for each in looks if each.all("summary")[0].text == TITLE]
    assert len(parts) == 3
    for part in parts:
        assert ("no. 1" in part.text) == is_said, part.text


def test_a_joint_is_listed_under_that_of_its_parts_that_has_the_fewest(desk, clock):
    number = actions.open_job(desk.bench, "machine: {}", by="AB", now=clock())
    groups = {
        group.all("summary")[0].text: [thing.attrs["data-find"] for thing in group.all("div", class_="thing")]
        for group in Browser(desk).open(f"/jobs/{number}/mend").all("details", class_="group")
    }
    assert set(groups) <= {kind.title for kind in BOOK.kinds.values()}
    seat = BOOK.repairs["reseat_memory"].title.lower()
    assert any(found.startswith(seat) for found in groups[TITLE])
    assert not any(found.startswith(seat) for found in groups[BOOK.kinds["board"].title])
    assert any(BOOK.joints["memory_seat"].title.lower() in found for found in groups[TITLE])
