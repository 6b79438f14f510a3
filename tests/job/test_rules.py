"""What raises a hard rule, and that nothing lifts it but what its text demands.

Common practice, no source: trade knowledge of benches, as in the fault book.  Limits of rails are the published ones.
"""

from itertools import combinations

import pytest
from folding import BOOK, job_of

from halfsplit.job.rules import Rules
from halfsplit.model.bench import Hazard

HIGH = "no_power_from_high_supply"
MEMORY = "no_memory_after_overvoltage"
SHORTED = "no_processor_into_shorted_board"
SMOKE = "no_power_after_smoke"
BURNT = "burnt_plug_both_halves"
TOO_HIGH = "measure: {at: rail_12v, volts: 14.5, id: high}"
REPLACED = "repair: {do: replace_supply}"
LENT = "setup: {supply: shelf.supply_a}"

SPILL_LOOKS = (
    "inspect: {at: inside, seen: fine}",
    "inspect: {at: liquid_path, seen: fine}",
    "inspect: {at: back_of_board, seen: fine}",
)
SMOKE_LOOKS = (
    "inspect: {at: inside, seen: fine}",
    "inspect: {at: smell_inside, tool: nose, seen: fine}",
    "inspect: {at: supply_exhaust, tool: nose, seen: fine}",
)


def rules(*log: str, told: str = "[]", machine: str = "{}") -> Rules:
    return Rules(job_of(*log, told=told, machine=machine), BOOK, {}, {})


def raised(*log: str, told: str = "[]", machine: str = "{}") -> list[str]:
    return [stop.id for stop in rules(*log, told=told, machine=machine).whatever_comes()]


def before(entry: str, *log: str, told: str = "[]") -> list[str]:
    """Return the rules that bar one more entry."""
    stops = rules(*log, told=told).before_check(BOOK.checks["counter_run"], job_of(entry).log)
    return [stop.id for stop in stops if stop.bars]


def asked_before(repair: str, *log: str) -> list[str]:
    return [stop.id for stop in rules(*log).before_repair(BOOK.repairs[repair])]


# A rail above its limit


@pytest.mark.parametrize(
    ("point", "most", "above"),
    [
        ("rail_12v", 12.6, 12.61),
        ("rail_12v", 12.6, 14.5),
        ("rail_5v", 5.25, 5.26),
        ("rail_3v3", 3.47, 3.48),
        ("rail_5vsb", 5.25, 5.26),
        ("rail_minus_12v", -13.2, -13.21),
        ("standby_plug_off", 5.25, 5.26),
        ("cpu_plug_12v", 12.6, 12.61),
        ("card_plug_12v", 12.6, 12.61),
    ],
)
def test_a_rail_above_its_published_limit_bars_its_supply_and_one_on_it_does_not(point, most, above):
    assert HIGH in raised(f"measure: {{at: {point}, volts: {above}}}")
    assert HIGH not in raised(f"measure: {{at: {point}, volts: {most}}}")


@pytest.mark.parametrize(("point", "volts"), [("rail_12v", 9.0), ("rail_minus_12v", -9.0), ("rail_12v", 0.0)])
def test_a_weak_rail_or_none_does_not(point, volts):
    assert raised(f"measure: {{at: {point}, volts: {volts}}}") == []


def test_the_stop_says_what_was_measured():
    stop = rules(TOO_HIGH).whatever_comes()[0]
    assert "14.5" in stop.line
    assert stop.bars


def test_such_a_supply_feeds_neither_machine_and_may_be_measured_alone_or_to_ground():
    assert HIGH in before("run: {reached: log_in}", TOO_HIGH)
    assert HIGH in before("run: {with: {supply: owner}, reached: log_in}", TOO_HIGH, LENT)
    assert HIGH in before("run: {on: bench, with: {supply: owner}, reached: log_in}", TOO_HIGH)
    assert HIGH in before("measure: {at: rail_5v, volts: 5.0}", TOO_HIGH)
    assert before("run: {with: {supply: shelf.supply_a}, reached: log_in}", TOO_HIGH) == []
    assert before("run: {on: bench, with: {card: owner}, reached: log_in}", TOO_HIGH) == []
    assert before("run: {on: supply_alone, with: {supply: owner}, reached: starts}", TOO_HIGH) == []
    assert before("measure: {at: short_cpu_12v, ohms: 40}", TOO_HIGH) == []


@pytest.mark.parametrize(
    "then",
    [
        REPLACED,
        LENT,
        "setup: {supply: out}",
        "correct: {entry: high, volts: 12.1}",
        "correct: {entry: high, withdrawn: yes}",
    ],
)
def test_another_supply_or_a_corrected_number_lifts_it(then):
    assert HIGH not in raised(TOO_HIGH, then)


def test_a_second_number_of_the_same_supply_does_not_and_putting_it_back_raises_it_again():
    assert HIGH in raised(TOO_HIGH, "measure: {at: rail_12v, volts: 12.1}")
    assert HIGH in raised(TOO_HIGH, LENT, "measure: {at: rail_12v, volts: 12.1}", "setup: {supply: owner}")
    assert HIGH in raised(TOO_HIGH, LENT, "setup: {supply: in}")


def test_a_lent_or_a_new_supply_is_barred_for_itself_alone():
    assert HIGH in raised(LENT, TOO_HIGH)
    assert HIGH not in raised(LENT, TOO_HIGH, "setup: {supply: owner}")
    assert HIGH in raised(REPLACED, TOO_HIGH)
    assert HIGH not in raised(REPLACED, TOO_HIGH, REPLACED)


def test_after_it_good_memory_is_asked_for_until_another_supply_is_in():
    assert MEMORY in asked_before("replace_memory", TOO_HIGH)
    assert MEMORY not in asked_before("replace_memory")
    assert MEMORY not in asked_before("replace_memory", TOO_HIGH, REPLACED)


def test_a_core_supply_that_was_measured_as_shorted_gets_no_processor():
    assert SHORTED in asked_before("replace_processor")
    assert SHORTED in asked_before("replace_processor", "measure: {at: short_cpu_12v, ohms: 0.4}")
    assert SHORTED not in asked_before("replace_processor", "measure: {at: short_cpu_12v, ohms: 40}")


# What lifts a stop, and what proves nothing


@pytest.mark.parametrize(
    "log",
    [
        ("measure: {at: mains_volts, volts: 230}",),
        (
            "inspect: {at: outlet_earth, tool: outlet_tester, seen: fine}",
            "inspect: {at: lead_earth, tool: multimeter, seen: fine}",
        ),
        ("repair: {do: replace_mains_lead}",),
    ],
)
def test_a_tingle_goes_to_an_electrician_whatever_was_measured(log):
    for told in ("[shock]", "[{signs: {tingle: yes}}]"):
        assert "tingle" in raised(*log, told=told)
        assert "tingle" not in raised(*log, "repair: {do: refer_electrician}", told=told)


@pytest.mark.parametrize(
    ("rule", "told", "looks"),
    [("no_power_after_liquid", "[spill]", SPILL_LOOKS), ("no_power_after_smoke", "[smell]", SMOKE_LOOKS)],
)
def test_all_looks_together_lift_it_and_none_that_leaves_one_out(rule, told, looks):
    assert rule in raised(told=told)
    for number in range(len(looks)):
        for some in combinations(looks, number):
            assert rule in raised(*some, told=told), some
    assert rule not in raised(*looks, told=told)
    assert rule not in raised(*reversed(looks), told=told)
    unsure = looks[1].replace("seen: fine", "seen: unsure")
    assert rule in raised(looks[0], looks[2], unsure, told=told)
    assert rule in raised(*looks[:2], unsure, looks[2], told=told)


def test_looks_from_before_the_smoke_do_not_count():
    smoke = "run: {reached: log_in, signs: {smoke_seen: yes}}"
    assert "no_power_after_smoke" in raised(*SMOKE_LOOKS, smoke)
    assert "no_power_after_smoke" in raised(*SMOKE_LOOKS[:2], smoke, SMOKE_LOOKS[2])
    assert "no_power_after_smoke" not in raised(smoke, *SMOKE_LOOKS)


def test_smoke_is_lifted_by_the_part_out_and_a_spill_by_drying_with_the_board_out():
    assert "no_power_after_smoke" in raised("repair: {do: dry_and_clean}", told="[smoke]")
    assert "no_power_after_smoke" not in raised(REPLACED, told="[smoke]")
    assert "no_power_after_liquid" in raised("repair: {do: let_it_dry}", told="[spill]")
    for done in ("dry_and_clean", "replace_leaking_cooler"):
        assert "no_power_after_liquid" not in raised(f"repair: {{do: {done}}}", told="[spill]")


def test_a_wet_way_of_the_liquid_raises_it_though_nobody_told_of_a_spill():
    assert "no_power_after_liquid" in raised("inspect: {at: liquid_path, seen: wet}")


def test_ohms_with_the_lead_out_are_measured_while_it_stands_and_volts_are_not():
    assert before("measure: {at: short_cpu_12v, ohms: 40}", told="[smoke]") == []
    assert before("measure: {at: rail_12v, volts: 12.1}", told="[smoke]") == ["no_power_after_smoke"]


def barred(check: str, *log: str, told: str = "[]") -> bool:
    return any(stop.bars for stop in rules(*log, told=told).before_check(BOOK.checks[check], ()))


LOOKS = [check for check in BOOK.checks.values() if check.kind == "inspect"]
STARTED = {"breaker_watched", "power_good_timed", "thermal_look"}
"""Looks that name no rung to get to, and whose steps start the machine."""
RUNNING = {check.id for check in LOOKS if check.host == "owner" and check.needs} | STARTED


@pytest.mark.parametrize("check", sorted(RUNNING))
def test_a_look_at_a_running_machine_is_barred_like_a_run(check):
    assert not barred(check)
    for told in ("[smoke]", "[spill]", "[shock]"):
        assert barred(check, told=told)
    assert barred(check, TOO_HIGH)


@pytest.mark.parametrize("check", sorted({check.id for check in LOOKS} - RUNNING))
def test_a_look_at_a_machine_that_is_off_is_allowed_while_a_stop_stands(check):
    assert not barred(check, TOO_HIGH, told="[smoke, spill, shock]")


def clearing(rule: Hazard) -> bool:
    cleared = rule.cleared
    by = cleared.repairs or cleared.seen or cleared.all_seen or cleared.facts or cleared.measured
    return bool(by or (rule.mended and set(rule.mended) == set(rule.raised.seen)))


def test_every_rule_that_bars_can_be_lifted():
    assert [rule.id for rule in BOOK.hazards.values() if rule.bars and not clearing(rule)] == []


@pytest.mark.parametrize(
    "entry",
    [
        "run: {on: supply_alone, with: {supply: owner}, reached: starts}",
        "run: {on: bench, with: {supply: owner}, reached: log_in}",
        "run: {on: bench, with: {card: owner}, reached: log_in}",
        "run: {on: bench, with: {memory: owner}, reached: log_in}",
    ],
)
@pytest.mark.parametrize("event", ["smell", "spill", "shock"])
def test_a_part_that_may_be_burnt_or_wet_gets_no_power_elsewhere_either(entry, event):
    assert before(entry, told=f"[{{event: {event}}}]")
    assert before(entry) == []


def test_a_drive_may_be_read_elsewhere_and_our_own_parts_started():
    told = "[{event: smell}]"
    assert before("run: {on: bench, reached: log_in}", told=told) == []
    assert before("run: {on: bench, with: {drive: owner}, reached: log_in}", told=told) == []


@pytest.mark.parametrize("seen", ["inside: wet", "liquid_path: wet", "case: wet", "coolant_trace: wet", "pump: leaks"])
def test_liquid_that_was_seen_ends_all_power_as_one_that_was_told_of(seen):
    at, _, word = seen.partition(": ")
    look = f"inspect: {{at: {at}, seen: {word}}}"
    assert raised(look) == ["no_power_after_liquid"]
    is_thing = at in BOOK.hazards["no_power_after_liquid"].mended
    assert raised(look, *SPILL_LOOKS) == (["no_power_after_liquid"] if is_thing else [])
    assert raised(*SPILL_LOOKS, look) == ["no_power_after_liquid"]


# A thing that was seen to be bad

MENDED = [
    (rule, look, repair)
    for rule in BOOK.hazards.values()
    for look, repairs in rule.mended.items()
    for repair in repairs
]
IDS = [f"{look}-{repair}" for _, look, repair in MENDED]


def seen_bad(rule: Hazard, look: str) -> str:
    return f"inspect: {{at: {look}, seen: {rule.raised.seen[look][0]}}}"


@pytest.mark.parametrize(("rule", "look", "repair"), MENDED, ids=IDS)
def test_what_was_seen_to_be_bad_bars_until_that_is_mended_or_seen_to_be_fine(rule, look, repair):
    bad = seen_bad(rule, look)
    assert rule.id in raised(bad)
    assert rule.id not in raised(bad, f"repair: {{do: {repair}}}")
    assert rule.id not in raised(bad, f"inspect: {{at: {look}, seen: {BOOK.inspections[look].fine}}}")
    assert rule.id in raised(bad, f"inspect: {{at: {look}, seen: unsure}}")
    assert rule.id in raised(bad, f"repair: {{do: {repair}}}", bad)


@pytest.mark.parametrize(("rule", "look", "repair"), MENDED, ids=IDS)
def test_work_elsewhere_does_not_lift_it_and_fine_looks_elsewhere_do_not(rule, look, repair):
    bad = seen_bad(rule, look)
    for other in set(rule.cleared.repairs) - set(rule.mended[look]):
        assert rule.id in raised(bad, f"repair: {{do: {other}}}"), other
    for others in (SPILL_LOOKS, SMOKE_LOOKS):
        assert rule.id in raised(bad, *(each for each in others if f"at: {look}," not in each))


def test_of_two_things_that_were_seen_to_be_bad_each_is_mended():
    board, card = "inspect: {at: board, seen: scorched}", "inspect: {at: card, seen: scorched}"
    assert SMOKE in raised(board, card, "repair: {do: replace_card}")
    assert SMOKE in raised(board, card, "repair: {do: replace_board}")
    assert SMOKE not in raised(board, card, "repair: {do: replace_card}", "repair: {do: replace_board}")


def test_smoke_that_was_told_of_needs_more_than_the_thing_seen_to_be_fine_again():
    card, fine = "inspect: {at: card, seen: scorched}", "inspect: {at: card, seen: fine}"
    assert SMOKE in raised(card, fine, told="[smoke]")
    assert SMOKE not in raised(card, "repair: {do: replace_card}", told="[smoke]")


def test_a_repair_at_one_of_several_mends_that_one():
    leads = [f"inspect: {{at: drive_power_plug.{number}, seen: burnt}}" for number in (1, 2)]
    first = "repair: {do: replace_drive_power_lead, at: drive_power_plug.1}"
    drives = "{drives: [sata, sata]}"
    assert BURNT not in raised(leads[0], first, machine=drives)
    assert BURNT in raised(leads[1], first, machine=drives)
    assert BURNT in raised(*leads, first, machine=drives)
    assert BURNT not in raised(*leads, "repair: replace_supply", machine=drives)


def test_before_a_mended_thing_no_look_is_offered_that_would_clear_it():
    stops = rules("inspect: {at: card, seen: scorched}").whatever_comes()
    assert rules("inspect: {at: card, seen: scorched}").to_be_seen(stops) is None
