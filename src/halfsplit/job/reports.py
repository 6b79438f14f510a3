"""What a report says of a run, as weights of totals: 1 where the run can have gone so, 0 where it cannot.

A report weighs stops and signs by one number each, or by one for each level of how far its teller goes.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from halfsplit.job.effects import STAGES, Effects, picture
from halfsplit.model.evidence import NO_STOP
from halfsplit.model.job import NO, YES, Seen, StopSeen
from halfsplit.model.ladder import BAND_SECONDS, band_of

UNTOLD_MINUTES = 10.0
"""How long a run was watched that did not stop, where nobody said, in minutes (estimate)."""

NEXT_BAND = 0.5
"""The weight of the time bands beside the one told: nobody looks at a clock (estimate)."""


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
    seen: Seen, used: tuple[str, ...], effects: Effects, *, minutes: float | None, is_loaded: bool
) -> Report:
    """Return the report of a run.

    Args:
        seen: what it showed.
        used: the outputs that the monitor was on.
        effects: the bits and stops of the book.
        minutes: how long it was watched, in minutes; None = nobody said.
        is_loaded: whether it was under load, which it can only be after log-in.

    Returns:
        Stops below a rung that was reached weigh 0, and so do those at or above one that was not.  A stop
        told with its time weighs 1 in its band and half in the next ones, or at the rungs that a machine
        may be at by then.  Signs of which somebody was unsure are left out.
    """
    ladder = effects.ladder
    low = ladder.needs_stop(seen.reached) if seen.reached else 0
    high = ladder.needs_stop(seen.not_reached) if seen.not_reached else NO_STOP + 1
    if seen.stayed:
        weights = _stayed(effects, minutes)
    elif seen.stop is not None:
        weights = _stopped(seen, seen.stop, effects, is_loaded=is_loaded)
    else:
        weights = {}
    every = [*(stop for stop, _, _ in effects.stops), NO_STOP]
    stops = {stop: weights.get(stop, 1.0) if low <= stop < high else 0.0 for stop in every}
    return Report({stop: weight for stop, weight in stops.items() if weight < 1.0}, _signs(seen, used))


def passed_report(seen: Seen, used: tuple[str, ...], effects: Effects, *, minutes: float | None) -> Report:
    """Return the report of the runs that went through where others failed: they did not show what those did."""
    signs = {name: False for name, was in _signs(seen, used).items() if was and not name.startswith("picture:")}
    signs |= {name: True for name, was in _signs(seen, used).items() if not was and name.startswith("picture:")}
    if seen.not_reached:
        low = effects.ladder.needs_stop(seen.not_reached)
        return Report({stop: 0.0 for stop, _, _ in effects.stops if stop < low}, signs)
    if seen.stop is not None:
        return Report({stop: w for stop, w in _stayed(effects, minutes).items() if w < 1.0}, signs)
    return Report({}, signs)


def stops_between(effects: Effects, low: int, high: int) -> dict[int, float]:
    """Return the weights that leave the stops from ``low`` to below ``high`` only."""
    every = [*(stop for stop, _, _ in effects.stops), NO_STOP]
    return {stop: 0.0 for stop in every if not low <= stop < high}


def _stayed(effects: Effects, minutes: float | None) -> dict[int, float]:
    """Return the weights of a run that did not stop while it was watched: later stops may still have come.

    Within its band a stop is as likely in each equal ratio of times (log-uniform).
    """
    watched = 60.0 * (UNTOLD_MINUTES if minutes is None else minutes)
    rungs = len(effects.ladder.rungs)
    weights = {NO_STOP: 1.0}
    for stop, place, _ in effects.stops:
        weights[stop] = 0.0
        if place >= rungs:
            end = BAND_SECONDS[place - rungs]
            begin = BAND_SECONDS[place - rungs - 1] if place > rungs else end / 10.0
            if watched < end:
                weights[stop] = min(1.0, math.log(end / max(watched, begin)) / math.log(end / begin))
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
    if seconds >= ladder.rungs[-1].seconds[0] or is_loaded or seen.reached == ladder.rungs[-1].id:
        band = len(ladder.rungs) + band_of(seconds)
        first, last = len(ladder.rungs), len(ladder.rungs) + len(BAND_SECONDS) - 1
        places |= {near: NEXT_BAND for near in (band - 1, band + 1) if first <= near <= last}
        places[band] = 1.0
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
