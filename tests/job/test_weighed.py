"""The record of a weighed job is plain, sorted data."""

import json
import math

from weighed_samples import weighed

from halfsplit.job.weighed import Conflict, LeftOut, Moved


def test_the_json_has_at_least_the_documented_keys_sorted_by_p():
    data = weighed().to_json()
    assert [fault["id"] for fault in data["faults"]] == ["plug_half_in", "memory_bad@memory.2", "supply_sags"]
    assert {"id", "part", "p"} <= set(data["faults"][0])
    assert [part["p"] for part in data["parts"]] == sorted((part["p"] for part in data["parts"]), reverse=True)
    assert [one["faults"] for one in data["sets"]] == [
        ["plug_half_in"],
        ["memory_bad@memory.2", "plug_half_in"],
    ]
    assert {"faults", "parts", "sets", "conflict", "bound_share"} <= set(data)


def test_what_is_infinite_is_null_so_that_it_is_json():
    data = weighed(
        log_p_readings=-math.inf,
        moved=(Moved("plug_half_in", "inspect_1", "half in", 0.5, 1.0),),
        conflict=Conflict(log_m=math.inf),
    ).to_json()
    text = json.dumps(data, allow_nan=False)
    assert json.loads(text) == data
    assert (data["log_p_readings"], data["moved"][0]["odds_after"]) == (None, None)
    assert data["moved"][0]["odds_before"] == 1.0


def test_a_conflict_is_asked_about_from_one_in_twenty_on():
    assert not Conflict(log_m=math.log(19.9)).is_alarm
    assert Conflict(log_m=math.log(20.1)).is_alarm
    assert Conflict(log_since=6.0, log_since_alarm=5.9).is_alarm


def test_the_estimate_of_what_was_left_out_is_told_with_its_ends():
    assert weighed(bound_share=0.002).to_json()["estimate"] is None
    data = weighed(bound_share=0.3, left_out=LeftOut(0.02, 0.01, 0.05)).to_json()
    assert data["estimate"] == {"share": 0.02, "low": 0.01, "high": 0.05}
    assert data["bound_share"] == 0.3
