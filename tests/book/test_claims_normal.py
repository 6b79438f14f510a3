"""What a technician would nod at, of normal things taken for a fault and of faults that work itself makes.

All claims: common practice, no source.
"""

import pytest
from folding import BOOK, Suspicions, weigh_log

BUILT = "{kind: built, card: {}, memory: [8, 8]}"
WELL = "run: {load: all, minutes: 60, reached: log_in, stop: none, output: card, picture: yes}"
SHOWS = "run: {{reached: log_in, signs: {{{}: {}}}, of: {}}}"

SENTENCES = (
    "memory_training",
    "off_on_once_normal",
    "card_fans_still_at_idle",
    "supply_fan_still_at_idle",
    "fans_roar_at_start",
    "coil_whine_normal",
    "light_after_lead_out",
    "monitor_wakes_late",
    "clock_wrong_after_battery_out",
    "slow_first_start_after_update",
    "first_picture_on_another_output",
)


@pytest.mark.parametrize("fault", SENTENCES)
def test_what_is_normal_is_said_to_be_so_and_does_not_keep_the_machine_here(fault: str) -> None:
    found = BOOK.faults[fault]
    assert found.is_normal
    assert not found.matters
    assert len(found.owner_says.split()) >= 10


@pytest.mark.parametrize(
    ("fault", "sign", "shown"),
    [
        ("card_fans_still_at_idle", "card_fans_still_idle", "yes"),
        ("fans_roar_at_start", "fans_full_at_start", "yes"),
        ("light_after_lead_out", "light_stays", "yes"),
        ("supply_fan_still_at_idle", "supply_fan_turns", "no"),
    ],
)
def test_an_oddity_leads_when_the_machine_holds_under_every_load(fault: str, sign: str, shown: str) -> None:
    at_first = weigh_log(SHOWS.format(sign, shown, 1), machine=BUILT, complaint="slow_noisy_other")
    held = weigh_log(WELL, SHOWS.format(sign, shown, 3), machine=BUILT, complaint="slow_noisy_other")
    assert held[fault] > 3 * at_first[fault]
    properties = ("board_outputs_off_with_card", "dust_inside_normal", "no_lamps_normal", "no_own_picture_normal")
    others = [root.id for root in held.folded.evidence.roots if root.id not in (fault, *properties)]
    assert held[fault] > max(held[other] for other in others)


def test_a_fan_that_stands_still_under_load_is_no_oddity() -> None:
    still = "run: {load: card, minutes: 10, reached: log_in, signs: {card_fan_still: yes, card_hot: yes}, of: 2}"
    weighed = weigh_log(SHOWS.format("card_fans_still_idle", "yes", 2), still, machine=BUILT)
    assert weighed["card_fans_dead"] + weighed["card_fan_rubs"] > 0.8


def test_one_off_on_cycle_is_normal_after_a_reset_and_a_fault_at_every_cold_start() -> None:
    after = "run: {first_after: settings_reset, reached: log_in, signs: {off_on_once: yes}}"
    once = weigh_log(after, SHOWS.format("off_on_once", "no", 4), told="[settings_reset]", machine=BUILT)
    again = weigh_log(
        after,
        "run: {cold: yes, reached: log_in, signs: {off_on_once: yes}, of: 4}",
        told="[settings_reset]",
        machine=BUILT,
    )
    assert once["memory_profile_unstable"] < 0.05
    assert again["memory_profile_unstable"] + again["tuning_left_on"] > 0.6


def test_a_black_screen_for_minutes_after_new_memory_is_training_until_it_lasts_too_long() -> None:
    machine, told = "{memory: [16, 16], memory_type: ddr5}", "[new_memory]"
    black = "run: {first_after: new_memory, not: memory_passes}"
    runs = weigh_log(black, "run: {minutes: 20, reached: log_in}", told=told, machine=machine)
    stays = weigh_log(black, "run: {minutes: 30, not: memory_passes, of: 2}", told=told, machine=machine)
    assert runs["memory_training"] > 0.7
    assert stays["memory_training"] < 0.3 * runs["memory_training"]


def test_a_late_picture_is_the_monitor_the_cable_or_the_other_socket_and_a_swap_of_each_tells() -> None:
    late = "run: {output: card, picture: {card: {self_test: no, system: yes}}, reached: log_in, of: 2}"
    ours = "run: {{with: {{{}}}, output: card, picture: {{card: {{self_test: {}, system: yes}}}}, reached: log_in}}"
    monitor = weigh_log(late, ours.format("monitor: shelf.monitor_bench", "yes"), machine=BUILT)
    cable = weigh_log(late, ours.format("video_cable: shelf.video_cable_bench", "yes"), machine=BUILT)
    both = "monitor: shelf.monitor_bench, video_cable: shelf.video_cable_bench"
    neither = weigh_log(late, ours.format(both, "no"), machine=BUILT)
    assert monitor["monitor_wakes_late"] > 0.8
    assert cable["video_cable_bad"] > 0.7
    assert neither["first_picture_on_another_output"] > 0.8  # a card with a changed firmware may show it late too


def test_a_wrong_clock_after_the_battery_was_out_clears_when_it_was_set() -> None:
    wrong = "run: {reached: log_in, lead_out: 1 h, signs: {clock_wrong: yes}}"
    log = (WELL, "repair: replace_cell", wrong, "repair: set_boot_order")
    right = weigh_log(*log, wrong.replace("yes", "no"), machine=BUILT)
    again = weigh_log(*log, wrong, "measure: {at: cell_volts, volts: 0.0}", machine=BUILT)
    assert right["cell_not_refitted@new.cell.1"] < 0.01
    assert again["cell_not_refitted@new.cell.1"] + again["bad:new.cell.1"] > 0.8


@pytest.mark.parametrize(
    ("work", "then", "made"),
    [
        ("inspect: {at: back_of_board, seen: fine}", "not: starts, started_by: front", {"front_leads_off"}),
        (
            "inspect: {at: back_of_board, seen: fine}",
            "not: rails_good, stop: cuts_out, signs: {fans_twitch: yes}, started_by: pins",
            {"standoff_shorts", "loose_metal_shorts"},
        ),
        (
            "inspect: {at: back_of_board, seen: fine}",
            "reached: log_in, signs: {usb_dead: yes}",
            {"front_usb_misplugged"},
        ),
        (
            "repair: refit_cooler",
            "load: processor, reached: log_in, stop: {cuts_out: 1 min}",
            {"cooler_badly_seated", "processor_fan_unplugged", "paste_broken_open"},
        ),
        (
            "repair: reset_settings",
            "load: card, reached: log_in, signs: {fans_loud_under_load: yes}",
            {"settings_lost_by_reset"},
        ),
        (
            "repair: {do: reseat, at: memory_seat.1}",
            "not: memory_passes, signs: {memory_complaint: yes}",
            {"memory_not_home"},
        ),
        (
            "repair: reseat_card",
            "output: card, picture: none, reached: self_test",
            {"card_not_home", "card_power_plug_half_in", "video_plug_half_in", "wrong_output"},
        ),
    ],
    ids=["switch leads", "standoff", "front USB", "cooler", "fan curve", "memory", "card"],
)
def test_what_fails_only_since_it_was_open_is_what_the_work_made(work: str, then: str, made: set[str]) -> None:
    fails = f"run: {{{then}, of: 2}}"
    untouched, worked = weigh_log(WELL, fails, machine=BUILT), weigh_log(WELL, work, fails, machine=BUILT)

    def suspected(weighed: Suspicions) -> dict[str, float]:
        roots = [root.id for root in weighed.folded.evidence.roots]
        return {root: weighed[root] for root in roots if root.split("@")[0] in made}

    before, after = suspected(untouched), suspected(worked)
    assert any(after[root] > 2 * before[root] for root in before)
    assert sum(after.values()) > max(0.3, sum(before.values()))


def test_opened_lately_puts_plugs_before_wear() -> None:
    dead = "run: {not: starts, started_by: front, of: 2}"
    plain = weigh_log(dead, machine=BUILT)
    opened = weigh_log(dead, told="[opened_by_owner]", machine=BUILT)
    assert opened["front_leads_off"] > 3 * plain["front_leads_off"]
    assert opened["main_power_plug_half_in"] > 2 * plain["main_power_plug_half_in"]
    assert opened["supply_no_standby"] < 0.8 * plain["supply_no_standby"]


def test_the_speed_at_which_heat_climbs_is_asked_after_new_paste() -> None:
    hot = "run: {load: processor, reached: log_in, stop: {cuts_out: 1 min}, signs: {processor_hot: yes}, of: 2}"
    never = weigh_log(hot, machine=BUILT)
    renewed = weigh_log(hot, told="[paste_renewed]", machine=BUILT)
    assert renewed["cooler_badly_seated"] > 2 * never["cooler_badly_seated"]
    assert renewed["cooler_badly_seated"] > renewed["paste_dry"]


def test_a_hand_that_quiets_it_accuses_the_panel() -> None:
    rattles = SHOWS.format("fan_rattles", "yes", 2)
    quiet = "run: {touched: case, reached: log_in, signs: {fan_rattles: no}, of: 3}"
    before, after = weigh_log(rattles, machine=BUILT), weigh_log(rattles, quiet, machine=BUILT)
    assert after["panel_rattles"] > 3 * before["panel_rattles"]
    assert after["case_fan_bearing_worn@fan.1"] < before["case_fan_bearing_worn@fan.1"]
