"""Burglary, earthquake, alarm and two callers; and how far findings speak against each other.

Sources: the network is the public textbook one (Pearl 1988; Russell and Norvig), recalled and
recomputed; the textbook prints P(burglary | both call) = .284.  The conflict measure
log(prod P(e) / P(all e)) is read: Jensen, Chamberlain, Nordahl and Jensen, on the analysis of data
conflict, UAI 1990.  All conflict figures here: base 2, recomputed.

Burglary and earthquake are one root with four states.  The alarm is what that root does in one run, so
it is drawn once for all that the run shows; the callers are unsure reports of it.
"""

from math import log2

import numpy as np
import pytest
from judges import by_both

from halfsplit.model.evidence import Acts, Effect, Evidence, Reading, Root, SignAsked

P_BURGLARY, P_EARTHQUAKE = 0.001, 0.002
P_ALARM = {"neither": 0.001, "earthquake": 0.29, "burglary": 0.94, "both": 0.95}
JOHN, MARY, ALARM, BURGLARY = range(4)
THE_ALARM_GOES = Effect(shown=1 << JOHN | 1 << MARY | 1 << ALARM)
IN_THE_HOUSE = Effect(shown=1 << BURGLARY)

REPORTS = {
    "john": SignAsked(JOHN, 0, 0.90, 0.05),
    "not john": SignAsked(JOHN, 0, 0.10, 0.95),
    "mary": SignAsked(MARY, 0, 0.70, 0.01),
    "not mary": SignAsked(MARY, 0, 0.30, 0.99),
    "alarm": SignAsked(ALARM, 0, 1.0, 0.0),
    "no alarm": SignAsked(ALARM, 0, 0.0, 1.0),
    "burglary": SignAsked(BURGLARY, 0, 1.0, 0.0),
}


def cause():
    b, e = P_BURGLARY, P_EARTHQUAKE
    return Root(
        id="cause",
        states=tuple(P_ALARM),
        start=np.array([(1 - b) * (1 - e), (1 - b) * e, b * (1 - e), b * e]),
        acts={
            "night": tuple(Acts(((p, THE_ALARM_GOES),)) for p in P_ALARM.values()),
            "look": tuple(Acts(((1.0, IN_THE_HOUSE),)) if state in {"burglary", "both"} else None for state in P_ALARM),
        },
    )


def told(*reports):
    """One night with one alarm or none; whether there was a burglar is another look."""
    night = tuple(REPORTS[report] for report in reports if report != "burglary")
    readings = [Reading("night", 0, signs=night)]
    if "burglary" in reports:
        readings.append(Reading("look", 0, signs=(REPORTS["burglary"],)))
    return Evidence((), (cause(),), tuple(readings))


@pytest.mark.parametrize(
    ("reports", "p", "half_last_digit"),
    [
        (("alarm",), 0.002516442, 5e-10),
        (("john",), 0.0521389757, 5e-11),
        (("mary",), 0.01173634498, 5e-12),
        (("john", "mary"), 0.002084100239, 5e-13),
    ],
)
@by_both
def test_p_of_the_reports(judge, reports, p, half_last_digit):
    assert float(judge(told(*reports)).p_readings) == pytest.approx(p, rel=0, abs=half_last_digit)


@by_both
def test_two_calls_make_a_burglary_likelier_than_an_earthquake(judge):
    _, earthquake, burglary, both = map(float, judge(told("john", "mary")).p_states("cause"))
    assert burglary + both == pytest.approx(0.284172, rel=0, abs=5e-7)
    assert earthquake + both == pytest.approx(0.176067, rel=0, abs=5e-7)


@pytest.mark.parametrize(
    ("one", "other", "conflict_bits"),
    [
        ("john", "mary", -1.768007),
        ("john", "not mary", 0.041820),
        ("alarm", "not john", 3.244676),
        ("burglary", "no alarm", 4.055740),
    ],
)
@by_both
def test_the_conflict_of_two_reports(judge, one, other, conflict_bits):
    apart = float(judge(told(one)).p_readings) * float(judge(told(other)).p_readings)
    together = float(judge(told(one, other)).p_readings)
    assert log2(apart / together) == pytest.approx(conflict_bits, rel=0, abs=5e-7)
