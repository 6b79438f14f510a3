"""What is known of one run, and whether a condition of the book holds in it."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass

from halfsplit.job.units import Together
from halfsplit.model.book import Book
from halfsplit.model.faults import ALWAYS, When
from halfsplit.model.machine import Conditions

SHARE_COLD = 0.5
"""The share of runs that start cold where nobody said (estimate: half of each)."""


@dataclass(frozen=True)
class RunFacts:
    """All of a run that a condition may ask for; what no condition of the book asks for is left out.

    Args:
        host: the host.
        has: the kinds of part and the slots that are filled.
        used: the outputs that the monitor is on.
        stresses: what its load stresses.
        cold: whether it started cold; None = nobody said.
        minutes: the largest limit of the book that it lasted longer than, in minutes; None = none.
        lead_out: whether the mains lead had been out just before.
        position, touched, started_by: a word, or "".
        first_after: what it was the first start after, as told and as the log has it.
        in_case: whether the board is in the case.
    """

    host: str
    has: frozenset[str]
    used: tuple[str, ...]
    stresses: frozenset[str]
    cold: bool | None
    minutes: float | None
    lead_out: bool
    position: str
    touched: str
    started_by: str
    first_after: frozenset[str]
    in_case: bool


def p_holds(when: When, facts: RunFacts) -> float:
    """Return the chance that a condition holds in a run.

    Args:
        when: the condition; everything named must hold.
        facts: the run.

    Returns:
        1 or 0; the share of cold starts where it hangs on that and nobody said.  Any other condition
        that was not said does not hold, and a lead that nobody took out was in.
    """
    if when is ALWAYS:
        return 1.0
    is_so = (
        (not when.load or not facts.stresses.isdisjoint(when.load))
        and (when.minutes_over is None or (facts.minutes is not None and facts.minutes >= when.minutes_over))
        and (when.lead_out is None or when.lead_out == facts.lead_out)
        and (not when.position or facts.position in when.position)
        and (not when.touched or facts.touched in when.touched)
        and (not when.started_by or facts.started_by in when.started_by)
        and (not when.first_after or not facts.first_after.isdisjoint(when.first_after))
        and (not when.output or not set(when.output).isdisjoint(facts.used))
        and (when.in_case is None or when.in_case == facts.in_case)
        and facts.has.issuperset(when.has)
        and facts.has.isdisjoint(when.lacks)
        and (not when.host or facts.host in when.host)
    )
    if not is_so:
        return 0.0
    if when.cold is None:
        return 1.0
    if facts.cold is None:
        return SHARE_COLD if when.cold else 1.0 - SHARE_COLD
    return float(when.cold == facts.cold)


Asking = tuple[tuple[str, ...], frozenset[str]]
"""Which of the facts of a run some conditions ask for, and for which kinds of part."""

_ASKED_BY = {
    "load": "stresses",
    "minutes_over": "minutes",
    "lead_out": "lead_out",
    "position": "position",
    "touched": "touched",
    "started_by": "started_by",
    "first_after": "first_after",
    "output": "used",
    "in_case": "in_case",
    "host": "host",
    "cold": "cold",
}
"""Field of a condition -> the fact of a run that it asks for; ``has`` and ``lacks`` ask for kinds of part."""


def asked_by(whens: Iterable[When]) -> Asking:
    """Return what conditions can tell of a run: runs in which these are the same are the same to them."""
    asking = [when for when in whens if when is not ALWAYS]
    names = {
        fact for when in asking for field, fact in _ASKED_BY.items() if getattr(when, field) != getattr(ALWAYS, field)
    }
    return tuple(sorted(names)), frozenset(name for when in asking for name in (*when.has, *when.lacks))


class FactsMaker:
    """Makes the facts of runs; runs that no condition of the book can tell apart get equal facts.

    Args:
        book: the fault book.
    """

    def __init__(self, book: Book) -> None:
        self._book = book
        whens = [when for when in _conditions_of(book) if when is not ALWAYS]
        self._has = {name for when in whens for name in (*when.has, *when.lacks)}
        self._has |= {name for sign in book.signs.values() for name in sign.has}
        self._has |= {output.part for output in book.outputs.values()}
        self._minutes = sorted({when.minutes_over for when in whens if when.minutes_over is not None})
        self._positions = {word for when in whens for word in when.position}
        self._touches = {word for when in whens for word in when.touched}
        self._starters = {word for when in whens for word in when.started_by}
        self._firsts = {word for when in whens for word in when.first_after}
        self._asks_case = any(when.in_case is not None for when in whens)
        self._hosts = {host for when in whens for host in when.host}
        self._known: dict[RunFacts, RunFacts] = {}

    def facts(
        self, together: Together, conditions: Conditions, *, lead_out: bool = False, first_after: Collection[str] = ()
    ) -> RunFacts:
        """Return the facts of one run.

        Args:
            together: what is together on its host.
            conditions: what was said of it.
            lead_out: whether the log itself has the lead out just before it.
            first_after: what the log has just before it: openings and repairs.
        """
        said = conditions.lead_out_minutes
        first = {conditions.first_after, *first_after} & self._firsts
        minutes = conditions.minutes
        facts = RunFacts(
            host=together.setup.host if together.setup.host in self._hosts else "",
            has=together.has & self._has,
            used=together.used,
            stresses=frozenset(self._book.loads[conditions.load].stresses),
            cold=conditions.cold,
            minutes=max((limit for limit in self._minutes if minutes is not None and minutes > limit), default=None),
            lead_out=said > 0 if said is not None else lead_out,
            position=conditions.position if conditions.position in self._positions else "",
            touched=conditions.touched if conditions.touched in self._touches else "",
            started_by=conditions.started_by if conditions.started_by in self._starters else "",
            first_after=frozenset(first),
            in_case=together.setup.in_case or not self._asks_case,
        )
        return self._known.setdefault(facts, facts)


def _conditions_of(book: Book) -> Iterable[When]:
    for forced in book.forced:
        yield forced.when
    for fault in book.faults.values():
        for pattern in fault.patterns:
            for act in pattern.acts:
                yield act.when
            for read in pattern.reads:
                yield read.when
