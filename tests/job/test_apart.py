"""What checks show of one fault alone, and which faults that leaves hard to tell apart."""

from dataclasses import replace
from math import exp, sqrt

import numpy as np
import pytest
from folding import BOOK, fold

from halfsplit.infer import log_p_readings
from halfsplit.job.alone import Alone, Showing, Shown, show_alone
from halfsplit.job.apart import P_MISREAD, Apart
from halfsplit.job.asked import entries_of
from halfsplit.job.wrong_taps import P_MISTAPPED
from halfsplit.model.evidence import Evidence
from halfsplit.model.job import Inspect, Measure, Run

SHOWN = show_alone(BOOK)
APART = Apart(BOOK, SHOWN)


def chance(check: str, what: str, fault: str, pattern: str, **wanted: str) -> float:
    """The chance that a reading has some values of its features, with one pattern alone."""
    showing = next(each for each in SHOWN.showings if (each.check, each.what) == (check, what))
    number = next(n for n, each in enumerate(SHOWN.alone) if (each.fault, each.pattern) == (fault, pattern))
    places = {showing.features.index(feature): value for feature, value in wanted.items()}
    p = showing.p[showing.row[number]]
    return sum(
        float(p[n])
        for n, result in enumerate(showing.results)
        if all(result[place] == value for place, value in places.items())
    )


def by_the_engine(entry: str, fault: str, pattern: str) -> float:
    """P(the reading of one entry) by the engine, where one pattern of one fault is certain and all else absent."""
    folded = fold(entry)
    evidence = folded.evidence
    roots = []
    for root in evidence.roots:
        start = np.zeros(len(root.states))
        start[root.states.index(pattern) if root.id.partition("@")[0] == fault and root.id[-1:] != "2" else 0] = 1.0
        roots.append(replace(root, start=start, given=(), moves=()))
    readings = tuple(reading for reading in evidence.readings if reading.id != "brought_in")
    assert len(readings) == 1
    return exp(log_p_readings(Evidence((), tuple(roots), readings, evidence.spreads)))


@pytest.mark.parametrize(
    ("check", "what", "fault", "pattern", "wanted", "entry"),
    [
        (
            "front_leads_off_pins",
            "run",
            "memory_not_home",
            "stops",
            {"fans_turn": "yes", "picture:card:self_test": "yes"},
            "run: {started_by: pins, with: {front_panel: out, front_usb: out}, signs: {fans_turn: yes}, "
            "picture: {card: {self_test: yes}}}",
        ),
        (
            "memory_out_listen",
            "run",
            "cell_flat",
            "clock_lost",
            {"memory_complaint": "no"},
            "run: {started_by: front, with: {memory: out, speaker: shelf.speaker_bench}, "
            "signs: {memory_complaint: no}}",
        ),
        (
            "load_card",
            "run",
            "card_paste_dry",
            None,
            {"card_hot": "yes"},
            "run: {load: card, minutes: 30, with: {drive: out, stick: shelf.start_stick}, signs: {card_hot: yes}}",
        ),
        (
            "socket_look",
            "processor_seat",
            "socket_pins_bent",
            None,
            {"processor_seat": "bent_pins"},
            "inspect: {at: processor_seat, tool: glass, seen: bent_pins}",
        ),
    ],
)
def test_a_result_is_as_likely_as_the_engine_says(check, what, fault, pattern, wanted, entry):
    pattern = pattern or BOOK.faults[fault].patterns[0].id
    ours = chance(check, what, fault, pattern, **wanted)
    assert 0.0 < ours < 1.0
    odd = [sign for sign, was in wanted.items() if sign in BOOK.signs and (was == "yes") != BOOK.signs[sign].is_on]
    tapped = P_MISTAPPED * (1.0 - ours) if odd else 0.0  # an odd sign may have been tapped where there was none
    assert by_the_engine(entry, fault, pattern) == pytest.approx(ours + tapped, rel=1e-9)


def test_every_check_but_the_questions_gives_readings():
    with_readings = {showing.check for showing in SHOWN.showings}
    asking = {check.id for check in BOOK.checks.values() if check.kind != "ask"}
    assert asking <= with_readings


def test_every_fault_that_matters_shows_in_some_check():
    for fault, overlap in zip(APART.faults, APART.with_sound, strict=True):
        if BOOK.faults[fault].matters and not BOOK.faults[fault].is_unlisted:
            assert overlap < 0.8, fault


def test_the_chances_of_each_reading_add_up_to_1():
    for showing in SHOWN.showings:
        assert showing.p.min() >= 0.0
        assert showing.p.sum(axis=1) == pytest.approx(1.0)
        assert len(showing.row) == len(SHOWN.alone) + 1


def test_a_check_becomes_its_entries():
    run = entries_of(BOOK.checks["memory_out_listen"], BOOK)[0]
    assert isinstance(run, Run)
    assert dict(run.swaps) == {"memory": "out", "speaker": "shelf.speaker_bench"}
    look, *_ = [entry for entry in entries_of(BOOK.checks["socket_look"], BOOK) if isinstance(entry, Inspect)]
    assert look.tool == "glass"
    number, *_ = [entry for entry in entries_of(BOOK.checks["rails_under_load"], BOOK) if isinstance(entry, Measure)]
    assert number.load == "all"
    assert entries_of(BOOK.checks["ask_before"], BOOK) == ()


def shown(first: float, second: float) -> Shown:
    """One look that tells two faults apart by chance only."""
    p = np.array([[first, 1.0 - first], [second, 1.0 - second], [0.01, 0.99]])
    faults = (Alone("board_dead", "a", 1.0), Alone("processor_dead", "a", 1.0))
    look = Showing("socket_look", "processor_seat", ("processor_seat",), (("bent_pins",), ("fine",)), p, np.arange(3))
    return Shown(faults, (look,), ())


def test_the_overlap_of_two_coins_is_bhattacharyyas_coefficient():
    """rho = sum of sqrt(p q); the definition in Kailath, IEEE Trans. Communication Technology 15 (1967), eq. 3."""
    p, q = ((1.0 - P_MISREAD) * each + P_MISREAD / 2 for each in (0.8, 0.3))
    rho = sqrt(p * q) + sqrt((1.0 - p) * (1.0 - q))
    assert Apart(BOOK, shown(0.8, 0.3)).overlap[0, 1] == pytest.approx(rho)


def test_equal_faults_overlap_wholly_and_are_named():
    apart = Apart(BOOK, shown(0.8, 0.8))
    assert apart.overlap[0, 1] == pytest.approx(1.0)
    assert apart.alike() == (("board_dead", "processor_dead"),)
    assert apart.best_telling("board_dead", "processor_dead") is None


def test_the_best_reading_comes_with_the_chances_on_both_sides():
    telling = Apart(BOOK, shown(0.8, 0.01)).best_telling("board_dead", "processor_dead")
    assert telling is not None
    assert (telling.p, telling.p_other) == pytest.approx((0.8, 0.01))
    assert telling.line == "socket and underside of the processor: bent pins"


def test_neighbours_are_what_a_bench_takes_for_each_other():
    """Common practice, no source: these are what technicians confuse."""
    for fault, other in {
        "board_dead": "processor_dead",
        "wrong_input": "monitor_bad",
        "mains_lead_bad": "outlet_dead",
        "paste_dry": "cooler_clogged",
    }.items():
        first = APART.neighbour(fault)
        assert other in (first, APART.neighbour(fault, beside=[first])), fault


def test_what_shows_too_little_is_nobodys_neighbour():
    assert Apart(BOOK, shown(0.8, 0.95)).neighbour("board_dead") == "processor_dead"
    hidden = Apart(BOOK, shown(0.8, 0.01))
    assert hidden.with_sound[1] == pytest.approx(1.0)
    assert hidden.neighbour("board_dead") == ""


def test_machines_of_another_kind_have_no_neighbours_here():
    assert BOOK.faults["drive_failing"].only["boot_drive_type"] == ("mechanical",)
    other = BOOK.faults[APART.neighbour("ssd_failing")]
    assert not {"sata", "m2"}.isdisjoint(other.only.get("boot_drive_type", ("sata",)))


def test_the_overlap_is_symmetric_and_1_only_with_itself():
    assert APART.overlap == pytest.approx(APART.overlap.T)
    assert np.diag(APART.overlap) == pytest.approx(1.0)
    assert APART.overlap.min() >= 0.0
