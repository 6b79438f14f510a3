"""A situation: the worlds that may be, and what can be done in them, with what it costs.

A *world* is one way in which things may stand: the faults that are there, and whatever else decides what a check
would show.  Costs are in cents and hold everything: hands-on minutes, place, waiting, parts, expected damage.

The job ends when a repair's re-check shows no fault, when the machine is handed back as it is, or when the whole of it
is replaced.  Whatever is still wrong then comes back and costs ``comeback``.
"""

from dataclasses import dataclass

import numpy as np

from halfsplit.errors import Mistake, PlanError
from halfsplit.model.arrays import Bools, Floats

HAND_BACK = "hand_back"
"""The id of handing the machine back as it is."""

REPLACE = "replace_machine"
"""The id of replacing the machine as a whole."""

_ROUNDING = 1e-6


@dataclass(frozen=True)
class Opening:
    """What must be off or out to do an action.

    Args:
        id: unique.
        cents: what it costs to open and to close again: minutes, consumables, and what it may disturb.  Closing is
            owed from the moment of opening, so both are paid then.
        inside: the opening that must be made first, or "".
        stays: whether the machine can be powered up with it open; if not, it is closed before every power-up.
    """

    id: str
    cents: float
    inside: str = ""
    stays: bool = True


@dataclass(frozen=True)
class Action:
    """A check or a repair; each can be done once.

    Args:
        id: unique.
        cents: its own cost without the openings, expected damage included: shape (K,) by world, or a number.
        opening: the innermost opening that it needs, or "".
        powers: whether the machine is powered up for it (a run; the re-check of a repair).
        tells: for a check, P(result | world), shape (K, S); rows add up to 1.
        cures: for a repair, P(fault goes), shape (F,).
        recheck: for a repair, what of ``cents`` is its re-check; repairs on one opening may share the dearest.
    """

    id: str
    cents: Floats | float
    opening: str = ""
    powers: bool = False
    tells: Floats | None = None
    cures: Floats | None = None
    recheck: float = 0.0


@dataclass(frozen=True)
class Situation:
    """What may be, and what can be done.

    Args:
        weights: P(world), shape (K,), adding up to 1.
        faults: which faults that matter are there, shape (K, F).
        actions: what can be done.
        comeback: what it costs when a machine is handed back with a fault that did not show, in cents.
        replacing: what it costs to replace the machine as a whole, in cents; infinity = it cannot be.
        openings: what must be off or out for the actions.
        open_now: the openings that are made.
        shows: P(a re-check shows the fault | it is there), shape (F,); None = always.
        broken: what it costs when a machine is handed back with a fault that shows, in cents; None = as ``comeback``.

    Raises:
        PlanError: HS601 shapes that do not fit, HS602 numbers that are no probabilities or costs, HS603 an opening
            that there is not.
    """

    weights: Floats
    faults: Bools
    actions: tuple[Action, ...]
    comeback: float
    replacing: float = np.inf
    openings: tuple[Opening, ...] = ()
    open_now: frozenset[str] = frozenset()
    shows: Floats | None = None
    broken: float | None = None

    @property
    def left_broken(self) -> float:
        """What it costs when a machine is handed back with a fault that shows, in cents."""
        return self.comeback if self.broken is None else self.broken

    @property
    def stopping(self) -> float:
        """What the cheaper end costs where something is seen to be wrong, in cents."""
        return min(self.left_broken, self.replacing)

    def __post_init__(self) -> None:
        mistakes = [*self._misfits(), *self._bad_numbers(), *self._unknown_openings()]
        if mistakes:
            raise PlanError(mistakes)

    def _misfits(self) -> list[Mistake]:
        worlds, faults = self.faults.shape if self.faults.ndim == 2 else (-1, -1)
        found = []
        if self.weights.shape != (worlds,):
            found.append(_misfit("weights", self.weights.shape, f"({worlds},), one for each world"))
        if self.shows is not None and self.shows.shape != (faults,):
            found.append(_misfit("shows", self.shows.shape, f"({faults},), one for each fault"))
        for action in self.actions:
            if (action.tells is None) == (action.cures is None):
                so = f"action '{action.id}' " + ("neither tells nor cures" if action.tells is None else "does both")
                found.append(Mistake(action.id, "HS601", so, "a check tells, a repair cures", "Give one of the two"))
            elif action.tells is not None and (action.tells.ndim != 2 or len(action.tells) != worlds):
                found.append(_misfit(f"{action.id}.tells", action.tells.shape, f"({worlds}, results)"))
            elif action.cures is not None and action.cures.shape != (faults,):
                found.append(_misfit(f"{action.id}.cures", action.cures.shape, f"({faults},), one for each fault"))
            if np.shape(action.cents) not in ((), (worlds,)):
                found.append(_misfit(f"{action.id}.cents", np.shape(action.cents), f"() or ({worlds},)"))
        return found

    def _bad_numbers(self) -> list[Mistake]:
        found = []
        if (self.weights < 0).any() or abs(self.weights.sum() - 1.0) > _ROUNDING:
            found.append(
                _bad("weights", f"add up to {self.weights.sum():.6g}", "none is below 0, and they add up to 1")
            )
        for name, cents in (("comeback", self.comeback), ("broken", self.broken), ("replacing", self.replacing)):
            if cents is not None and (not cents >= 0.0 or (name != "replacing" and cents == np.inf)):
                found.append(_bad(name, f"is {cents}", "a cost is 0 or more, in cents"))
        for opening in self.openings:
            if not 0.0 <= opening.cents < np.inf:
                found.append(_bad(opening.id, f"costs {opening.cents}", "a cost is 0 or more, in cents"))
        for action in self.actions:
            least, most = _ends(action.cents)
            if not (least >= 0.0 and most < np.inf):
                found.append(_bad(action.id, f"costs {action.cents}", "a cost is 0 or more, in cents"))
            elif not 0.0 <= action.recheck <= least:
                found.append(_bad(action.id, f"has a re-check for {action.recheck}", "it is a part of what it costs"))
            for p in (action.tells, action.cures):
                if p is not None and p.size and not (p.min() >= 0.0 and p.max() <= 1.0 + _ROUNDING):
                    found.append(_bad(action.id, "has a probability outside 0 to 1", "all lie from 0 to 1"))
            if action.tells is not None and (np.abs(action.tells.sum(axis=-1) - 1.0) > _ROUNDING).any():
                found.append(_bad(action.id, "has results that do not add up to 1", "P(result | world) adds up to 1"))
        return found

    def _unknown_openings(self) -> list[Mistake]:
        known = [opening.id for opening in self.openings]
        asked = [
            *((action.id, action.opening) for action in self.actions),
            *((opening.id, opening.inside) for opening in self.openings),
            *(("open_now", name) for name in sorted(self.open_now)),
        ]
        return [
            Mistake(place, "HS603", f"opening '{name}' is not known", f"it is one of: {', '.join(known)}", "Add it")
            for place, name in asked
            if name and name not in known
        ]


def _ends(cents: Floats | float) -> tuple[float, float]:
    """Return the least and the most of what something costs; NaN where any of it is."""
    if isinstance(cents, np.ndarray):
        return float(cents.min(initial=np.inf)), float(cents.max(initial=-np.inf))
    return cents, cents


def _misfit(what: str, shape: tuple[int, ...], should: str) -> Mistake:
    return Mistake(what, "HS601", f"the shape is {shape}", f"the shape is {should}", "Give it in that shape")


def _bad(what: str, so: str, should: str) -> Mistake:
    return Mistake(what, "HS602", f"{what} {so}", should, "Mend the number")
