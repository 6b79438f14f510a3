"""The question put to the exact engine: contexts, roots and readings, with nothing of a PC left in them.

A *root* is one fault, absent (state 0) or present in one of a few patterns (states 1..S-1).  It is a
Markov chain over the log: it starts with probabilities ``start`` and each of its ``moves`` applies a
row-stochastic matrix just before the readings of the same or a later time.

A *reading* is one report (or ``count`` equal reports of equal, separate runs).  In one run each root
draws one effect, jointly for all that the run shows; the effects of all roots and of the setup combine
by a commutative rule into the run's *total*:

* ``stop``: the lowest of all stops.  Stops are whole numbers, lower is earlier; ``NO_STOP`` is "none".
* ``shown``, ``hidden``: bit masks of signs; each is the union of all.

A sign is *visible* in a total when it is shown and not hidden, the total's stop is at or above the stop
that the sign needs, and, if it is seen on a screen, at least one of its screens is visible too.

The report weighs the total: P(this report | that total) is the product of its ``stop_weights`` and of
one factor for each sign asked.  What a report leaves out was not looked at.  Now and then a report is
*void*: it was entered wrongly, and says nothing of the total.

A *context* is a variable with few values that roots or reports share (was this event true, was this
cleaning done properly, how careful is this teller).  Whatever depends on contexts has one leading axis
for each context it names in ``given``, in that order.

Words (``word``) name the strengths that move together when asking how firm an answer is.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np

from halfsplit.model.arrays import Floats
from halfsplit.model.ladder import NO_STOP


@dataclass(frozen=True)
class Effect:
    """What one root, or the setup, does to one run.  ``Effect()`` does nothing."""

    stop: int = NO_STOP
    shown: int = 0
    hidden: int = 0

    def __or__(self, other: "Effect") -> "Effect":
        """Combine two effects: earliest stop, union of shown, union of hidden."""
        return Effect(min(self.stop, other.stop), self.shown | other.shown, self.hidden | other.hidden)


NOTHING = Effect()


@dataclass(frozen=True)
class Acts:
    """The joint draw of one root in one state for one run.

    Args:
        outcomes: pairs of probability and effect; the probabilities add up to at most 1, the rest
            does nothing.
        word: the strength that the probability of acting at all was written with, or "".
    """

    outcomes: tuple[tuple[float, Effect], ...]
    word: str = ""


@dataclass(frozen=True)
class Move:
    """One log entry's effect on one root.

    Args:
        time: the place in the log; readings with ``time`` >= this see the moved root.
        matrix: shape (contexts of ``given`` ..., S, S), row-stochastic; row = state before.
        given: the contexts that the matrix depends on.
    """

    time: int
    matrix: Floats
    given: tuple[str, ...] = ()


@dataclass(frozen=True)
class Root:
    """One fault of one part or joint, as a chain over the log.

    Args:
        id: unique.
        states: names of the states; state 0 is "absent".
        start: shape (contexts of ``given`` ..., S), adds up to 1 over the last axis.
        acts: reading id -> for each state what it does in one run of that reading; a reading that is
            not named is not touched.  State 0 may act too (a normal oddity), but seldom does.
        moves: in order of time.
        given: the contexts that ``start`` depends on.
        word: the strength that the chance of being there was written with, or "".
        held: for each state the things (parts and joints) that it has a foothold on *now*, at the end
            of the log; "part bad" asks for these.
    """

    id: str
    states: tuple[str, ...]
    start: Floats
    acts: Mapping[str, tuple[Acts | None, ...]] = field(default_factory=lambda: MappingProxyType({}))
    moves: tuple[Move, ...] = ()
    given: tuple[str, ...] = ()
    word: str = ""
    held: tuple[frozenset[str], ...] = ()


@dataclass(frozen=True)
class SignAsked:
    """One sign in a report.

    Args:
        bit: the sign's bit number.
        needs_stop: the sign is visible only in totals whose stop is >= this.
        screens: bit mask; when not 0, at least one of these bits must be visible as well (each judged
            with its own ``screen_needs``).
        if_visible: P(this part of the report | visible), shape (contexts of the reading's ``given`` ...) or
            a number.
        if_not: P(this part of the report | not visible), likewise.
        screen_needs: for each bit of ``screens`` the stop that it needs.
    """

    bit: int
    needs_stop: int
    if_visible: Floats | float
    if_not: Floats | float
    screens: int = 0
    screen_needs: tuple[tuple[int, int], ...] = ()

    def is_visible(self, total: Effect) -> bool:
        """Return whether the sign is visible in a total."""
        bits = total.shown & ~total.hidden
        if total.stop < self.needs_stop or not bits >> self.bit & 1:
            return False
        return not self.screens or any(bits >> bit & 1 and total.stop >= needs for bit, needs in self.screen_needs)


@dataclass(frozen=True)
class Reading:
    """One report, weighed against the total of its run.

    Args:
        id: unique; what the page calls it.
        time: its place in the log.
        base: what the setup itself does: pairs of probability and effect, adding up to 1.
        stop_weights: stop -> P(this part of the report | that stop), a number or an array over the
            contexts of ``given``; stops not named weigh ``other_stops``.
        other_stops: the weight of every stop not named.
        signs: the signs asked.
        count: how many equal runs, drawn separately, each gave this report.
        given: the contexts that the weights depend on.
        p_void: P(the report of one run is void).
        if_void: P(this report | it is void).
    """

    id: str
    time: int
    base: tuple[tuple[float, Effect], ...] = ((1.0, NOTHING),)
    stop_weights: Mapping[int, Floats | float] = field(default_factory=lambda: MappingProxyType({}))
    other_stops: Floats | float = 1.0
    signs: tuple[SignAsked, ...] = ()
    count: int = 1
    given: tuple[str, ...] = ()
    p_void: float = 0.0
    if_void: float = 0.0

    @property
    def least(self) -> float:
        """What the report of one run weighs at least, whatever the total."""
        return self.p_void * self.if_void

    def may_show(self, total: Effect) -> bool:
        """Return whether a run with this total may be reported so, in some value of the contexts."""
        weight = np.asarray(self.stop_weights.get(total.stop, self.other_stops))
        for sign in self.signs:
            weight = weight * np.asarray(sign.if_visible if sign.is_visible(total) else sign.if_not)
        return bool(weight.any())


@dataclass(frozen=True)
class Context:
    """A shared variable: its id, the names of its values and their probabilities (adding up to 1)."""

    id: str
    values: tuple[str, ...]
    p: tuple[float, ...]


@dataclass(frozen=True)
class Evidence:
    """All that the engine needs.

    Args:
        contexts: the shared variables.
        roots: the faults.
        readings: the reports, in the order of the log.
        spreads: strength word -> standard deviation of its log odds.
    """

    contexts: tuple[Context, ...]
    roots: tuple[Root, ...]
    readings: tuple[Reading, ...]
    spreads: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
