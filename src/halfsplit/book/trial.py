"""A book that can be read, tried out: each of its checks is done to a machine with each of its faults alone."""

from halfsplit.book.desk import Desk
from halfsplit.book.moves import say_moves_nothing
from halfsplit.job.alone import show_alone
from halfsplit.job.apart import Apart
from halfsplit.model.book import Book


def try_checks(desk: Desk, book: Book) -> None:
    """Note checks that cannot be done (HS337) or move nothing (HS329), and faults that no check tells apart (HS336).

    Args:
        desk: the desk that the book was read on, for the places.
        book: the book; it has no other mistakes.

    Notes:
        It takes some seconds for 200 faults and 100 checks.
    """
    shown = show_alone(book)
    for check, mistake in shown.mistakes:
        so = f"check '{check}' cannot be done as it is written: {mistake.so}"
        desk.say(desk.place_in("checks", check), "HS337", so, mistake.should, "Correct its 'asks', 'setup' or 'host'")
    undone = {check for check, _ in shown.mistakes}
    moving = {showing.check for showing in shown.showings if showing.tells_something}
    for noun in book.checks.values():
        if noun.kind != "ask" and noun.id not in undone | moving:
            say_moves_nothing(desk, noun)
    for first, second in Apart(book, shown).alike():
        fault, other = book.faults[second], book.faults[first]
        if not (fault.kin and fault.kin == other.kin):
            desk.say(
                desk.place_in("faults", fault.id),
                "HS336",
                f"no check of the book tells fault '{fault.id}' from fault '{other.id}'",
                "faults that no check tells apart are one kin group, with one repair that both are asked by",
                f"Add a check that tells them apart, or give both the same 'kin', as 'kin: {other.kin or other.id}'",
            )
