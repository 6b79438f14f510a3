"""Small models written by hand: every set of faults is a world."""

import numpy as np

from halfsplit.plan import Action, Situation
from halfsplit.plan.optimum import every_set

NEVER = 1e6
"""What a comeback costs where handing back is out of the question, in cents."""


def one_fault(p, actions, comeback=NEVER, **more) -> Situation:
    """Exactly one of the faults is there, with these chances."""
    sets = every_set(len(p))
    weights = np.zeros(len(sets))
    weights[[1 << fault for fault in range(len(p))]] = p
    return Situation(weights, sets, tuple(actions), comeback, **more)


def repair(name, cents, faults, many, **more) -> Action:
    """A repair that cures some of so many faults for sure."""
    cures = np.zeros(many)
    cures[list(faults)] = 1.0
    return Action(name, cents, cures=cures, **more)


def check(name, cents, tells_of, **more) -> Action:
    """A check whose P(result | faults) is given for each fault alone; for several at once that of the first."""
    tells_of = np.asarray(tells_of, dtype=float)
    sets = every_set(len(tells_of))
    first = np.where(sets.any(axis=1), sets.argmax(axis=1), 0)
    return Action(name, cents, tells=tells_of[first], **more)


def yes_no(p_yes) -> np.ndarray:
    p_yes = np.asarray(p_yes, dtype=float)
    return np.stack([p_yes, 1.0 - p_yes], axis=1)
