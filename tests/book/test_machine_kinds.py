"""What kind of machine it is changes what may be wrong, what is offered and what is expected of a start.

All claims: common practice, no source.
"""

from dataclasses import replace
from types import MappingProxyType

import numpy as np
import pytest
from folding import BOOK, Suspicions, fold, job_of, roots, weigh_log

from halfsplit.job.advise import advise
from halfsplit.job.asked import entries_of
from halfsplit.job.machine import facts_of, is_offered, shelf_part
from halfsplit.job.setups import intake_setups
from halfsplit.job.trail import walk_job
from halfsplit.job.units import OWNER
from halfsplit.model.job import Run

OUTSIDE = "{kind: ready_made, supply: {shape: outside}}"
STANDARD = "{kind: built, supply: {shape: standard size}}"
NO_STANDBY = "run: {not: standby_power, of: 2}"
INSIDE_SUPPLY = {"hooked_up_supply", "put_back_supply", "supply_alone", "supply_in_bench", "short_to_ground",
                 "standby_measured", "rails_under_load", "power_plugs_look", "leads_back_one_at_a_time"}  # fmt: skip


def facts(machine: str) -> dict[str, object]:
    return dict(facts_of(job_of(machine=machine), BOOK, []))


def offered(machine: str) -> set[str]:
    known = facts(machine)
    return {check.id for check in BOOK.checks.values() if is_offered(check, known, BOOK)}


def proposed(*log: str, machine: str, complaint: str) -> set[str]:
    """Everything that the advice on a job thinks of, alone or in a bundle; repairs without their place."""
    advice = advise(job_of(*log, machine=machine, complaint=complaint), BOOK)
    return {part.partition("@")[0] for each in advice.proposals for part in each.parts or (each.id,)}


def put_in(check: str, slot: str, machine: str) -> str:
    """What a check puts into a slot of such a machine."""
    (run,) = (each for each in entries_of(BOOK.checks[check], BOOK, facts(machine)) if isinstance(each, Run))
    return run.swaps[slot]


def in_it(machine: str, kind: str) -> bool:
    return intake_setups(job_of(machine=machine), BOOK)[OWNER].has(kind)


def start(machine: str, root: str) -> float:
    """P(fault) at intake."""
    (found,) = (each for each in fold(machine=machine).evidence.roots if each.id == root)
    return float(np.asarray(found.start)[..., 1:].sum())


def chance(seen: str, *, machine: str, log: tuple[str, ...] = ()) -> float:
    """P(this run | what was known before), by the weights of the two jobs."""
    before, after = weigh_log(*log, machine=machine), weigh_log(*log, seen, machine=machine)
    return float(np.exp(after.posterior.log_p - before.posterior.log_p))


# Outside supplies


def test_with_an_outside_supply_nothing_that_hooks_up_one_inside_is_offered() -> None:
    assert offered(STANDARD) >= INSIDE_SUPPLY
    assert INSIDE_SUPPLY.isdisjoint(offered(OUTSIDE))
    assert {"outside_supply_measured", "shelf_outside_supply"} <= offered(OUTSIDE) - offered(STANDARD)


def test_the_advice_on_a_dead_machine_swaps_the_supply_that_it_has() -> None:
    outside = proposed(machine=OUTSIDE, complaint="nothing_happens")
    inside = proposed(machine=STANDARD, complaint="nothing_happens")
    assert {"outside_supply_measured", "shelf_outside_supply", "replace_outside_supply"} <= outside
    assert "replace_supply" not in outside
    assert {"hooked_up_supply", "replace_supply"} <= inside
    assert not inside & {"outside_supply_measured", "shelf_outside_supply", "replace_outside_supply"}


def test_a_dead_mini_pc_is_its_outside_supply_before_anything_inside() -> None:
    weighed = weigh_log(NO_STANDBY, machine=OUTSIDE)
    assert weighed["outside_supply_dead"] > max(weighed["board_dead"], weighed["mains_plug_off"])
    assert roots(weighed.folded).isdisjoint({"main_power_plug_half_in", "cpu_power_plug_half_in", "supply_fan_dead",
                                             "supply_no_standby", "wrong_modular_lead"})  # fmt: skip


def test_the_outside_supply_is_changed_with_nothing_opened() -> None:
    swap = "run: {with: {supply: shelf.outside_supply_bench}, not: starts}"
    moments = walk_job(job_of(swap, machine=OUTSIDE), BOOK).moments
    assert not [change for moment in moments for change in moment.changes if type(change).__name__ == "Opened"]
    inside = walk_job(job_of("run: {with: {supply: shelf.supply_a}, not: starts}", machine=STANDARD), BOOK).moments
    assert [change for moment in inside for change in moment.changes if type(change).__name__ == "Opened"]


def test_no_volts_at_its_plug_settle_a_dead_outside_supply() -> None:
    none, fine = (
        weigh_log(NO_STANDBY, f"inspect: {{at: outside_supply, tool: multimeter, seen: {seen}}}", machine=OUTSIDE)
        for seen in ("no_volts", "fine")
    )
    assert none["outside_supply_dead"] > 0.9
    assert fine["outside_supply_dead"] < 0.15
    assert fine.held("owner.board") > none.held("owner.board")


def test_an_outside_supply_that_drops_out_under_load_is_weak_and_ours_clears_the_machine() -> None:
    off = "run: {load: processor, reached: log_in, stop: {cuts_out: 5 min}, of: 2}"
    ours = (
        "run: {load: processor, minutes: 30, with: {supply: shelf.outside_supply_bench}, reached: log_in, stop: none}"
    )
    theirs, swapped = weigh_log(off, machine=OUTSIDE), weigh_log(off, ours, machine=OUTSIDE)
    assert swapped["outside_supply_weak"] > 1.5 * theirs["outside_supply_weak"]
    assert swapped["cooler_clogged"] < theirs["cooler_clogged"]


# Ready made or built


def test_our_supply_is_no_swap_for_a_ready_made_machine_until_its_supply_was_seen() -> None:
    swaps = {"hooked_up_supply", "supply_in_bench", "supply_alone"}
    assert swaps <= offered("{kind: built}")
    assert swaps.isdisjoint(offered("{kind: ready_made}"))
    assert swaps <= offered("{kind: ready_made, supply: {shape: standard size}}")
    assert swaps.isdisjoint(offered("{kind: built, supply: {shape: maker's own shape}}"))


def test_five_volt_standby_is_not_measured_where_the_supply_has_twelve_volts_only() -> None:
    assert "standby_measured" in offered("{supply: {shape: maker's own shape}}")
    assert "standby_measured" not in offered("{supply: {shape: 12 V only}}")


def test_front_panel_leads_on_wrong_pins_are_for_machines_built_from_parts() -> None:
    built, ready, unknown = (start(machine, "front_leads_off") for machine in
                             ("{kind: built}", "{kind: ready_made}", "{}"))  # fmt: skip
    assert built == pytest.approx(3 * ready)
    assert ready < unknown < built
    assert unknown == pytest.approx(BOOK.faults["front_leads_off"].base.p)


# Graphics in the processor


@pytest.mark.parametrize("without", ["processor: {graphics: no}", "board: {video_output: no}"])
def test_without_a_picture_of_its_own_the_boards_socket_is_not_tried(without: str) -> None:
    tried = {"card_out_other_output", "board_output"}
    assert tried <= offered("{processor: {graphics: yes}}")
    assert tried.isdisjoint(offered(f"{{{without}}}"))
    assert "shelf_card" in offered(f"{{{without}}}")


@pytest.mark.parametrize("without", ["card: none", "case_size: mini"])
def test_a_machine_that_has_no_graphics_card_has_a_picture_of_its_own(without: str) -> None:
    """Nobody owns a machine that never had a picture; what was told otherwise stands."""
    assert facts(f"{{kind: built, {without}}}")["own_picture"] == "there"
    assert facts(f"{{kind: built, {without}, processor: {{graphics: no}}}}")["own_picture"] == "none"
    assert facts(f"{{kind: built, {without}, own_picture: none}}")["own_picture"] == "none"


def test_with_a_card_in_it_nothing_is_known_of_a_picture_of_its_own() -> None:
    for machine in ("{kind: built}", "{kind: built, card: {}}", "{kind: built, case_size: mini, card: {}}"):
        assert "own_picture" not in facts(machine), machine


def test_where_it_has_no_card_a_dark_run_after_a_repair_is_a_fault_and_not_how_it_is() -> None:
    dark = ("repair: replace_supply", "run: {reached: starts, picture: no, signs: {fans_turn: yes}}")
    weighed = weigh_log(*dark, machine="{kind: built, card: none}")
    assert "no_own_picture_normal" not in roots(weighed.folded)
    assert weighed["board_dead"] > 0.1
    assert weigh_log(*dark, machine="{kind: built, card: {}}")["no_own_picture_normal"] > 0.2


def test_graphics_without_a_socket_are_no_picture() -> None:
    assert facts("{processor: {graphics: yes}}")["own_picture"] == "there"
    assert facts("{processor: {graphics: yes}, board: {video_output: no}}")["own_picture"] == "none"


def test_a_dark_board_socket_says_nothing_where_the_processor_has_no_graphics() -> None:
    dark = "run: {with: {card: out}, output: board, picture: none, of: 2}"

    def rise(machine: str) -> float:
        """How much the dark socket raises that memory or board are to blame rather than the card."""
        before = weigh_log("run: {output: card, picture: none, of: 2}", machine=machine)
        after = weigh_log("run: {output: card, picture: none, of: 2}", dark, machine=machine)
        return after.held("owner.card") / before.held("owner.card")

    assert rise("{kind: built, processor: {graphics: no}}") > 0.8
    assert rise("{kind: built, processor: {graphics: yes}}") < 0.5


def test_with_the_card_out_and_no_graphics_the_complaint_is_the_expected_stop() -> None:
    run = "run: {with: {card: out}, signs: {card_complaint: yes}, picture: none, output: board}"
    assert chance(run, machine="{kind: built, processor: {graphics: no}}") > 0.3
    assert chance(run, machine="{kind: built, processor: {graphics: yes}}") < 0.1


# Lamps, codes, beeps

FAILS = "run: {not: self_test, signs: {fans_turn: yes}}"
OUT_AND_SILENT = (
    "run: {with: {memory: out, speaker: out}, not: self_test, signs: {memory_complaint: no, fans_turn: yes}}"
)


def test_silence_without_memory_accuses_only_a_board_that_could_have_complained() -> None:
    def rise(leds: str) -> float:
        machine = f"{{kind: built, board: {{status_leds: {leds}}}}}"
        after = stuck_early(weigh_log(FAILS, OUT_AND_SILENT, machine=machine))
        return after / stuck_early(weigh_log(FAILS, machine=machine))

    assert rise("yes") > 1.5
    assert 0.7 < rise("no") < 1.2


def test_a_speaker_lets_a_board_without_lamps_complain() -> None:
    on = OUT_AND_SILENT.replace("speaker: out", "speaker: shelf.speaker_bench")
    mute = "{kind: built, board: {status_leds: no}}"
    assert stuck_early(weigh_log(on, machine=mute)) > 2 * stuck_early(weigh_log(OUT_AND_SILENT, machine=mute))


def stuck_early(weighed: Suspicions) -> float:
    """P(board, processor, or what feeds it, is to blame)."""
    names = ("board_dead", "processor_dead", "cpu_power_plug_half_in", "socket_pins_bent")
    return sum(weighed[name] for name in names if name in roots(weighed.folded))


def test_a_board_with_a_code_display_has_one_to_read() -> None:
    assert in_it("{status_lamps: codes}", "code_display")
    assert in_it("{board: {status_leds: codes}}", "code_display")
    assert not in_it("{board: {status_leds: yes}}", "code_display")
    assert not in_it("{}", "code_display")
    assert facts("{code_display: yes}")["status_lamps"] == "codes"
    assert "codes_move" in BOOK.checks["counter_run"].asks


# Sockets


def test_the_pins_that_may_be_bent_are_where_the_socket_has_them() -> None:
    assert "socket_pins_bent" in roots(fold(machine="{board: {socket: LGA}}"))
    assert "processor_pins_bent" not in roots(fold(machine="{board: {socket: LGA}}"))
    assert "processor_pins_bent" in roots(fold(machine="{board: {socket: PGA}}"))
    assert "socket_pins_bent" not in roots(fold(machine="{board: {socket: PGA}}"))


def test_pins_on_the_processor_go_with_the_processor_and_pins_in_the_socket_with_the_board() -> None:
    look = "inspect: {at: processor_seat, tool: glass, seen: bent_pins}"
    socket, pins = (weigh_log(look, machine=f"{{board: {{socket: {kind}}}}}") for kind in ("LGA", "PGA"))
    assert socket["socket_pins_bent"] > 0.6
    assert pins["processor_pins_bent"] > 0.4
    assert pins.held("owner.processor") > 5 * socket.held("owner.processor")


def test_each_kind_of_socket_has_its_own_repair() -> None:
    look = "inspect: {at: processor_seat, tool: glass, seen: bent_pins}"
    socket, pins = (
        proposed(look, machine=f"{{kind: built, board: {{socket: {kind}}}}}", complaint="lights_no_picture")
        for kind in ("LGA", "PGA")
    )
    assert "straighten_pins" in socket - pins
    assert "straighten_processor_pins" in pins - socket


def test_taking_the_cooler_off_may_pull_the_processor_out_only_where_the_pins_are_on_it() -> None:
    refit = "repair: {do: refit_cooler, at: cooler_mount}"
    dead = "run: {not: processor_runs, signs: {fans_turn: yes}, of: 2}"
    fine = "run: {reached: log_in, stop: none}"
    pulled = weigh_log(fine, refit, dead, machine="{board: {socket: PGA}}")
    assert pulled["processor_pins_bent"] > 5 * pulled["processor_dead"]
    assert "processor_pins_bent" not in roots(fold(fine, refit, dead, machine="{board: {socket: LGA}}"))


# What is on the shelf


@pytest.mark.parametrize("kind", ["ddr3", "ddr4", "ddr5"])
def test_our_module_is_of_the_machines_own_generation(kind: str) -> None:
    assert put_in("shelf_memory", "memory.1", f"{{memory_type: {kind}}}") == f"shelf.memory_{kind}"
    number = kind.removeprefix("ddr")
    assert put_in("shelf_memory", "memory.1", f"{{memory: [{{ddr: {number}}}]}}") == f"shelf.memory_{kind}"


def test_our_drive_goes_where_theirs_was() -> None:
    assert put_in("drive_in_bench", "drive", "{drives: [m2]}") == "shelf.drive_m2"
    assert put_in("drive_in_bench", "drive", "{drives: [sata]}") == "shelf.drive_sata"
    assert put_in("drive_in_bench", "drive", "{drives: [mechanical]}") == "shelf.drive_sata"


def test_what_nothing_on_the_shelf_fits_is_not_offered() -> None:
    left = {name: part for name, part in BOOK.shelf.items() if name in ("memory_ddr3", "memory_ddr4")}
    book = replace(BOOK, shelf=MappingProxyType(left))
    check = replace(BOOK.checks["shelf_memory"], rules=())
    assert is_offered(check, {"memory_type": "ddr4"}, book)
    assert not is_offered(check, {"memory_type": "ddr5"}, book)
    part = shelf_part("memory", {}, book)
    assert part is not None
    assert part.id == "memory_ddr4"


# Cooling and cases


def test_a_liquid_cooled_machine_has_a_pump_and_an_air_cooled_one_none() -> None:
    assert in_it("{cooling: liquid}", "pump")
    assert in_it("{cooler: {type: liquid}}", "pump")
    assert not in_it("{cooling: air}", "pump")
    assert not in_it("{}", "pump")
    assert "pump_touch" in offered("{cooler: {type: liquid}}")
    assert "pump_touch" not in offered("{cooler: {type: air}}")
    hot = "run: {load: processor, reached: log_in, stop: {cuts_out: 1 min}, signs: {processor_hot: yes}, of: 2}"
    liquid, air = (weigh_log(hot, machine=f"{{cooling: {kind}}}") for kind in ("liquid", "air"))
    assert liquid.held("owner.pump") > 0.2
    assert "pump_dead" not in roots(air.folded)


def test_a_small_case_clogs_sooner() -> None:
    mini, small, standard, unknown = (
        start(machine, "cooler_clogged")
        for machine in ("{case: {size: mini}}", "{case: {size: small}}", "{case: {size: standard}}", "{}")
    )
    assert mini > small > unknown > standard
    assert mini == pytest.approx(2 * standard)
    shares = BOOK.facts["case_size"].values
    assert shares["mini"] * mini + shares["small"] * small + shares["standard"] * standard == pytest.approx(unknown)


def test_a_mini_case_has_no_graphics_card_and_most_likely_an_outside_supply() -> None:
    assert not in_it("{case: {size: mini}}", "card")
    assert in_it("{case: {size: small}}", "card")
    assert in_it("{case: {size: mini}, card: {}}", "card")
    assert "outside_supply_measured" in offered("{case: {size: mini}}")
    assert "hooked_up_supply" not in offered("{case: {size: mini}}")
    assert "code_display" not in offered("{case: {size: mini}}")


def test_a_supply_with_fixed_leads_has_no_modular_lead_of_another() -> None:
    assert "wrong_modular_lead" in roots(fold(machine="{supply: {modular: yes}}"))
    assert "wrong_modular_lead" not in roots(fold(machine="{supply: {modular: no}}"))


def test_what_is_known_of_one_fact_moves_the_shares_of_another() -> None:
    shape = BOOK.facts["supply_shape"]
    assert shape.shares({"kind": "built"})["standard"] > 0.9 > shape.shares({})["standard"]
    halves = [shape.shares({"kind": kind})["standard"] for kind in ("built", "ready_made")]
    assert sum(halves) / 2 == pytest.approx(shape.shares({})["standard"], abs=0.01)
