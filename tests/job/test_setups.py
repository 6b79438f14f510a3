"""Which unit sits where, as the log puts it."""

import pytest
from folding import fold, root, roots

from halfsplit.errors import ModelError

RUN = "run: {reached: log_in}"


def slots(*log, machine="{memory: [8, 8]}", host="owner"):
    return fold(*log, machine=machine).setups[host].slots


def test_a_part_taken_out_is_out_until_it_is_put_back():
    assert "memory.2" not in slots("setup: {memory.2: out}", RUN)
    assert slots("setup: {memory.2: out}", RUN, "setup: {memory.2: in}")["memory.2"] == "owner.memory.2"


def test_what_is_put_in_for_one_run_is_gone_after_it():
    assert slots("run: {with: {supply: shelf.supply_a}, reached: log_in}")["supply"] == "owner.supply"


def test_a_unit_is_in_one_place_only():
    moved = slots("setup: {memory.1: owner.memory.2}")
    assert (moved.get("memory.1"), moved.get("memory.2")) == ("owner.memory.2", None)


def test_a_part_lent_to_the_bench_machine_is_gone_from_the_owners():
    log = ("setup: {on: bench, card: owner}",)
    assert slots(*log, host="bench")["card"] == "owner.card"
    assert "card" not in slots(*log)
    assert slots(*log, "setup: {card: owner}")["card"] == "owner.card"


def test_a_kind_without_a_number_is_all_of_them():
    assert not {"memory.1", "memory.2"} & slots("setup: {memory: out}").keys()
    bench = slots("setup: {on: bench, memory: owner}", host="bench")
    assert [bench[f"memory.{n}"] for n in (1, 2)] == ["owner.memory.1", "owner.memory.2"]


def test_the_installed_system_goes_where_its_drive_goes():
    assert "system" not in slots("setup: {drive: out, stick: shelf.start_stick}")
    assert slots("setup: {on: dock, drive.1: owner}", host="dock").get("system") == "owner.system"
    assert slots("setup: {drive.1: shelf.drive_sata}")["system"] == "shelf.drive_sata.system"
    assert slots("setup: {drive: out}", "setup: {drive: in}")["system"] == "owner.system"


def test_a_second_new_part_is_another_one():
    replaced = "repair: {do: replace, at: supply}"
    assert slots(replaced)["supply"] == "new.supply.1"
    assert slots(replaced, RUN, replaced)["supply"] == "new.supply.2"


def test_what_was_replaced_keeps_its_faults_and_leaves_the_machine():
    folded = fold("repair: {do: replace, at: supply}", RUN)
    assert not folded.roots["supply_no_standby"].in_machine
    assert folded.roots["bad:new.supply.1"].in_machine
    assert root(folded, "supply_no_standby").moves == ()


def test_a_module_in_another_slot_is_another_contact():
    folded = fold("run: {with: {memory.1: owner.memory.2, memory.2: out}, reached: log_in}", machine="{memory: [8, 8]}")
    assert {"memory_not_home@memory.1", "memory_not_home@memory.1:owner.memory.2"} <= roots(folded)
    new = root(folded, "memory_not_home@memory.1:owner.memory.2")
    assert new.start[0] == 1.0
    assert len(new.moves) == 1
    assert 0.0 < new.moves[0].matrix[0, 1:].sum() < 0.05


def test_only_the_contact_that_was_touched_is_a_new_one():
    folded = fold("run: {with: {memory.2: out}, reached: log_in}", machine="{memory: [8, 8]}")
    assert not [name for name in roots(folded) if name.startswith("memory_not_home") and ":" in name]
    refit = root(folded, "memory_not_home@memory.2").moves[-1]
    assert refit.matrix[1, 0] == 0.75


def test_parts_that_the_machine_certainly_has_not_have_no_faults():
    of_the_card = {"card_not_home", "card_dead_or_failing", "card_power_plug_half_in"}
    assert of_the_card <= roots(fold())
    assert not of_the_card & roots(fold(machine="{card: none}"))
    assert "unlisted_riser" not in roots(fold())
    assert "unlisted_riser" in roots(fold(machine="{riser: yes}"))


@pytest.mark.parametrize(
    ("entry", "code"),
    [
        ("setup: {riser: owner}", "HS203"),
        ("setup: {memory.7: in}", "HS203"),
        ("setup: {memory.1: owner.memory.9}", "HS203"),
        ("run: {on: supply_alone, reached: starts}", "HS204"),
        ("inspect: {at: riser_seat, seen: fine}", "HS205"),
        ('measure: {at: rail_12v, volts: 12, meter: "0.5%+5000"}', "HS207"),
        ("repair: {do: leave_module_out}", "HS208"),
    ],
)
def test_what_cannot_be_folded_is_told_with_its_place(entry, code):
    with pytest.raises(ModelError) as caught:
        fold(entry)
    (mistake,) = caught.value.mistakes
    assert (mistake.code, mistake.place[:11]) == (code, "job.yaml:4:")


def test_all_mistakes_come_at_once():
    with pytest.raises(ModelError) as caught:
        fold("setup: {riser: owner}", "inspect: {at: riser_seat, seen: fine}", "run: {on: dock, reached: starts}")
    assert [m.code for m in caught.value.mistakes] == ["HS203", "HS205", "HS204"]
