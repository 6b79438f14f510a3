"""What is advised in jobs of the trade: hard rules first, the cheap and likely before the dear, and in time to stop.

Common practice, no source: trade knowledge of benches, as in the fault book.
"""

from dataclasses import replace
from functools import cache
from math import isfinite

import pytest
from folding import BOOK, job_of

from halfsplit.job.advise import advise, fold_and_weigh
from halfsplit.job.advised import CHECK, FIRST
from halfsplit.job.amounts import NO_BREAK
from halfsplit.job.kept import Kept
from halfsplit.job.lines import result_line
from halfsplit.job.outlook import look_out
from halfsplit.job.weighed import Conflict, Weighed
from halfsplit.model.rates import Rates

KEPT = Kept(BOOK)
COUNTER = (
    "run: {with: {outlet: shelf.outlet_bench, mains_lead: shelf.mains_lead_bench}, not: starts,"
    " signs: {fans_turn: no, power_light: no}}"
)
DEAD = "run: {not: starts, signs: {fans_turn: no, power_light: no}}"
BUILT = "{kind: built, age_years: 4, supply: {shape: standard size}}"


@cache
def advice(*log, machine=BUILT, told="[]", complaint="nothing_happens"):
    return advise(job_of(*log, machine=machine, told=told, complaint=complaint), BOOK, kept=KEPT)


def place(found, name):
    return next(n for n, each in enumerate(found.proposals) if each.id == name)


def powers_up(found, name):
    return name in BOOK.checks and BOOK.checks[name].kind in ("run", "measure")


def test_the_same_job_gets_the_same_advice_whatever_was_asked_before():
    job = job_of(DEAD, machine=BUILT, complaint="nothing_happens")
    cold = advise(job, BOOK)
    warm = advise(job, BOOK, kept=KEPT)
    assert [each.id for each in cold.proposals] == [each.id for each in warm.proposals]
    assert warm.top == cold.top
    for one, other in zip(cold.proposals, warm.proposals, strict=True):
        assert other.total == pytest.approx(one.total, rel=1e-9)
        assert [outcome.line for outcome in other.outcomes] == [outcome.line for outcome in one.outcomes]


@pytest.mark.parametrize("complaint", ["nothing_happens", "lights_no_picture", "starts_misbehaves"])
def test_the_counter_run_comes_first(complaint):
    assert advice(complaint=complaint).top == FIRST


def test_what_would_come_first_after_a_result_is_what_then_comes_first():
    told = "[{event: storm}]"
    before = advice(machine="{kind: built, age_years: 4, card: {}}", told=told)
    likely = before.proposal(before.top).outcomes[:2]
    assert len(likely) == 2
    for outcome in likely:
        job = job_of(machine="{kind: built, age_years: 4, card: {}}", told=told, complaint="nothing_happens")
        log = tuple(replace(entry, id=f"entry_{n}") for n, entry in enumerate(outcome.entries))
        assert advise(replace(job, log=log), BOOK, kept=KEPT).top == outcome.first


def test_all_amounts_are_finite_and_none_is_below_zero():
    for found in (advice(), advice(DEAD), advice(COUNTER)):
        for each in found.proposals:
            amounts = [each.cents, each.total, each.value, each.risk, each.price, each.p]
            amounts += [each.minutes.hands_on, each.minutes.place, each.minutes.days]
            amounts += [outcome.p for outcome in each.outcomes]
            assert all(isfinite(amount) and amount >= 0.0 for amount in amounts), each.id
            assert each.p <= 1.0 + 1e-9
            assert sum(outcome.p for outcome in each.outcomes) <= 1.0 + 1e-9


@pytest.mark.parametrize("log", [(), (COUNTER,), ("run: {reached: log_in, stop: {resets: 12 min}}",)])
def test_whatever_a_page_leads_to_has_its_answers(log):
    """The best, what may run alone, and what is to be thought of before money: a card without answers leads nowhere."""
    found = advice(*log)
    named = [*(each.id for each in found.proposals[:20]), *found.alone, *(doubt.check for doubt in found.doubts)]
    checks = [each for each in map(found.proposal, named) if each is not None and each.kind == CHECK]
    assert len(checks) >= 10
    assert [each.id for each in checks if not any(outcome.entries for outcome in each.outcomes)] == []


def test_after_a_spill_nothing_that_powers_it_up_is_on_top_until_it_is_dried():
    spill = "[{event: spill, ago: 1 day}]"
    found = advice(told=spill)
    assert "no_power_after_liquid" in [stop.id for stop in found.stop_points]
    assert not powers_up(found, found.top)
    barred = [each.id for each in found.proposals if any(stop.bars for stop in each.stop_points)]
    assert FIRST in barred
    assert "wall_watts" in barred
    dried = advice("repair: {do: dry_and_clean}", told=spill)
    assert "no_power_after_liquid" not in [stop.id for stop in dried.stop_points]
    assert dried.top == FIRST


def test_after_a_rail_above_its_limit_no_load_and_no_proof_is_free_and_another_supply_is():
    log = ("run: {reached: log_in}", "measure: {at: rail_12v, volts: 14.5}")
    found = advice(*log, complaint="starts_misbehaves")
    assert "no_power_from_high_supply" in [stop.id for stop in found.stop_points]
    barred = {each.id for each in found.proposals if any(stop.bars for stop in each.stop_points)}
    assert {FIRST, "prove", "rails_under_load", "supply_in_bench"} <= barred
    assert found.top not in barred
    assert barred.isdisjoint({"hooked_up_supply", "replace_supply@supply", "short_to_ground"})


@pytest.mark.parametrize(
    ("known", "asks"),
    [("", True), (", system: {encrypted: yes}", True), (", system: {encrypted: no}", False)],
)
def test_the_recovery_key_comes_before_what_may_seal_a_drive(known, asks):
    machine = f"{{kind: built, age_years: 6{known}}}"
    found = advice("run: {reached: log_in, signs: {clock_wrong: yes}}", machine=machine, complaint="starts_misbehaves")
    cell = found.proposal("replace_cell@cell")
    assert ("recovery_key_first" in [stop.id for stop in cell.stop_points]) is asks


def test_a_clicking_drive_is_not_started_from_again():
    found = advice(
        "run: {reached: self_test, not: loader, signs: {drive_clicks: yes}}",
        machine="{kind: built, drive: sata}",
        complaint="starts_misbehaves",
    )
    starts = ("counter_run", "second_start", "as_the_owner_uses_it")
    for name in starts:
        assert any(stop.bars for stop in found.proposal(name).stop_points), name
    assert found.top not in starts


def test_on_a_dead_machine_the_mains_side_comes_before_board_and_cooler():
    found = advice(COUNTER)
    mains = ["wall_watts", "outside_look", "mains_side_look"]
    supply = ["standby_measured", "hooked_up_supply"]
    inner = ["replace_board@board", "refit_cooler@cooler_mount", "out_of_the_case", "reseat_processor@processor_seat"]
    inner = [name for name in inner if found.proposal(name)]
    assert len(inner) >= 2
    assert found.top in mains
    total = {each.id: each.total for each in found.proposals}
    assert max(total[name] for name in mains + supply) < min(total[name] for name in inner)


def test_a_look_at_plugs_with_a_torch_comes_before_the_processor_comes_out():
    found = advice(
        "run: {output: card, reached: starts, picture: {card: no}, signs: {fans_turn: yes}}",
        machine="{kind: built, age_years: 4, card: {}, memory: [8, 8]}",
        complaint="lights_no_picture",
    )
    assert place(found, "power_plugs_look") < place(found, "reseat_processor@processor_seat")


def test_a_plug_seen_half_in_is_pushed_home():
    found = advice(
        "run: {output: card, reached: log_in, load: card, stop: {resets: 5 min}, failed: 3, of: 5}",
        "inspect: {at: card_power_plug, tool: torch, seen: half_in}",
        machine="{kind: built, card: {}}",
        complaint="starts_misbehaves",
    )
    assert found.top == "reseat_card_power_plug@card_power_plug"
    assert found.proposal(found.top).p > 0.5


CLOGGED = "inspect: {at: cooler, seen: clogged}"
HOT = "run: {load: processor, minutes: 1, reached: log_in, stop: none, signs: {processor_hot: yes}}"
MOVED = "run: {minutes: 3, touched: card_power_plug, reached: log_in, stop: {freezes: 3 s}}"
HALF_IN = "inspect: {at: card_power_plug, seen: half_in}"


def test_what_is_as_good_as_found_is_mended_before_anything_else_is_looked_for():
    """Common practice, no source: a plug that is seen half in, and whose touch froze the machine, is pushed home."""
    machine = "{kind: built, age_years: 6.5, card: {}, memory: [8, 8], drives: [sata]}"
    log = (COUNTER, HOT, CLOGGED, MOVED)
    before = advice(*log, machine=machine, complaint="starts_misbehaves")
    assert before.proposal("reseat_card_power_plug@card_power_plug").p < 0.9
    found = advice(*log, HALF_IN, machine=machine, complaint="starts_misbehaves")
    mends = found.proposal("reseat_card_power_plug@card_power_plug")
    assert found.top == mends.id
    assert mends.p > 0.9
    assert found.proposals[0].kind == CHECK  # alone by what is left to pay one would look on
    after = advice(*log, HALF_IN, "repair: reseat_card_power_plug", machine=machine, complaint="starts_misbehaves")
    assert after.top != mends.id


@pytest.mark.parametrize("starts", [1, 3])
def test_after_a_cure_by_another_supply_the_suspect_goes_back_before_one_is_bought(starts):
    found = advice(
        *[DEAD] * starts, "setup: {supply: shelf.supply_a}", f"run: {{reached: log_in, stop: none, of: {starts}}}"
    )
    back, bought = found.proposal("put_back_supply"), found.proposal("replace_supply@supply")
    assert place(found, back.id) < place(found, bought.id)
    assert back.total < bought.total
    assert bought.p > 0.2  # a new one may well be needed
    assert back.muddles  # the swap was a reseat and a lead-out as well


def test_what_is_lent_for_one_run_only_lies_back_in_and_a_start_tells():
    lent = "run: {with: {supply: shelf.supply_a}, reached: log_in, stop: none}"
    found = advice(DEAD, lent)
    assert found.proposal(found.top).price == 0.0
    job = job_of(DEAD, lent, machine=BUILT, complaint="nothing_happens")
    outlook = look_out(job, *fold_and_weigh(job, BOOK), Rates(), KEPT)
    start = outlook.foreseen["second_start"]
    p = dict.fromkeys(("does not start", "runs to log-in and stays up"), 0.0)
    for result, chance in zip(start.results, outlook.situation.weights @ start.tells, strict=True):
        line = result_line(start.entries, result, BOOK).split(";")[0].split(",")[0]
        p[line] = p.get(line, 0.0) + chance
    assert p["does not start"] > 0.2
    assert p["runs to log-in and stays up"] > 0.1


def test_a_shown_proposal_stays_on_top_for_less_than_a_tenth():
    job = job_of(DEAD, machine=BUILT, complaint="nothing_happens")
    fresh = advise(job, BOOK, kept=KEPT)
    second = next(each for each in fresh.proposals if each.id != fresh.top)
    assert second.total - fresh.proposal(fresh.top).total < 0.1 * fresh.to_go
    again = advise(job, BOOK, kept=KEPT, shown=second.id)
    assert (again.top, again.kept) == (second.id, True)
    dear = fresh.proposal("replace_board@board")
    assert dear.total > 1.1 * fresh.to_go
    assert advise(job, BOOK, kept=KEPT, shown=dear.id).top == fresh.top


def test_nothing_wrong_left_is_proved_or_handed_back():
    found = advice(
        "run: {reached: log_in, stop: none, of: 20}",
        "run: {load: all, minutes: 60, reached: log_in, stop: none, of: 3}",
        "run: {load: games, minutes: 60, reached: log_in, stop: none, of: 5}",
        "run: {load: memory, minutes: 8 h, reached: log_in, stop: none, signs: {memory_test_errors: no}}",
        machine="{kind: built, age_years: 1}",
        complaint="starts_misbehaves",
    )
    ahead = [each.id for each in found.proposals if each.price > 0.0 or each.id == "replace_machine"]
    assert min(place(found, "hand_back"), place(found, "prove")) < min(place(found, name) for name in ahead)


def test_an_old_dead_board_is_not_mended():
    found = advice(
        DEAD,
        "measure: {at: rail_5vsb, volts: 5.05, meter: bench}",
        "run: {with: {supply: shelf.supply_a}, not: starts, signs: {fans_turn: no}}",
        "run: {with: {supply: shelf.supply_a}, started_by: pins, not: starts, signs: {fans_turn: no}}",
        machine="{kind: built, age_years: 9}",
    )
    assert "offer_replacement" in [stop.id for stop in found.stop_points]
    dear = [each.id for each in found.proposals if each.price >= 50_00.0]
    assert "replace_board@board" in dear
    assert place(found, "replace_machine") < min(place(found, name) for name in dear)


MONEY = [
    (Rates(diagnosis=1_00.0), "call_owner"),
    (Rates(diagnosis=2_00.0, ceiling=2_01.0), "owner_agrees"),
    (Rates(stop_share=0.01), "offer_replacement"),
]


@pytest.mark.parametrize(("rates", "stop"), MONEY)
def test_the_owner_is_called_in_time(rates, stop):
    job = job_of(COUNTER, machine=BUILT, complaint="nothing_happens")
    ids = [each.id for each in advise(job, BOOK, rates, kept=KEPT).stop_points]
    assert stop in ids
    assert stop not in [
        each.id for each in advise(job, BOOK, Rates(diagnosis=1e6, ceiling=1e6, stop_share=10.0), kept=KEPT).stop_points
    ]


def test_money_is_told_as_it_is():
    """The owner's sum only where there is one, the bench's otherwise; and what found the fault, not what mended it."""
    agreed = "agree: {text: up to, cost: 2}"
    bench = Rates(diagnosis=3_00.0, ceiling=1_000_00.0, stop_share=0.01)
    worth = "what is still to be paid, on average: at least 1 % of what a usual machine of 4 years is worth"
    assert lines_of(bench, COUNTER) == {
        "call_owner": "finding the fault has cost at least 80 % of the bench's ceiling for it",
        "offer_replacement": worth,
    }
    assert lines_of(Rates(call_share=0.5), "agree: {text: up to, cost: 5}", COUNTER)["call_owner"] == (
        "finding the fault has cost at least 50 % of what the owner agreed to"
    )
    assert lines_of(Rates(), agreed, COUNTER)["owner_agrees"] == "the job has cost what the owner agreed to"
    usual = lines_of(Rates(ceiling=2_00.0), COUNTER)
    assert usual["owner_agrees"] == "the job has cost the bench's ceiling for a whole job"
    paid = ("repair: {do: replace, at: supply}", "spend: {text: supply, cost: 70}")
    assert "call_owner" not in lines_of(Rates(), COUNTER, *paid)
    assert "call_owner" in lines_of(Rates(), COUNTER, paid[1])


def lines_of(rates, *log):
    found = advise(job_of(*log, machine=BUILT, complaint="nothing_happens"), BOOK, rates, kept=KEPT).stop_points
    return {stop.id: stop.line.replace(NO_BREAK, " ") for stop in found}


def test_a_limit_that_was_corrected_counts_as_corrected():
    entries = ("agree: {text: up to, cost: 400}", "spend: {text: supply, cost: 80}", DEAD)
    assert "owner_agrees" not in [stop.id for stop in advice(*entries).stop_points]
    lowered = advice(*entries, "correct: {entry: agree_1, cost: 40}")
    assert "owner_agrees" in [stop.id for stop in lowered.stop_points]


def test_a_run_that_is_withdrawn_was_not_made():
    assert advice(DEAD).top != FIRST
    assert advice(DEAD, "correct: {entry: run_1, withdrawn: yes}").top == FIRST


def test_a_part_above_the_agreed_sum_needs_a_new_yes():
    job = job_of(COUNTER, machine=BUILT, complaint="nothing_happens")
    for ceiling, needs in ((50_00.0, True), (500_00.0, False)):
        found = advise(job, BOOK, Rates(ceiling=ceiling), kept=KEPT)
        stops = {stop.id: stop for stop in found.proposal("replace_supply@supply").stop_points}
        assert ("owner_agrees" in stops) is needs
        if needs:
            line = "with this part the job costs more than the bench's ceiling for a whole job"
            assert (stops["owner_agrees"].line, stops["owner_agrees"].do[-15:]) == (line, "a yes to a sum.")


def test_a_lent_part_at_risk_is_a_stop_point():
    found = advise(job_of(COUNTER, machine=BUILT, complaint="nothing_happens"), BOOK, Rates(risk=1.0), kept=KEPT)
    risky = [each for each in found.proposals if each.kind == CHECK and each.risk >= 1.0]
    assert risky
    assert all("risk" in [stop.id for stop in each.stop_points] for each in risky)


def test_the_entries_that_fit_worst_are_to_be_looked_at_again_after_an_alarm_only():
    job = job_of(COUNTER, DEAD, machine=BUILT, complaint="nothing_happens")
    plain = advise(job, BOOK, kept=KEPT)
    assert plain.step_back == ()
    calm = Conflict(log_m=1.0, without=(("run", -3.0),))
    loud = Conflict(log_m=5.0, without=(("run", 0.5), ("run_2", 3.0), ("run_3", 4.9)))
    for conflict, entries in ((calm, ()), (loud, ("run", "run_2"))):
        weighed = replace(_weighed(), conflict=conflict)
        assert advise(job, BOOK, kept=KEPT, weighed=weighed).step_back == entries


def _weighed():
    from weighed_samples import weighed  # noqa: PLC0415  a sample that other tests use as well

    found = weighed()
    assert isinstance(found, Weighed)
    return found


KILLED = "run: {not: boot_drive, signs: {drive_missing: yes, burnt_smell: yes}, of: 4}"
WRONG_LEAD = "inspect: {at: modular_lead_wires, seen: wrong_wire}"
LEADS = "{kind: built, age_years: 3, card: none, drives: [sata], supply: {shape: standard size, modular: yes}}"
PART, KILLER = "replace_drive@drive.1", "replace_power_lead@supply_lead_plug"


def worth(found, name):
    return next(each for each in found.proposals if each.id == name)


def test_a_part_that_was_killed_is_replaced_after_what_killed_it_and_not_before():
    """Common practice, no source: a host that harmed a part gets no other one until the cause is out."""
    log = (KILLED, KILLED, WRONG_LEAD)
    found = advice(*log, machine=LEADS, complaint="picture_then_stops")
    assert {each.fault for each in found.leading[:2]} == {"wrong_modular_lead", "wrong_modular_lead>owner.drive.1"}
    assert found.leading[1].title == "drive no.\u00a01 harmed by: modular lead of another supply"
    assert found.top != PART
    assert worth(found, KILLER).value > worth(found, PART).value
    mended = advice(*log, "repair: {do: replace_power_lead}", machine=LEADS, complaint="picture_then_stops")
    assert worth(mended, PART).value > worth(mended, PART).cents
    assert mended.leading[0].fault == "wrong_modular_lead>owner.drive.1"
