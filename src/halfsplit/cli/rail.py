"""``halfsplit rail``: a measured voltage against the published limits of its rail."""

import json
import re

from halfsplit.errors import InputError, Mistake, UsageError
from halfsplit.job.amounts import SYMBOLS, with_symbol
from halfsplit.measure import BENCH_METER, Limits, Meter, RailVerdict, judge_rail, parse_meter
from halfsplit.text import in_words

_NUMBER = re.compile(r"([-+]?\s*(?:\d+(?:[.,]\d*)?|[.,]\d+))\s*[vV]?")
_NEVER_SURER = 1.0 - 1e-9  # a meter's accuracy is itself no certainty
_SAYS = {"pass": "passes", "fail": "fails", "cannot_tell": "cannot tell"}


def show_rail(
    name: str, reading: str, meter: str | None, resolution: str | None, revision: str, *, as_json: bool
) -> None:
    """Print the verdict on a reading.

    Args:
        name: the rail, as people write it.
        reading: what the meter shows, in volts, as it was written.
        meter, resolution: its accuracy and its last digit in volts; both None = the usual bench meter.
        revision: the revision that the supply was built to.
        as_json: as JSON, for programs.

    Raises:
        UsageError: HS902, a number cannot be read; HS903, only half of the meter was told.
        MeasurementError: the rail, the revision, the meter or the reading makes no sense.
    """
    verdict, used = _judge(name, reading, meter, resolution, revision)
    if as_json:
        print(json.dumps(_as_data(verdict, used), indent=2))
        return
    limits, accept, fails = verdict.limits, verdict.acceptance, _between(verdict.fail_beyond)
    passes = f"a reading passes in {_between(accept)}" if accept is not None else "no reading can pass with this meter"
    print(f"{verdict.rail} reads {_in_volts(f'{verdict.reading_volts:g}')}: {_SAYS[verdict.verdict]}")
    print(f"  limits     {_between(limits)}, revision {limits.revision}: {limits.source}")
    print(f"  meter      off by {_in_volts(f'{verdict.half_width_volts:.3f}')} at most ({used.name})")
    print(f"  guard band {_in_volts(f'{verdict.guard_band_volts:.3f}')}: {passes}, fails outside {fails}")
    print(f"  in limits  {in_words(min(verdict.p_in_limits, _NEVER_SURER))}")


def _judge(
    name: str, reading: str, meter: str | None, resolution: str | None, revision: str
) -> tuple[RailVerdict, Meter]:
    """Return the verdict and the meter; every mistake in the numbers is told at once."""
    mistakes: list[Mistake] = []
    volts = _volts(reading, "READING", mistakes)
    step = _volts(resolution, "--resolution", mistakes) if resolution is not None else None
    used = BENCH_METER
    if (meter is None) != (resolution is None):
        so = f"'{'--meter' if meter is None else '--resolution'}' is left out"
        should = "a meter is its accuracy and its last digit together"
        do = "Write both, as in --meter 0.5%+2 --resolution 0.01, or neither for the usual bench meter"
        mistakes.append(Mistake("halfsplit rail", "HS903", so, should, do))
    elif meter is not None and step is not None:
        try:
            used = parse_meter(meter, resolution_volts=step)
        except InputError as error:
            mistakes += error.mistakes
    try:
        verdict = judge_rail(name, volts if volts is not None else 0.0, used, revision)
    except InputError as error:
        mistakes += error.mistakes
    if mistakes:
        raise UsageError(mistakes)
    return verdict, used


def _volts(text: str, what: str, mistakes: list[Mistake]) -> float | None:
    """Return a number of volts, or None with a mistake."""
    match = _NUMBER.fullmatch(text.strip())
    if match:
        return float(re.sub(r"\s", "", match[1]).replace(",", "."))
    so, do = f"'{text.strip()}' is no number", "Write a number of volts, such as 11.42"
    mistakes.append(Mistake(f"halfsplit rail {what}", "HS902", so, "it is a number of volts", do))
    return None


def _between(limits: Limits) -> str:
    sides = (limits.low_volts, limits.high_volts)
    low, high = ("open" if side is None else f"{side:.2f}" for side in sides)
    return _in_volts(f"{low} to {high}")


def _in_volts(number: str) -> str:
    return with_symbol(number, SYMBOLS["volts"])


def _as_data(verdict: RailVerdict, meter: Meter) -> dict[str, object]:
    return {
        "verdict": verdict.verdict.value,
        "rail": verdict.rail,
        "reading_volts": verdict.reading_volts,
        "half_width_volts": verdict.half_width_volts,
        "guard_band_volts": verdict.guard_band_volts,
        "p_in_limits": verdict.p_in_limits,
        "limits": _limits_as_data(verdict.limits),
        "passes_within": None if verdict.acceptance is None else _limits_as_data(verdict.acceptance),
        "fails_outside": _limits_as_data(verdict.fail_beyond),
        "meter": {
            "name": meter.name,
            "percent_of_reading": meter.percent_of_reading,
            "digits": meter.digits,
            "resolution_volts": meter.resolution_volts,
        },
    }


def _limits_as_data(limits: Limits) -> dict[str, object]:
    return {
        "low_volts": limits.low_volts,
        "high_volts": limits.high_volts,
        "source": limits.source,
        "revision": limits.revision,
    }
