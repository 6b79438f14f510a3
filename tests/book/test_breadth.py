"""How wide the shipped book is: what comes over a bench in a year, each with what it rests on."""

from dataclasses import replace

import pytest

from halfsplit.book import bases, shipped_book, shipped_book_dir
from halfsplit.model.faults import Fault

BOOK = shipped_book()
AT_LEAST = {"faults": 220, "checks": 190, "signs": 90, "events": 60, "repairs": 140}


@pytest.mark.parametrize("section", AT_LEAST)
def test_the_book_is_as_wide_as_a_year_at_the_bench(section):
    assert len(getattr(BOOK, section)) >= AT_LEAST[section]


def test_faults_that_are_no_stand_ins_for_the_unknown_are_as_many_too():
    known = [fault for fault in BOOK.faults.values() if not fault.is_unlisted]
    assert len(known) >= AT_LEAST["faults"]
    assert sum(fault.is_normal for fault in known) >= 20


def test_there_is_always_something_else_to_do_than_to_mend():
    assert {"leave_off", "watch", "refer"} <= {repair.does for repair in BOOK.repairs.values()}


def test_no_two_faults_are_one_but_for_the_title():
    def body(fault: Fault) -> Fault:
        return replace(fault, id="", title="", owner_says="", words=())

    seen: dict[str, str] = {}
    for fault in BOOK.faults.values():
        assert seen.setdefault(repr(body(fault)), fault.id) == fault.id


def test_every_event_makes_some_fault_likelier_and_is_known_by_owners_words():
    after = {event for fault in BOOK.faults.values() for event in fault.after}
    assert after == {*BOOK.events}
    assert all(event.words for event in BOOK.events.values())


def test_every_check_asks_for_what_some_fault_shows_and_every_repair_cures_something():
    shown = {
        name
        for fault in BOOK.faults.values()
        for pattern in fault.patterns
        for name in (
            *(look.inspection for look in pattern.looks),
            *(read.measurement for read in pattern.reads),
            *(sign for act in pattern.acts for ending in act.endings for sign in (*ending.shows, *ending.hides)),
        )
    }
    for check in BOOK.checks.values():
        told = {"stop", *BOOK.events, *BOOK.facts} | shown
        assert any(ask in told or ask.partition(".")[0] == "picture" for ask in check.asks), check.id
    cured = {cure.repair for fault in BOOK.faults.values() for cure in fault.cures}
    assert {*BOOK.repairs} <= cured


def test_every_number_has_a_basis_and_a_spread():
    numbers = bases([shipped_book_dir()])
    assert len(numbers) > 5000
    for number in numbers:
        assert number.basis in ("estimate", "common practice") or number.basis.startswith("source: "), number.field
        assert number.spread > 0.0 or number.value in (0.0, 1.0), number.field
