"""The faults that are hardest to tell from one, and the reading that tells best."""

from halfsplit.book.page import Neighbour
from halfsplit.job.alone import show_alone
from halfsplit.job.apart import Apart
from halfsplit.model.book import Book


def find_neighbour(fault_id: str, book: Book) -> Neighbour | None:
    """Return the neighbour of a fault: the one whose readings, over all checks, are hardest to tell from its own.

    Args:
        fault_id: the fault; what stands for the unknown has no neighbour, and is none.
        book: the fault book.

    Notes:
        It takes some seconds: each check is tried on each fault alone.
    """
    if book.faults[fault_id].is_unlisted:
        return None
    apart = Apart(book, show_alone(book))
    other = apart.neighbour(fault_id)
    if not other:
        return None
    overlap = float(apart.overlap[apart.faults.index(fault_id), apart.faults.index(other)])
    title = book.faults[other].title
    telling = apart.best_telling(fault_id, other)
    if telling is None:
        return Neighbour(other, title, overlap)
    return Neighbour(other, title, overlap, telling.check, telling.line, telling.p, telling.p_other)
