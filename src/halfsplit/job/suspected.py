"""How far the faults of the owner's machine, and the parts of the shelf that were in a job, are suspected."""

from halfsplit.infer import Posterior
from halfsplit.job.folded import Folded
from halfsplit.job.units import SHELF
from halfsplit.model.book import Book


def p_of_faults(folded: Folded, posterior: Posterior) -> dict[str, float]:
    """Return the largest suspicion of each fault in the owner's machine."""
    found: dict[str, float] = {}
    for root, p in zip(posterior.evidence.roots, posterior.p_faults.tolist(), strict=True):
        note = folded.roots[root.id]
        if note.fault and note.in_machine:
            found[note.fault] = max(p, found.get(note.fault, 0.0))
    return found


def p_of_lent(folded: Folded, posterior: Posterior, book: Book, *, least: float = 0.0) -> dict[str, float]:
    """Return how likely each part of the shelf that was in a job is bad now: from the start, or by what it was in.

    Args:
        folded: the job folded.
        posterior: the job weighed.
        book: the fault book.
        least: below this it need not be exact, only below it and not too low.
    """
    units = {f"{SHELF}.{name}": name for name in book.shelf}
    held = posterior.p_all_held(tuple(thing for thing in folded.things if thing in units), least=least)
    return {units[unit]: p for unit, p in held.items()}
