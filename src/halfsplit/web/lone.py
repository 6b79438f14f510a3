"""Parts of which a machine has one only: their number need not be said."""

from halfsplit.job.changes import Course
from halfsplit.job.units import OWNER, kind_of
from halfsplit.model.book import Book


def lone_places(course: Course | None, book: Book) -> frozenset[str]:
    """Return the kinds of part, and the joints, of which the owner's machine has one only, at intake and now.

    Args:
        course: of the job; None = nothing is known, and nothing is lone.
        book: the fault book.
    """
    if course is None:
        return frozenset()
    slots = {*course.intake[OWNER].slots, *course.standing[OWNER].slots}
    kinds = [kind_of(slot) for slot in slots]
    lone = {kind for kind in kinds if kinds.count(kind) == 1}
    joints = {joint.id for joint in book.joints.values() if {*joint.between} & {*kinds} <= lone}
    return frozenset(lone | joints)
