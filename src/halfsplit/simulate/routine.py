"""A good bench routine: fixed checks in the order of the trade, and repairs of what they point at.

It hears the owner's story, skips what it has done or cannot do, and concludes as a careful technician does without a
computer: what is seen at a plug is put right; what a number or a sign points at is mended, what is dear only when two
findings point at it, or at the end; a part without which the machine is fine is put right, then replaced; then the
parts that the complaint speaks of are swapped; and it gives up in time.  Common practice, no source.
"""

from collections.abc import Mapping
from types import MappingProxyType

from halfsplit.job.advised import FIRST
from halfsplit.job.machine import AGE, age_of
from halfsplit.model.job import Run
from halfsplit.simulate.benches import Bench, Found
from halfsplit.simulate.signposts import pointed_at

WORK_TOLD = frozenset(
    {
        "opened_by_owner", "opened_by_shop", "cleaned_inside", "paste_renewed", "newly_built", "carried", "moved_house",
        "sent_by_courier", "new_supply", "new_board", "new_processor", "new_cooler", "new_memory", "new_card",
        "new_drive", "new_fan", "new_add_on_card",
    }
)  # fmt: skip
"""Events after which every plug and seat is looked at first."""

_DEAD = (
    "outside_look", "all_outside_off", "lead_out_hold", "power_plugs_look", "seats_look", "front_leads_off_pins",
    "look_inside", "minimum_parts", "memory_grid", "hooked_up_supply", "card_out_other_output", "out_of_case",
)  # fmt: skip
_DARK = (
    "outside_plugs_look", "output_grid", "all_outside_off", "lead_out_hold", "power_plugs_look", "seats_look",
    "look_inside", "front_leads_off_pins", "minimum_parts", "memory_grid", "shelf_memory", "hooked_up_supply",
    "card_out_other_output", "shelf_card", "bench_stick",
)  # fmt: skip
_STOPS = (
    "settings_photo", "all_outside_off", "seats_look", "power_plugs_look", "look_inside", "bench_stick", "drive_dock",
    "drive_layout_look", "memory_grid", "minimum_parts", "hooked_up_supply", "card_out_other_output",
)  # fmt: skip
_CRASHES = (
    "as_the_owner_uses_it", "records", "look_inside", "power_plugs_look", "seats_look", "drive_dock",
    "sensors_under_load", "load_card", "memory_test_overnight", "bench_stick", "look_at_drivers", "look_at_programs",
    "load_all", "hooked_up_supply",
)  # fmt: skip
_SLOW = (
    "as_the_owner_uses_it", "outside_look", "look_at_programs", "look_inside", "listen_near", "drive_dock",
    "seats_look", "sensors_under_load", "bench_stick", "records", "look_at_drivers", "look_at_network", "system_check",
)  # fmt: skip

ORDER: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "nothing_happens": _DEAD,
        "lights_no_picture": _DARK,
        "picture_then_stops": _STOPS,
        "starts_misbehaves": _CRASHES,
        "slow_noisy_other": _SLOW,
    }
)
"""Class of complaint -> the checks, in order."""

CURED: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "all_outside_off": ("replace_usb_device@usb_device",),
        "lead_out_hold": ("power_cycle@board",),
        "front_leads_off_pins": ("reseat_front_switch_leads@front_switch_leads", "replace_front_panel@front_panel"),
        "memory_grid": ("reseat_memory@memory_seat.2", "replace_memory@memory.2"),
        "shelf_memory": ("reseat_memory@memory_seat.1", "replace_memory@memory.1"),
        "hooked_up_supply": ("replace_supply@supply",),
        "card_out_other_output": ("reseat_card@card_seat", "replace_card@card"),
        "shelf_card": ("replace_card@card",),
        "bench_stick": ("mend_system@system", "mend_loader@system", "replace_drive@drive.1"),
        "out_of_case": ("refit_board@standoffs",),
    }
)
"""Check in which the machine was fine, though before it was not -> what that points at, in order."""

SWAPPED: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "nothing_happens": ("replace_supply@supply", "replace_front_panel@front_panel", "replace_board@board"),
        "lights_no_picture": (
            "reseat_memory@memory_seat.1", "reset_settings@settings", "replace_card@card", "replace_memory@memory.1",
            "replace_board@board",
        ),
        "picture_then_stops": (
            "set_boot_order@settings", "mend_loader@system", "mend_system@system", "replace_drive@drive.1",
        ),
        "starts_misbehaves": (
            "renew_driver@system", "clean_cooler@cooler", "mend_system@system", "replace_supply@supply",
        ),
        "slow_noisy_other": (
            "clean_programs@system", "clean_cooler@cooler", "mend_system@system", "replace_drive@drive.1",
        ),
    }
)  # fmt: skip
"""Class of complaint -> what is done when nothing was found, in order."""

MOST_REPAIRS = 8
"""After so many repairs in vain the machine is handed back."""

MOST_POINTED = 2
"""Repairs thought of after one check."""

SMALL_CENTS = 25_00.0
"""What costs no more than this, with time and parts, is done on one finding."""


def follow_routine(bench: Bench) -> None:
    """Do the next step."""
    if not bench.path:
        _begin(bench, bench.job.complaint)
    elif bench.waiting and bench.waiting[0].startswith(_REPAIR):
        _mend(bench, bench.waiting.pop(0).removeprefix(_REPAIR))
    elif bench.waiting:
        found = bench.check(bench.waiting.pop(0))
        if found is not None:
            _conclude(bench, found)
    elif _PROOF_TRIED not in bench.done and (bench.found[-1].is_fine or bench.found[0].is_fine):
        bench.done.add(_PROOF_TRIED)
        _prove(bench)
    else:
        _swap(bench)


def _swap(bench: Bench) -> None:
    """Do what was pointed at and costs money, then what the complaint speaks of; or give up."""
    pointed = sorted(bench.pointed, key=lambda name: (-bench.pointed[name], name))
    rest = [name for name in (*pointed, *SWAPPED.get(bench.job.complaint, ())) if _can(bench, name)]
    worth = bench.rates.worth(age_of({AGE: bench.job.machine.get(AGE)}))
    if not rest or bench.bill.cents > bench.rates.stop_share * worth or len(bench.done) > MOST_REPAIRS:
        bench.hand_back()
    else:
        _mend(bench, rest[0])


_REPAIR = "repair:"
_PROOF_TRIED = "proof"


def _begin(bench: Bench, complaint: str) -> None:
    """Do what every job begins with, and put the checks in order."""
    bench.clear_power()
    found = bench.check(FIRST)
    told = {statement.event for statement in bench.job.told if statement.event and statement.is_true}
    order = ORDER.get(complaint, _CRASHES)
    if not told.isdisjoint(WORK_TOLD):
        order = ("after_work_look", *order)
    if found is not None and found.is_fine and complaint in ("nothing_happens", "lights_no_picture"):
        order = ("as_at_home", "mains_side_look", "outside_plugs_look", *order)
    done = {each.check for each in bench.found}
    bench.waiting += [name for name in order if name not in done]
    if found is not None:
        _conclude(bench, found)


def _conclude(bench: Bench, found: Found) -> None:
    """Put what a check points at before everything else; what costs money waits until two findings point at it."""
    names: list[str] = []
    if not found.is_fine:
        for name in [name for entry in found.entries for name in pointed_at(bench.book, entry)][:MOST_POINTED]:
            bench.pointed[name] = bench.pointed.get(name, 0) + 1
            if bench.cost(name.partition("@")[0]) <= SMALL_CENTS or bench.pointed[name] > 1:
                names.append(name)
    elif found.check in CURED and not bench.found[0].is_fine and _says_much(bench, found):
        names += CURED[found.check]
    new = [f"{_REPAIR}{name}" for name in names if _can(bench, name)]
    bench.waiting[:0] = [name for name in new if name not in bench.waiting]


def _says_much(bench: Bench, found: Found) -> bool:
    """Return whether a fine run tells anything of the complaint: without a monitor a dark machine always seems fine."""
    runs = [entry for entry in found.entries if isinstance(entry, Run)]
    is_lit = any(any(stages.values()) for run in runs for stages in run.seen.picture.values())
    return is_lit or bench.job.complaint == "nothing_happens"


def _can(bench: Bench, name: str) -> bool:
    repair, _, at = name.partition("@")
    return name not in bench.done and repair in bench.book.repairs and at in bench.places(bench.book.repairs[repair])


def _mend(bench: Bench, name: str) -> None:
    """Do a repair, and the proof where its re-check was fine."""
    if not _can(bench, name):
        return
    bench.done.add(name)
    repair, _, at = name.partition("@")
    found = bench.repair(repair, at)
    if found is None or found.is_fine:
        _prove(bench)
    else:
        _conclude(bench, found)


def _prove(bench: Bench) -> None:
    """Prove the machine; where that fails, go on from what it showed."""
    if not bench.prove():
        _conclude(bench, bench.found[-1])
