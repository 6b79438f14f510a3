"""Whether a book makes sense as a whole: what no single field can tell."""

from collections.abc import Iterator

from halfsplit.book.desk import Desk
from halfsplit.book.kin import check_kin
from halfsplit.book.map_section import check_map
from halfsplit.book.moves import OWNER, check_moves
from halfsplit.model.book import Book
from halfsplit.model.faults import ALWAYS, Fault, Pattern

MOST_STATES = 8
"""The most states that one root may have: absent, its patterns, and one more for each that does harm."""

ASKS = "ask"
"""The kind of a check that is a question."""

MEANT_BY_NONE = (("hosts", OWNER), ("loads", "idle"))
"""Section and id of what is meant where a job names none."""


def check_sense(desk: Desk, book: Book) -> None:
    """Note all that does not make sense in a book that was read.

    Mistakes: HS320 to HS326, HS329 to HS333, HS335, HS338 to HS342.
    """
    _check_meant_by_none(desk, book)
    _check_signs(desk, book)
    _check_openings(desk, book)
    _check_checks(desk, book)
    _check_unlisted(desk, book)
    check_map(desk, book)
    for fault in book.faults.values():
        _check_fault(desk, book, fault)
    check_kin(desk, book)
    check_moves(desk, book)


def _check_meant_by_none(desk: Desk, book: Book) -> None:
    for section, entry_id in MEANT_BY_NONE:
        entries = desk.pages.sections[section]
        if book.faults and entry_id not in entries:
            first = next((key.place for key, _ in entries.values()), desk.first_place())
            desk.say(
                desk.pages.retired[section].get(entry_id, first),
                "HS339",
                f"'{section}' has no '{entry_id}'",
                "it is what is meant where a job names none",
                f"Add '{entry_id}' to '{section}'",
            )


def _check_signs(desk: Desk, book: Book) -> None:
    places = {rung.id: place for place, rung in enumerate(book.ladder.rungs)}
    for sign in book.signs.values():
        if places.get(sign.proves, 0) > places.get(sign.needs, len(places)):
            desk.say(
                desk.place_in("signs", sign.id, "proves"),
                "HS332",
                f"sign '{sign.id}' proves '{sign.proves}', which is above '{sign.needs}' that it needs",
                "a sign cannot prove more than it needs",
                "Lower 'proves' or raise 'needs'",
            )


def _check_checks(desk: Desk, book: Book) -> None:
    for check in book.checks.values():
        if check.needs and (check.host != OWNER or check.kind == ASKS):
            elsewhere = "asks the owner" if check.kind == ASKS else f"is done on '{check.host}'"
            desk.say(
                desk.place_in("checks", check.id, "needs"),
                "HS342",
                f"check '{check.id}' needs '{check.needs}' of the owner's machine, but it {elsewhere}",
                "only what is done on the owner's machine needs that it gets so far",
                "Take 'needs' out, or correct the kind or the host",
            )


def _check_openings(desk: Desk, book: Book) -> None:
    reported: set[str] = set()
    for opening in book.openings:
        path = [opening]
        while (inside := book.openings[path[-1]].inside) in book.openings and inside not in path:
            path.append(inside)
        if inside not in path:
            continue
        circle = path[path.index(inside) :]
        if reported.isdisjoint(circle):
            desk.say(
                desk.place_in("openings", circle[0], "inside"),
                "HS331",
                f"the openings go in a circle: {' inside '.join((*circle, circle[0]))}",
                "an opening is inside another one or 'none'",
                "Correct one 'inside'",
            )
        reported.update(circle)


def _check_unlisted(desk: Desk, book: Book) -> None:
    covered = {foothold for fault in book.faults.values() if fault.is_unlisted for foothold in fault.at}
    for kind in book.kinds:
        if kind not in covered:
            desk.say(
                desk.place_in("parts", kind),
                "HS326",
                f"part '{kind}' has no unlisted fault",
                "a book does not know everything of any part",
                f"Add a fault at '{kind}' with 'unlisted: yes'",
            )


def _check_fault(desk: Desk, book: Book, fault: Fault) -> None:
    is_whole = ("faults", fault.id) not in desk.marred
    if is_whole and not (fault.cures or fault.is_normal or fault.is_unlisted):
        desk.say(
            desk.place_in("faults", fault.id, "cures"),
            "HS320",
            f"nothing cures fault '{fault.id}'",
            "each fault has a repair, if only to watch it, to refer it or to leave the part off",
            "Write 'cures: {repair: usually}', or 'normal: yes' if it is none",
        )
    if not fault.owner_says:
        desk.say(
            desk.place_in("faults", fault.id),
            "HS321",
            f"fault '{fault.id}' has no sentence for the owner",
            "whatever may be found can be told to the owner",
            "Write 'owner_says: ...'",
        )
    if fault.together and len(fault.at) == 1:
        desk.say(
            desk.place_in("faults", fault.id, "together"),
            "HS333",
            f"fault '{fault.id}' needs things together but has one foothold",
            "'together' means several footholds",
            "Add the others to 'at'",
        )
    states = 1 + len(fault.patterns) + sum(pattern.harm is not None for pattern in fault.patterns)
    if states > MOST_STATES:
        desk.say(
            desk.place_in("faults", fault.id, "patterns"),
            "HS323",
            f"fault '{fault.id}' has {states} states (absent, its patterns, one more for each that harms)",
            f"a fault has at most {MOST_STATES}",
            "Join patterns, or make two faults of it",
        )
    for pattern in fault.patterns if is_whole else ():
        _check_pattern(desk, book, fault, pattern)


def _check_pattern(desk: Desk, book: Book, fault: Fault, pattern: Pattern) -> None:
    place = desk.place_in("faults", fault.id, "patterns", pattern.id)
    if not (pattern.acts or pattern.looks or pattern.reads):
        desk.say(
            place,
            "HS322",
            f"pattern '{pattern.id}' of fault '{fault.id}' shows in nothing",
            "a pattern acts in runs, looks like something, or reads as something",
            "Add 'acts', 'looks' or 'reads'",
        )
    for number in _never_drawn(pattern):
        desk.say(
            desk.place_in("faults", fault.id, "patterns", pattern.id, "acts"),
            "HS335",
            f"act {number} of pattern '{pattern.id}' of fault '{fault.id}' is never drawn",
            "the first act whose 'when' holds is drawn",
            "Move the act without 'when' to the end",
        )
    if pattern.harm is None or pattern.harm.as_fault not in book.faults:
        return
    harmed = book.faults[pattern.harm.as_fault]
    if pattern.harm.part and pattern.harm.part not in harmed.at:
        desk.say(
            desk.place_in("faults", fault.id, "patterns", pattern.id, "harm"),
            "HS333",
            f"the harm hits '{pattern.harm.part}', but fault '{harmed.id}' has no foothold there",
            f"its footholds are {', '.join(harmed.at)}",
            "Correct 'part' or 'as'",
        )


def _never_drawn(pattern: Pattern) -> Iterator[int]:
    """Yield the numbers, from 1, of acts that come after one that always holds."""
    always = next((n for n, act in enumerate(pattern.acts) if act.when == ALWAYS and not act.of), None)
    if always is not None:
        yield from range(always + 2, len(pattern.acts) + 1)
