"""The pages of a book compiled to one frozen ``Book``, with everything that is wrong with them."""

import dataclasses
from types import MappingProxyType

from halfsplit.book.acts import read_forced
from halfsplit.book.desk import Desk
from halfsplit.book.done_sections import read_checks, read_hazards, read_openings, read_repairs
from halfsplit.book.fault_section import read_faults
from halfsplit.book.form import prose_of
from halfsplit.book.machine_sections import (
    read_complaints,
    read_facts,
    read_grades,
    read_hosts,
    read_joints,
    read_ladder,
    read_loads,
    read_outputs,
    read_parts,
    read_shelf,
    read_stops,
    read_tellers,
    read_words,
)
from halfsplit.book.map_section import read_map
from halfsplit.book.plain import hash_of
from halfsplit.book.seen_sections import (
    read_events,
    read_inspections,
    read_measurements,
    read_signs,
    read_tools,
)
from halfsplit.book.sense import check_sense
from halfsplit.book.strength import read_grounds, read_strength_words
from halfsplit.model.book import Book


def compile_book(desk: Desk) -> Book | None:
    """Return the book on the desk, or None when the desk has mistakes.

    Args:
        desk: with the joined pages; its mistakes and numbers are added to.
    """
    read_grounds(desk)
    read_strength_words(desk)
    for _, node in desk.pages.sections["sources"].values():
        prose_of(desk, node, "the source")
    facts = read_facts(desk)
    inspections = read_inspections(desk)
    book = Book(
        hash="",
        strengths=MappingProxyType(dict(desk.strengths)),
        ladder=read_ladder(desk),
        kinds=read_parts(desk, facts),
        joints=read_joints(desk),
        facts=facts,
        hosts=read_hosts(desk),
        grades=read_grades(desk),
        shelf=read_shelf(desk, facts),
        outputs=read_outputs(desk),
        loads=read_loads(desk),
        conditions=read_words(desk, "conditions"),
        positions=read_words(desk, "positions"),
        starters=read_words(desk, "starters"),
        touches=read_words(desk, "touches"),
        complaints=read_complaints(desk),
        tellers=read_tellers(desk),
        events=read_events(desk),
        signs=read_signs(desk),
        forced=read_forced(desk),
        tools=read_tools(desk),
        inspections=inspections,
        measurements=read_measurements(desk),
        openings=read_openings(desk),
        hazards=read_hazards(desk, facts, inspections),
        checks=read_checks(desk, facts),
        repairs=read_repairs(desk, facts),
        faults=read_faults(desk, facts, inspections),
        stops=read_stops(desk),
        map=read_map(desk),
    )
    desk.say_ungrounded()
    check_sense(desk, book)
    if desk.mistakes:
        return None
    return dataclasses.replace(book, hash=hash_of(book))
