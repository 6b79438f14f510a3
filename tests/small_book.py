"""A fault book of a few words, made in code, for tests that need words and no faults."""

from halfsplit.model.bench import (
    Event,
    Inspection,
    Load,
    Measurement,
    Minutes,
    Opening,
    Repair,
    Sign,
    Tool,
    Word,
)
from halfsplit.model.book import Book, Complaint, Teller
from halfsplit.model.faults import Fault, Pattern, Strength
from halfsplit.model.ladder import Ladder, Rung
from halfsplit.model.machine import Fact, Grade, Host, Joint, Output, PartKind, ShelfPart

HALF = Strength(0.5, 0.7)
SOON = Minutes(1, 1)
RUNGS = (
    "standby_power",
    "starts",
    "rails_good",
    "processor_runs",
    "memory_passes",
    "self_test",
    "boot_drive",
    "loader",
    "system_loads",
    "log_in",
)


def by_id(*nouns):
    return {noun.id: noun for noun in nouns}


def words(**titles):
    return {name: Word(name, title) for name, title in titles.items()}


SMALL_BOOK = Book(
    hash="small",
    strengths={"half": HALF},
    ladder=Ladder(tuple(Rung(name, name.replace("_", " "), (n, n + 1.0)) for n, name in enumerate(RUNGS))),
    kinds=by_id(
        PartKind("supply", "power supply", fields={"watts": "rated watts"}),
        PartKind("board", "main board", fields={"status_leds": "yes when it has them", "firmware": "version"}),
        PartKind("memory", "memory module", many=True, default=2, fields={"gb": "size in gigabytes"}),
        PartKind("card", "graphics card", fields={"watts": "board power"}),
        PartKind("drive", "drive", many=True, fields={"type": "sata or m2", "gb": "size in gigabytes"}),
        PartKind("fan", "case fan", many=True),
        PartKind("front_switch", "front switch"),
    ),
    joints=by_id(
        Joint("card_power_plug", "power plug of the graphics card", ("supply", "card")),
        Joint("memory_seat", "memory module in its slot", ("memory", "board")),
    ),
    facts=by_id(
        Fact("kind", "built or ready made", {"built": 0.5, "ready_made": 0.5}),
        Fact("age_years", "age in years"),
        Fact("video_output", "sockets for a monitor on the board", {"yes": 0.7, "no": 0.3}),
    ),
    hosts=by_id(Host("owner", "owner's machine"), Host("bench", "bench's machine", ("supply", "board", "memory"))),
    grades=by_id(Grade("known_good", "known good", 0.98, "estimate")),
    shelf=by_id(
        ShelfPart("supply_a", "supply", "known_good", "known-good supply"),
        ShelfPart("memory_a", "memory", "known_good"),
    ),
    outputs=by_id(Output("card", "socket of the card", "card"), Output("board", "socket of the board", "board")),
    loads=by_id(
        Load("idle", "idle", ()),
        Load("games", "games", ("card", "processor")),
        Load("card", "load on the card", ("card",)),
    ),
    conditions=words(
        cold="cold or warm",
        load="what it was busy with",
        minutes="how long",
        lead_out="lead out how long",
        position="how it stood",
        touched="what was touched",
        started_by="what started it",
        first_after="first start after what",
    ),
    positions=words(upright="upright", flat="flat"),
    starters=words(front="front switch", pins="switch pins"),
    touches=words(memory="memory pressed", card="card pressed"),
    complaints=by_id(Complaint("nothing_happens", "nothing happens"), Complaint("starts_misbehaves", "misbehaves")),
    tellers=(Teller("average", 1.0, 0.1),),
    events=by_id(Event("moved_house", "moved house"), Event("storm", "thunderstorm")),
    signs=by_id(
        Sign("fans_turn", "fans turn", "starts", "starts"),
        Sign("beep", "a beep", "processor_runs", "processor_runs"),
        Sign("stripes", "stripes on the screen", "self_test", "self_test", on_screen=True),
    ),
    forced=(),
    tools=by_id(Tool("torch", "torch", 0.85), Tool("glass", "magnifying glass", 0.97)),
    inspections=by_id(
        Inspection("card_power_plug", "plug", "card_power_plug", ("burnt", "half_in", "fine"), "", HALF),
        Inspection("memory_seat", "seat", "memory_seat", ("half_in", "dirty", "fine"), "", HALF),
        Inspection("drive_health", "health figures", "drive", ("failing", "fine"), "", HALF),
        Inspection("drive_sound", "sound", "drive", ("clicks", "fine"), "", HALF),
        Inspection("supply", "exhaust", "supply", ("smells", "fine"), "", HALF),
    ),
    measurements=by_id(
        Measurement("rail_12v", "+12 V", "volts", "supply", "+12V"),
        Measurement("rail_5v", "+5 V", "volts", "supply", "+5V"),
        Measurement("wall_watts", "at the wall", "watts", "supply", low=1.0),
        Measurement("drive_temp", "drive temperature", "celsius", "drive", high=65.0),
    ),
    openings=by_id(Opening("side_panel", "side panel off", "", 1, 1)),
    hazards={},
    checks={},
    repairs=by_id(
        Repair("reseat_card_plug", "reseat the plug", "reseat", "card_power_plug", "", SOON, (), ""),
        Repair("reseat_memory", "reseat memory", "reseat", "memory_seat", "", SOON, (), ""),
        Repair("clean_memory", "clean the contacts", "clean", "memory_seat", "", SOON, (), ""),
        Repair("air_memory", "blow out the slot", "clean", "memory_seat", "", SOON, (), ""),
        Repair("replace_supply", "replace the supply", "replace", "supply", "", SOON, (), ""),
        Repair("replace_memory", "replace memory", "replace", "memory", "", SOON, (), ""),
        Repair("straighten_pins", "straighten pins", "straighten", "memory_seat", "", SOON, (), ""),
    ),
    faults=by_id(Fault("memory_bad", "memory module bad", ("memory",), HALF, (Pattern("dead", 1.0),))),
)
