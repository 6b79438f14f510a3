"""Every hazard that bench work has stands on every check, repair and opening that it touches, and so does every rule.

What hurts people, parts and data is common practice, no source; outlet, earth and wiring follow local codes and are a
qualified electrician's work.
"""

import re
from collections.abc import Callable, Collection, Iterable

import pytest

from halfsplit.book import shipped_book
from halfsplit.model.bench import Check, Repair

BOOK = shipped_book()
THINGS: tuple[Check | Repair, ...] = (*BOOK.checks.values(), *BOOK.repairs.values())

COOLERS = ("cooler_off", "liquid_cooler_off", "processor_out")
SUPPLY_WORK = ("power_leads_off", "supply_loose")
READS_DRIVE = ("system", "drive")
LIVE_UNITS = ("volts", "watts", "celsius", "rpm")
POWER_PLUGS = ("main_power_plug", "cpu_power_plug", "card_power_plug", "drive_power_plug", "supply_lead_plug")
DEAD_POINTS = ("mains_volts", "cell_volts")


def inside_of(name: str) -> tuple[str, ...]:
    """Return an opening and all that it is inside of."""
    found: list[str] = []
    while name in BOOK.openings:
        found.append(name)
        name = BOOK.openings[name].inside
    return tuple(found)


def chain(thing: Check | Repair) -> tuple[str, ...]:
    """Return what must be open for it, all of it."""
    return inside_of(thing.opening)


def hazards_of(thing: Check | Repair) -> set[str]:
    """Return its hazards with those of what must be open for it."""
    return {*thing.hazards, *(hazard for name in chain(thing) for hazard in BOOK.openings[name].hazards)}


def setup_of(thing: Check | Repair) -> dict[str, str]:
    """Return kind of part -> what a check puts there; of several slots the first that is filled."""
    found: dict[str, str] = {}
    for slot, put in thing.setup.items() if isinstance(thing, Check) else ():
        kind = slot.split(".")[0]
        found[kind] = put if found.get(kind, "out") == "out" else found[kind]
    return found


def load_of(thing: Check | Repair) -> tuple[str, ...]:
    """Return what the load of a check stresses."""
    load = thing.conditions.get("load", "idle") if isinstance(thing, Check) else "idle"
    return BOOK.loads[load].stresses


def text_of(thing: Check | Repair) -> str:
    return " ".join((thing.title, *thing.steps)).lower()


def is_inside(thing: Check | Repair) -> bool:
    return any(name in ("side_panel", "front_cover_off") for name in chain(thing))


def is_at(*kinds: str) -> Callable[[Check | Repair], bool]:
    return lambda thing: isinstance(thing, Repair) and thing.at in kinds


def is_bought(thing: Check | Repair) -> bool:
    return isinstance(thing, Repair) and thing.does == "replace"


def works_at_cooler(thing: Check | Repair) -> bool:
    return isinstance(thing, Repair) and thing.at in ("cooler", "cooler_mount", "paste") and thing.does != "clean"


def takes_cooler_off(thing: Check | Repair) -> bool:
    return any(name in COOLERS for name in chain(thing))


def handles_supply_leads(thing: Check | Repair) -> bool:
    return any(name in SUPPLY_WORK for name in chain(thing))


def powers_owners_machine(thing: Check | Repair) -> bool:
    """Return whether the owner's machine is on, or is put on the mains, while a check is done."""
    if not isinstance(thing, Check) or thing.kind == "ask" or thing.host != "owner":
        return False
    points = [BOOK.measurements[ask] for ask in thing.asks if ask in BOOK.measurements and ask not in DEAD_POINTS]
    looks = [BOOK.inspections[ask].at for ask in thing.asks if ask in BOOK.inspections]
    return (
        thing.kind == "run"
        or "stop" in thing.asks
        or any(point.unit in LIVE_UNITS for point in points)
        or (thing.opening == "" and any(at in ("system", "settings") for at in looks))
    )


def reads_or_feeds_from_supply(thing: Check | Repair) -> bool:
    """Return whether a rail is measured, or the owner's supply is put to work again."""
    rails = BOOK.hazards["no_power_from_high_supply"].raised.measured
    return bool(rails.keys() & {*asked(thing)}) or setup_of(thing).get("supply") == "owner"


def uses_owners_drive(thing: Check | Repair) -> bool:
    """Return whether the owner's system is started from the owner's drive, or the drive is read."""
    if (
        not isinstance(thing, Check)
        or thing.kind == "ask"
        or setup_of(thing).get("drive", "owner") not in ("owner", "in")
    ):
        return False
    if thing.host not in ("owner", "dock"):
        return False
    late = [rung.id for rung in BOOK.ladder.rungs][-3:]
    signs = [BOOK.signs[ask] for ask in thing.asks if ask in BOOK.signs]
    looks = [ask for ask in thing.asks if ask in BOOK.inspections and not BOOK.inspections[ask].opening]
    return (
        "drive" in load_of(thing)
        or any(BOOK.inspections[ask].at in READS_DRIVE for ask in looks)
        or (powers_owners_machine(thing) and any(sign.needs in late and not sign.is_on for sign in signs))
    )


def loads_or_swaps(thing: Check | Repair) -> bool:
    """Return whether bad memory, a bad supply or a load could write rubbish to the owner's drive."""
    if not isinstance(thing, Check) or thing.host != "owner":
        return False
    return bool({"memory", "processor", "card", "supply"} & set(load_of(thing))) or bool(
        {"memory", "supply"} & setup_of(thing).keys()
    )


def lends(*kinds: str) -> Callable[[Check | Repair], bool]:
    """Return whether a check puts a part of the shelf into the owner's machine."""

    def does(thing: Check | Repair) -> bool:
        put = setup_of(thing)
        return (
            isinstance(thing, Check)
            and thing.host == "owner"
            and any(put.get(k, "").startswith("shelf") for k in kinds)
        )

    return does


def tries_on_bench(thing: Check | Repair) -> bool:
    return isinstance(thing, Check) and thing.host == "bench" and bool({"supply", "card"} & setup_of(thing).keys())


def is_at_the_mains(thing: Check | Repair) -> bool:
    if isinstance(thing, Repair):
        return thing.at in ("outlet", "mains_lead", "mains_plug") and thing.does != "refer"
    return bool({"outlet", "mains_lead"} & setup_of(thing).keys()) or "mains_plug" in thing.asks


def may_lock_the_drive(thing: Check | Repair) -> bool:
    """Return whether it may break the seal of an encrypted drive."""
    if not isinstance(thing, Repair):
        return False
    return (
        (thing.at in ("settings", "firmware") and thing.does in ("reset", "flash"))
        or (thing.at in ("board", "processor") and thing.does == "replace")
        or thing.at in ("processor_seat", "cell", "cell_holder")
        or "secure start" in text_of(thing)
        or "boot order" in text_of(thing)
    )


def loses_settings(thing: Check | Repair) -> bool:
    return isinstance(thing, Repair) and (
        thing.at in ("settings", "firmware", "cell", "cell_holder")
        or (thing.at in ("board", "processor") and thing.does == "replace")
    )


def writes_to_drive(thing: Check | Repair) -> bool:
    """Return whether a repair writes so much that what was there may be gone."""
    whole = (
        isinstance(thing, Repair) and thing.at in ("system", "drive") and thing.does in ("refit", "replace", "flash")
    )
    return whole or (is_at("system")(thing) and "mended" in thing.title)


def starts_the_system(thing: Check | Repair) -> bool:
    return is_at("system")(thing)


def mentions(pattern: str) -> Callable[[Check | Repair], bool]:
    return lambda thing: re.search(pattern, text_of(thing)) is not None


def loads_long(thing: Check | Repair) -> bool:
    hard = {"card", "processor"} & set(load_of(thing))
    return (
        isinstance(thing, Check) and thing.host == "owner" and bool(hard) and float(thing.conditions["minutes"]) >= 10
    )


def price_of(thing: Check | Repair) -> int:
    """Return what the part that a repair replaces costs, in cents."""
    return BOOK.kinds[thing.at].price_cents if isinstance(thing, Repair) and thing.at in BOOK.kinds else 0


def may_see(*words: str, at: Collection[str] = ()) -> Callable[[Check | Repair], bool]:
    """Return whether a check looks where one of these may be seen; ``at`` = only on these parts or joints."""

    def does(thing: Check | Repair) -> bool:
        looks = [BOOK.inspections[ask] for ask in asked(thing) if ask in BOOK.inspections]
        return any(set(words) & set(look.seen) and (not at or look.at in at) for look in looks)

    return does


def looks_at_cells(thing: Check | Repair) -> bool:
    places = {BOOK.inspections[ask].at for ask in asked(thing) if ask in BOOK.inspections}
    places |= {BOOK.measurements[ask].at for ask in asked(thing) if ask in BOOK.measurements}
    return bool(places & {"cell", "cell_holder"})


def mends_power_plug(thing: Check | Repair) -> bool:
    return isinstance(thing, Repair) and thing.at in POWER_PLUGS and thing.does in ("reseat", "refit", "replace")


def reads_owners_system(thing: Check | Repair) -> bool:
    """Return whether what the owner has on the drive may come to be seen."""
    looks = [BOOK.inspections[ask] for ask in asked(thing) if ask in BOOK.inspections]
    return any(look.at == "system" and not look.opening for look in looks)


def may_meet_foreign_programs(thing: Check | Repair) -> bool:
    """Return whether it looks for programs that spy or spread, or takes them out."""
    found = {"hidden_program", "files_locked_for_money"}
    looks = {look.inspection for name in found for p in BOOK.faults[name].patterns for look in p.looks}
    named = looks & {"running_programs", "foreign_scan"}
    return bool(named & set(asked(thing))) or (
        isinstance(thing, Repair) and thing.at == "system" and "programs taken out" in thing.title
    )


def is_heavy(thing: Check | Repair) -> bool:
    turned = isinstance(thing, Check) and thing.conditions.get("position") in ("flat", "upside_down")
    return turned or "board_out" in chain(thing) or (is_at("monitor")(thing) and thing.does in ("replace", "refer"))


def asked(thing: Check | Repair) -> tuple[str, ...]:
    return thing.asks if isinstance(thing, Check) else ()


TOUCHES: tuple[tuple[str, Callable[[Check | Repair], bool], tuple[str, ...], tuple[str, ...]], ...] = (
    ("hands inside", is_inside, ("mains", "sharp_edges"), ("lead_out_first",)),
    ("behind the panel", lambda t: "side_panel" in chain(t), ("glass_panel", "static"), ()),
    ("cooler off", takes_cooler_off, ("hot_metal", "bent_pins", "liquid_metal"), ("never_without_cooler",)),
    ("contact of the cooler", works_at_cooler, (), ("never_without_cooler",)),
    ("liquid cooler", is_at("pump"), ("coolant",), ()),
    ("machine on", powers_owners_machine, (), ("no_power_after_liquid", "no_power_after_smoke")),
    ("what the supply gives", reads_or_feeds_from_supply, (), ("no_power_from_high_supply",)),
    ("owner's drive in use", uses_owners_drive, ("failing_drive",), ("no_more_starts_of_failing_drive",)),
    ("drive at work", lambda t: "drive" in load_of(t) and uses_owners_drive(t), ("data_loss",), ("image_first",)),
    ("memory, load and supply runs", loads_or_swaps, (), ("owner_drives_off",)),
    (
        "leads of the supply",
        handles_supply_leads,
        ("supply_never_opened",),
        ("never_open_supply", "same_supply_leads_only"),
    ),
    ("the supply itself", is_at("supply"), ("supply_never_opened",), ("never_open_supply", "selector_read_first")),
    (
        "a part lent",
        lends("supply", "memory", "card", "drive"),
        (),
        ("no_second_try_on_a_killer", "new_stock_not_lent"),
    ),
    ("a supply or card lent", lends("supply", "card"), ("short_on_part",), ("ohms_before_good_part", "scout_first")),
    ("a supply lent", lends("supply"), (), ("selector_read_first", "same_supply_leads_only")),
    ("memory lent", lends("memory"), (), ("no_memory_after_overvoltage", "scout_first")),
    ("memory bought", lambda t: is_at("memory")(t) and is_bought(t), (), ("no_memory_after_overvoltage",)),
    ("a suspect on the bench machine", tries_on_bench, ("short_on_part",), ("ohms_before_good_part",)),
    ("at the mains", is_at_the_mains, ("mains", "tingle", "ups"), ("selector_read_first",)),
    ("the outlet", is_at("outlet"), (), ("electrician",)),
    ("cells", is_at("cell", "cell_holder"), ("swallowed_cell",), ("cells_counted",)),
    (
        "cells on the way",
        mentions(r"\b(cell|battery)( out|.* counted)|button cell|(new|old) cell"),
        ("swallowed_cell",),
        ("cells_counted",),
    ),
    ("may lock the drive", may_lock_the_drive, ("recovery_key",), ("recovery_key_first",)),
    ("may lose settings", loses_settings, (), ("photograph_settings_first",)),
    ("writes to the drive", writes_to_drive, ("data_loss",), ("image_first",)),
    ("starts the owner's system", starts_the_system, ("failing_drive",), ("no_more_starts_of_failing_drive",)),
    ("solvent", mentions("solvent"), ("solvent",), ()),
    ("dust", mentions(r"\bblown\b.*\broom\b|felt between|outdoors"), ("dust",), ()),
    ("blades", mentions(r"\bblades?\b"), ("fan",), ()),
    ("long loads", loads_long, (), ("not_unattended_first",)),
    ("dear parts", lambda t: is_bought(t) and price_of(t) >= 10000, (), ("owner_agrees",)),
    ("socket in sight", lambda t: "processor_out" in chain(t), ("bent_pins", "static"), ()),
    ("burnt or scorched things", may_see("burnt", "scorched"), ("burning",), ()),
    ("signs of fire", lambda t: bool({"burnt_smell", "smoke_seen", "spark_seen"} & set(asked(t))), ("burning",), ()),
    ("burnt power plugs", may_see("burnt", at=POWER_PLUGS), ("burning",), ("burnt_plug_both_halves",)),
    ("work at power plugs", mends_power_plug, ("burning",), ("burnt_plug_both_halves",)),
    ("wet inside", may_see("wet", at=("case", "board", "liquid_path", "pump")), ("liquid",), ()),
    ("cells in sight", looks_at_cells, ("swollen_cell",), ("no_power_with_swollen_cell",)),
    ("cells in hand", is_at("cell", "cell_holder"), ("swollen_cell",), ("no_power_with_swollen_cell",)),
    ("the owner's system", reads_owners_system, (), ("nothing_private_opened",)),
    ("foreign programs", may_meet_foreign_programs, ("hostile_program",), ()),
    ("heavy things", is_heavy, ("weight",), ()),
    (
        "a processor or board of value",
        lambda t: is_at("board", "processor")(t) and is_bought(t),
        (),
        ("no_processor_into_shorted_board",),
    ),
)


def missing(thing: Check | Repair) -> Iterable[tuple[str, str]]:
    """Yield ("hazard" or "rule", id) for all that a thing lacks."""
    for _, touches, hazards, rules in TOUCHES:
        if touches(thing):
            yield from (("hazard", hazard) for hazard in hazards if hazard not in hazards_of(thing))
            yield from (("rule", rule) for rule in rules if rule not in thing.rules)


@pytest.mark.parametrize(("name", "touches"), [(row[0], row[1]) for row in TOUCHES], ids=[row[0] for row in TOUCHES])
def test_each_kind_of_work_is_in_the_book(name: str, touches: Callable[[Check | Repair], bool]) -> None:
    assert any(map(touches, THINGS)), name


@pytest.mark.parametrize("thing", THINGS, ids=[f"{type(thing).__name__}-{thing.id}" for thing in THINGS])
def test_what_touches_a_hazard_carries_it(thing: Check | Repair) -> None:
    assert list(missing(thing)) == []


def test_hazards_and_rules_of_the_trade_are_there_with_their_cautions() -> None:
    hazards = (
        "mains supply_never_opened tingle burning swollen_cell swallowed_cell liquid coolant sharp_edges hot_metal "
        "static data_loss failing_drive recovery_key glass_panel fan dust solvent liquid_metal weight short_on_part "
        "bent_pins ups"
    )
    rules = (
        "never_open_supply lead_out_first no_power_after_liquid no_power_after_smoke no_power_from_high_supply "
        "same_supply_leads_only "
        "never_without_cooler recovery_key_first photograph_settings_first no_more_starts_of_failing_drive image_first "
        "owner_drives_off ohms_before_good_part scout_first no_second_try_on_a_killer no_processor_into_shorted_board "
        "no_memory_after_overvoltage selector_read_first new_stock_not_lent cells_counted electrician "
        "burnt_plug_both_halves nothing_private_opened no_power_with_swollen_cell owner_agrees not_unattended_first"
    )
    for name in f"{hazards} {rules}".split():
        assert len(BOOK.hazards[name].caution.split()) >= 3, name
    used = {rule for thing in THINGS for rule in thing.rules}
    assert set(rules.split()) <= used
    shown = {hazard for thing in THINGS for hazard in hazards_of(thing)}
    assert set(hazards.split()) <= shown


def test_every_hazard_and_rule_of_the_book_is_asked_for_by_some_kind_of_work() -> None:
    """None of them stands in the book and hangs on nobody's having thought of it."""
    asked_for = {name for _, _, hazards, rules in TOUCHES for name in (*hazards, *rules)}
    assert {*BOOK.hazards} == asked_for


def test_openings_carry_what_they_touch() -> None:
    shown = {
        name: {hazard for outer in inside_of(name) for hazard in BOOK.openings[outer].hazards} for name in BOOK.openings
    }
    for name, hazards in shown.items():
        assert "mains" in hazards, name
    for name in COOLERS:
        assert {"hot_metal", "bent_pins", "static", "liquid_metal"} <= shown[name], name
        assert "paste" in {what for outer in inside_of(name) for what in BOOK.openings[outer].uses}, name
    assert "coolant" in shown["liquid_cooler_off"]
    assert "supply_never_opened" in shown["supply_loose"]
    assert "data_loss" in shown["drives_out"] & shown["drive_leads_off"]
    assert "weight" in shown["board_out"]


def test_what_an_opening_disturbs_may_come_with_it() -> None:
    """A joint that an opening may leave worse has a fault that says how."""
    at = {foothold for fault in BOOK.faults.values() for foothold in fault.at}
    made = {(maker, foothold) for fault in BOOK.faults.values() for maker in fault.made_by for foothold in fault.at}
    for opening in BOOK.openings.values():
        for joint in opening.disturbs:
            ends = set(BOOK.joints[joint].between)
            assert joint in at or any((opening.id, end) in made for end in ends), (opening.id, joint)


def test_nothing_ever_asks_to_open_a_supply() -> None:
    opened = re.compile(r"(open|unscrew|take apart|cover off)\W+(?:\w+\W+){0,3}supply|supply\W+(?:\w+\W+){0,2}opened")
    texts = [text_of(thing) for thing in THINGS] + [opening.title.lower() for opening in BOOK.openings.values()]
    for text in texts:
        for found in opened.finditer(text):
            assert "never" in text[max(0, found.start() - 60) : found.end() + 20], text
    assert not any(at == "supply" and does not in ("replace", "reset", "watch") for at, does in done_to())
    assert {repair.part for repair in BOOK.repairs.values() if repair.at == "supply"} == {"supply"}


def done_to() -> set[tuple[str, str]]:
    return {(repair.at, repair.does) for repair in BOOK.repairs.values()}


def test_no_processor_is_ever_run_without_a_cooler() -> None:
    for check in BOOK.checks.values():
        put = setup_of(check)
        if put.get("cooler") == "out" or put.get("pump") == "out":
            assert put.get("processor") == "out", check.id
        if takes_cooler_off(check):
            assert not powers_owners_machine(check), check.id
    for repair in BOOK.repairs.values():
        if takes_cooler_off(repair):
            assert repair.recheck or repair.does == "refer", repair.id


def test_no_step_asks_to_start_with_the_cooler_off() -> None:
    off = re.compile(r"cooler (?:is |still )?(?:off|out|lifted|loose)\b|without (?:a |the |its )?cooler|no cooler")
    start = re.compile(r"\b(start|press|power on|switch on|bridge|run)\b")
    for thing in THINGS:
        for step in thing.steps:
            if off.search(step.lower()) and start.search(step.lower()):
                assert re.search(r"\b(never|no power|not|before|then)\b", step.lower()), (thing.id, step)
    for opening in BOOK.openings.values():
        if opening.id in COOLERS:
            assert not opening.stays, opening.id


def test_a_recovery_key_is_asked_for_before_the_steps_and_in_them() -> None:
    first = [thing for thing in THINGS if isinstance(thing, Repair) and may_lock_the_drive(thing)]
    assert {"reset_settings", "update_firmware", "replace_board", "replace_processor", "set_boot_order"} <= {
        repair.id for repair in first
    }
    named = [repair.id for repair in first if re.search("recovery key|photo", text_of(repair))]
    assert {"reset_settings", "update_firmware", "replace_board", "replace_cell"} <= set(named)
