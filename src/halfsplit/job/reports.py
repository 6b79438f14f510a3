"""What a report says of a run, as weights of totals: 1 where the run can have gone so, 0 where it cannot.

A report weighs stops and signs by one number each, or by one for each level of how far its teller goes.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from halfsplit.job.effects import Effects
from halfsplit.job.pictures import STAGES, is_picture, picture
from halfsplit.model.job import NO, YES, Seen, StopSeen
from halfsplit.model.ladder import BAND_SECONDS, NO_STOP, band_of

UNTOLD_MINUTES = 10.0
"""How long a run was watched that did not stop, where nobody said, in minutes (estimate)."""

TIMES_OFF = 3.0
"""A stop comes within this factor of the time that the book has for it, and nobody looks at a clock (estimate)."""


MEMORY_TEST_RUNG = "loader"
"""The rung that a memory test needs: it may be started without a system."""


@dataclass(frozen=True)
class Report:
    """What one run showed.

    Args:
        stops: stop -> weight in [0, 1]; a stop that is not named weighs 1.
        signs: sign or picture -> whether it was there.
    """

    stops: Mapping[int, float]
    signs: Mapping[str, bool]


def read_report(
    seen: Seen,
    used: tuple[str, ...],
    effects: Effects,
    *,
    minutes: float | None,
    stresses: frozenset[str] = frozenset(),
) -> Report:
    """Return the report of a run.

    Args:
        seen: what it showed.
        used: the outputs that the monitor was on.
        effects: the bits and stops of the book.
        minutes: how long it was watched, in minutes; None = nobody said.
        stresses: what its load stressed; a machine under load is up.

    Returns:
        Stops below a rung that was reached weigh 0, and so do those at or above one that was not.  A stop
        told with its time weighs 1 in the bands within a factor of ``TIMES_OFF``, and at the rungs that a
        machine may be at by then; where it was not seen to be up, the time is counted from the start.
        Signs of which somebody was unsure are left out.
    """
    ladder = effects.ladder
    loaded = _reached_by(stresses, effects)
    reached = seen.reached or ("" if seen.not_reached else loaded)
    low = ladder.needs_stop(reached) if reached else 0
    high = ladder.needs_stop(seen.not_reached) if seen.not_reached else NO_STOP + 1
    if seen.stayed:
        weights = _stayed(effects, minutes)
    elif seen.stop is not None:
        weights = _stopped(seen, seen.stop, effects, is_loaded=bool(loaded) and reached == loaded)
    else:
        weights = {}
    every = [*(stop for stop, _, _ in effects.stops), NO_STOP]
    stops = {stop: weights.get(stop, 1.0) if low <= stop < high else 0.0 for stop in every}
    return Report({stop: weight for stop, weight in stops.items() if weight < 1.0}, _signs(seen, used))


def passed_report(seen: Seen, used: tuple[str, ...], effects: Effects, *, minutes: float | None) -> Report:
    """Return the report of the runs that went through where others failed: they did not show what those did.

    What a sound machine shows, a picture or fans that turn, these had in any case.
    """
    signs = {}
    for name, was in _signs(seen, used).items():
        if was != is_usual(name, effects):
            signs[name] = not was
    if seen.not_reached:
        low = effects.ladder.needs_stop(seen.not_reached)
        return Report({stop: 0.0 for stop, _, _ in effects.stops if stop < low}, signs)
    if seen.stop is not None:
        return Report({stop: w for stop, w in _stayed(effects, minutes).items() if w < 1.0}, signs)
    return Report({}, signs)


def is_usual(name: str, effects: Effects) -> bool:
    """Return whether a sound machine shows a sign or picture."""
    return is_picture(name) or (name in effects.book.signs and effects.book.signs[name].is_on)


def stops_between(effects: Effects, low: int, high: int) -> dict[int, float]:
    """Return the weights that leave the stops from ``low`` to below ``high`` only."""
    every = [*(stop for stop, _, _ in effects.stops), NO_STOP]
    return {stop: 0.0 for stop in every if not low <= stop < high}


def _reached_by(stresses: frozenset[str], effects: Effects) -> str:
    """Return the rung that a run under load has reached, or ""; a memory test needs no system."""
    if not stresses:
        return ""
    return MEMORY_TEST_RUNG if stresses <= {"memory"} else effects.ladder.rungs[-1].id


def _stayed(effects: Effects, minutes: float | None) -> dict[int, float]:
    """Return the weights of a run that did not stop while it was watched: a later stop may still have come.

    The stops of a time band count as coming in its middle, on a scale of equal ratios.
    """
    watched = 60.0 * (UNTOLD_MINUTES if minutes is None else minutes)
    rungs = len(effects.ladder.rungs)
    weights = {NO_STOP: 1.0}
    ends = (BAND_SECONDS[0], *BAND_SECONDS)
    for stop, place, _ in effects.stops:
        band = place - rungs
        weights[stop] = float(band >= 0 and watched < math.sqrt(ends[band] * ends[band + 1]))
    return weights


def _stopped(seen: Seen, stop: StopSeen, effects: Effects, *, is_loaded: bool) -> dict[int, float]:
    """Return the weights of a run that ended by itself."""
    places: dict[int, float] | None = None
    if stop.seconds is not None:
        places = _places_told(seen, stop.seconds, effects, is_loaded=is_loaded)
    weights = {NO_STOP: 0.0}
    for at, place, kind in effects.stops:
        weights[at] = 0.0 if stop.kind not in ("", kind) else 1.0 if places is None else places.get(place, 0.0)
    return weights


def _places_told(seen: Seen, seconds: float, effects: Effects, *, is_loaded: bool) -> dict[int, float] | None:
    """Return place -> weight for a stop told with its time, or None where the time fits no rung that was missed."""
    ladder = effects.ladder
    places: dict[int, float] = {}
    if seen.not_reached:
        highest = ladder.place(seen.not_reached)
        return dict.fromkeys((at for at in ladder.places_by(seconds) if at <= highest), 1.0) or None
    is_up = is_loaded or seen.reached == ladder.rungs[-1].id
    if is_up or seconds >= ladder.rungs[-1].seconds[0]:
        before = 0.0 if is_up else ladder.rungs[-1].seconds[1]  # counted from the start, log-in may be late
        first, last = band_of(seconds / TIMES_OFF - before), band_of(seconds * TIMES_OFF)
        places |= dict.fromkeys(range(len(ladder.rungs) + first, len(ladder.rungs) + last + 1), 1.0)
    if not is_loaded:
        places |= dict.fromkeys(ladder.places_by(seconds), 1.0)
    return places


def _signs(seen: Seen, used: tuple[str, ...]) -> dict[str, bool]:
    signs = {name: said == YES for name, said in seen.signs.items() if said in (YES, NO)}
    for output, stages in seen.picture.items():
        for each in used[:1] if output == "used" else (output,):
            signs |= {picture(each, stage): lit for stage, lit in stages.items()}
    return signs


def screens_of(sign: str, used: Iterable[str], effects: Effects) -> tuple[str, ...]:
    """Return the pictures of which one must be lit for a sign to be seen; () for one that is not on a screen."""
    if sign not in effects.book.signs or not effects.book.signs[sign].on_screen:
        return ()
    ladder = effects.ladder
    late = ladder.place(effects.book.signs[sign].needs) >= ladder.place(STAGES["system"])
    return tuple(picture(output, "system" if late else "self_test") for output in used)
