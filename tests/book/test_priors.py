"""What a complaint alone makes likely, against the trade's own estimates.

All shares here are estimates of bench work, without a published source; each is good to a factor of two either way.
"""

from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import cache
from math import exp

import numpy as np
import pytest

from halfsplit.book import shipped_book
from halfsplit.infer import log_p_readings
from halfsplit.job.fold import MOST_MACHINES, fold_job
from halfsplit.model.evidence import Evidence, Root
from halfsplit.model.faults import Fault, Pattern
from halfsplit.model.job import Job, OwnedPart

BOOK = shipped_book()
FACTOR = 2.0
"""How far an estimate of the trade may be off, either way."""

SCALE = 0.55
"""Faults that matter in a machine that stands for a repair, on average: see decision 18."""

SHARES = dict(
    zip(
        [f"T{number:02}" for number in range(1, 61)],
        [
            *(0.050, 0.043, 0.041, 0.041, 0.038, 0.038, 0.034, 0.031, 0.031, 0.029),
            *(0.029, 0.027, 0.027, 0.025, 0.022, 0.020, 0.018, 0.016, 0.016, 0.016),
            *(0.014, 0.014, 0.014, 0.013, 0.013, 0.011, 0.011, 0.011, 0.011, 0.011),
            *(0.010, 0.010, 0.009, 0.009, 0.009, 0.008, 0.008, 0.008, 0.007, 0.006),
            *(0.006, 0.006, 0.006, 0.006, 0.006, 0.005, 0.005, 0.005, 0.005, 0.005),
            *(0.005, 0.005, 0.005, 0.005, 0.005, 0.004, 0.004, 0.004, 0.004, 0.004),
        ],
        strict=True,
    )
)
"""Common cause -> its share among all jobs, as the main cause."""

NOTHING_HAPPENS = {
    "supply": 0.38,
    "board": 0.15,
    "mains side": 0.12,
    "front switch or its leads": 0.10,
    "plug off or half in": 0.09,
    "a short somewhere": 0.08,
    "rest": 0.08,
}

NO_PICTURE = {
    "memory contact, module or slot": 0.30,
    "wrong output, cable or monitor": 0.17,
    "graphics card or its power": 0.17,
    "board": 0.12,
    "processor, its socket or power lead": 0.07,
    "settings or firmware": 0.07,
    "power supply": 0.04,
    "long memory training": 0.03,
    "rest": 0.03,
}

MAINS = {"outlet", "mains_lead", "wall_plug", "mains_plug"}
FRONT = {"front_panel", "front_switch_leads"}
PLUGS = {"main_power_plug", "cpu_power_plug", "card_power_plug", "drive_power_plug", "supply_lead_plug"}
MEMORY = {"memory", "memory_seat"}
PICTURE = {"monitor", "video_cable", "video_plug", "board_video_plug", "monitor_plug", "monitor_mains_plug"}
CARD = {"card", "card_seat", "card_power_plug", "riser", "riser_seat", "riser_card_seat"}
PROCESSOR = {"processor", "processor_seat", "cpu_power_plug"}
SETTINGS = {"settings", "firmware", "cell"}
FAR_FROM_POWER = {"system", "monitor", "video_cable", "headset", "network", "network_lead", "settings", "firmware"}


def of_nothing(fault: Fault, at: set[str]) -> str:
    """The group that a fault with these footholds is of, where nothing happens at the button."""
    groups = (
        ("rest", fault.cause == "T07"),
        ("a short somewhere", fault.cause in ("T43", "T52", "T58")),
        ("mains side", bool(at & MAINS)),
        ("front switch or its leads", bool(at & FRONT)),
        ("plug off or half in", bool(at & PLUGS)),
        ("supply", "supply" in at),
        ("board", "board" in at),
        ("rest", bool(at & (FAR_FROM_POWER | PICTURE))),
    )
    return next((group for group, is_of in groups if is_of), "a short somewhere")


def of_no_picture(fault: Fault, at: set[str]) -> str:
    """The group that a fault with these footholds is of, where there are lights or fans and no picture."""
    looked_at = {BOOK.inspections[look.inspection].at for pattern in fault.patterns for look in pattern.looks}
    groups = (
        ("long memory training", fault.cause == "T54"),
        ("memory contact, module or slot", bool(at & MEMORY) or (at == {"board"} and bool(looked_at & MEMORY))),
        ("wrong output, cable or monitor", bool(at & PICTURE)),
        ("graphics card or its power", bool(at & CARD)),
        ("processor, its socket or power lead", bool(at & PROCESSOR) and "firmware" not in at),
        ("settings or firmware", bool(at & SETTINGS)),
        ("board", "board" in at),
        ("power supply", bool(at & {"supply", "supply_lead_plug", "main_power_plug"})),
    )
    return next((group for group, is_of in groups if is_of), "rest")


@cache
def main_causes(complaint: str) -> Mapping[tuple[str, str], float]:
    """Fault and pattern -> its share as the one fault of a machine of which only the complaint is known.

    By the engine: odds of the pattern at intake x P(the complaint | it alone).
    """
    folded = fold_job(Job(complaint=complaint), BOOK)
    evidence = folded.evidence
    readings = tuple(reading for reading in evidence.readings if reading.id == "complaint")
    assert len(readings) == 1

    def p_complaint(roots: list[Root]) -> float:
        return exp(log_p_readings(Evidence(evidence.contexts, tuple(roots), readings, evidence.spreads)))

    fault_of = {root.id: BOOK.faults.get(folded.roots[root.id].fault) for root in evidence.roots}
    by_nature = [root for root in evidence.roots if is_by_nature(fault_of[root.id])]
    weights: dict[tuple[str, str], float] = {}
    for root in evidence.roots:
        fault = fault_of[root.id]
        if fault is None or is_by_nature(fault):
            continue
        for number, state in enumerate(root.states[1:], 1):
            start = np.zeros(len(root.states))
            start[number] = 1.0
            odds = float(root.start[number] / root.start[0])
            p = p_complaint([replace(root, start=start, moves=()), *by_nature]) if odds > 0.0 else 0.0
            weights[fault.id, state] = weights.get((fault.id, state), 0.0) + odds * p
    whole = sum(weights.values())
    return {key: weight / whole for key, weight in weights.items()}


def is_by_nature(fault: Fault | None) -> bool:
    """Whether it is no fault but what most machines do."""
    return fault is not None and fault.is_normal and fault.base.p > MOST_MACHINES


def grouped(complaint: str, group_of: Callable[[Fault, set[str]], str]) -> dict[str, float]:
    found: dict[str, float] = {}
    for (fault_id, state), share in main_causes(complaint).items():
        fault = BOOK.faults[fault_id]
        pattern: Pattern = next(each for each in fault.patterns if each.id == state)
        group = group_of(fault, set(pattern.at or fault.at))
        found[group] = found.get(group, 0.0) + share
    return found


def by_cause(complaint: str) -> dict[str, float]:
    found: dict[str, float] = {}
    for (fault_id, _), share in main_causes(complaint).items():
        cause = BOOK.faults[fault_id].cause
        found[cause] = found.get(cause, 0.0) + share
    return found


@pytest.mark.parametrize("group", NOTHING_HAPPENS)
def test_where_nothing_happens_each_group_has_its_share(group):
    share = grouped("nothing_happens", of_nothing)[group]
    assert NOTHING_HAPPENS[group] / FACTOR <= share <= NOTHING_HAPPENS[group] * FACTOR


@pytest.mark.parametrize("group", NO_PICTURE)
def test_without_a_picture_each_group_has_its_share(group):
    share = grouped("lights_no_picture", of_no_picture)[group]
    assert NO_PICTURE[group] / FACTOR <= share <= NO_PICTURE[group] * FACTOR


@pytest.mark.parametrize(
    ("complaint", "leading", "hardly"),
    [
        ("picture_then_stops", ["T01", "T04", "T05", "T15", "T22", "T21"], ["T25", "T06", "T16", "T34"]),
        ("starts_misbehaves", ["T08", "T10", "T01", "T13", "T04"], ["T25", "T06", "T15", "T16"]),
        ("slow_noisy_other", ["T02", "T03", "T04", "T01"], ["T25", "T06", "T15", "T11"]),
    ],
)
def test_what_leads_in_a_class_leads_and_what_cannot_show_so_hardly_counts(complaint, leading, hardly):
    """For these classes the trade has no shares of its own: the causes that show so lead, the commonest first."""
    shares = by_cause(complaint)
    listed = sorted((cause for cause in shares if cause), key=lambda cause: -shares[cause])
    assert set(leading) <= set(listed[: len(leading) + 3])
    for cause in hardly:
        assert shares[cause] < SHARES[cause]


RISER = Job(machine={"mount": "on_riser"}, parts=(OwnedPart("riser"),))


def at_intake(faults: Callable[[Fault], bool], job: Job = Job()) -> np.ndarray:  # noqa: B008  a job is frozen
    """The chance of each fault that counts, in a machine of which nothing else is known; each place counts."""
    folded = fold_job(job, BOOK)
    roots = [(root, BOOK.faults.get(folded.roots[root.id].fault)) for root in folded.evidence.roots]
    return np.array([1.0 - root.start[0] for root, fault in roots if fault is not None and faults(fault)])


@pytest.mark.parametrize("cause", SHARES)
def test_each_common_cause_has_its_share_of_all_jobs(cause):
    with_riser = BOOK.facts["mount"].values["on_riser"]  # the only part that most machines have not
    p = sum(
        share * at_intake(lambda fault: fault.cause == cause and not is_by_nature(fault), job).sum()
        for share, job in ((1.0 - with_riser, Job()), (with_riser, RISER))
    )
    assert SCALE * SHARES[cause] / FACTOR <= p <= SCALE * SHARES[cause] * FACTOR


def test_the_unlisted_are_a_tenth_of_all_jobs():
    p = at_intake(lambda fault: fault.is_unlisted).sum()
    assert SCALE * 0.10 / FACTOR <= p <= SCALE * 0.10 * FACTOR


def test_a_machine_brought_in_has_two_faults_that_matter_in_a_quarter_of_the_jobs():
    """0.25, from 0.15 to 0.35 (estimate of the trade).  Faults are independent at intake: a Poisson binomial."""
    p = at_intake(lambda fault: fault.matters and not is_by_nature(fault))
    p_other = at_intake(lambda fault: not fault.matters and not is_by_nature(fault))
    none = np.prod(1.0 - p)
    one = none * np.sum(p / (1.0 - p))
    brought_in = 1.0 - none * np.prod(1.0 - p_other)
    assert 0.15 <= (1.0 - none - one) / brought_in <= 0.35


def test_the_scale_of_all_bases_is_the_one_that_gives_a_quarter():
    """P(two or more | one or more) of a Poisson count with this mean is 0.25: decision 18."""
    none, one = exp(-SCALE), SCALE * exp(-SCALE)
    assert (1.0 - none - one) / (1.0 - none) == pytest.approx(0.25, abs=0.005)
