"""A job file that says what it should becomes the job it tells."""

import pytest
from small_book import SMALL_BOOK

from halfsplit.jobfile import load_job, parse_job
from halfsplit.model.job import Correct, Job, OwnedPart, Seen, StopSeen
from halfsplit.model.machine import Conditions

SAMPLE = """
machine: {kind: built, age_years: 6, supply: {watts: 550}, board: {status_leds: none, video_output: yes},
          memory: [8, 8], card: {}, drives: [m2, sata]}
told:    [{event: moved_house, ago: 2 weeks}, {stop: resets, load: games, always: no}]
log:
  - run:     {output: card, reached: log_in, stop: {resets: 6 min, load: card}, failed: 3, of: 5}
  - inspect: {at: card_power_plug, tool: torch, seen: half_in}
  - measure: {at: rail_12v, volts: 11.18, load: card, meter: bench, id: sag}
  - repair:  {do: reseat, at: card_power_plug}
  - run:     {on: bench, with: {card: owner}, cold: yes, reached: log_in}
  - correct: {entry: sag, volts: 11.81}
"""


def read(text):
    job, mistakes = parse_job(text, SMALL_BOOK)
    assert mistakes == ()
    return job


def machine(text):
    return read(f"machine: {text}")


def entry(text):
    return read(f"log: [{text}]").log[0]


def run(text):
    return entry(f"run: {text}")


def told(text):
    return read(f"told: [{text}]").told[0]


def test_the_sample_tells_its_machine():
    job = read(SAMPLE)
    assert job.machine == {"kind": "built", "age_years": 6.0, "video_output": "yes"}
    assert [(part.slot, dict(part.fields)) for part in job.parts] == [
        ("supply", {"watts": 550}),
        ("board", {"status_leds": "none"}),
        ("memory.1", {"gb": 8}),
        ("memory.2", {"gb": 8}),
        ("card", {}),
        ("drive.1", {"type": "m2"}),
        ("drive.2", {"type": "sata"}),
    ]


def test_the_sample_tells_its_statements_and_its_log():
    job = read(SAMPLE)
    moved, resets = job.told
    assert (moved.event, moved.ago, moved.seen) == ("moved_house", "2 weeks", None)
    assert (resets.seen, resets.always, resets.conditions.load) == (
        Seen(stop=StopSeen("resets")),
        False,
        "games",
    )
    crash, look, sag, repair, bench, correct = job.log
    assert (crash.output, crash.conditions.load, crash.failed, crash.of) == ("card", "card", 3, 5)
    assert crash.seen == Seen(reached="log_in", stop=StopSeen("resets", 360.0))
    assert (look.what, look.tool, look.seen) == ("card_power_plug", "torch", "half_in")
    assert (sag.id, sag.what, sag.value, sag.load, sag.meter) == ("sag", "rail_12v", 11.18, "card", "bench")
    assert (repair.do, repair.to, repair.fitted) == ("reseat_card_plug", "card_power_plug", "new")
    assert (bench.on, dict(bench.swaps), bench.conditions.cold) == ("bench", {"card": "owner"}, True)
    assert (correct.entry, correct.now.id, correct.now.value, correct.now.load) == (
        "sag",
        "sag",
        11.81,
        "card",
    )


def test_every_entry_knows_its_place():
    job = read(SAMPLE)
    assert [each.place for each in (*job.told, *job.log)][:3] == [
        "job.yaml:4:11",
        "job.yaml:4:47",
        "job.yaml:6:14",
    ]


def test_an_entry_without_id_is_named_by_its_kind_and_number():
    assert [each.id for each in read(SAMPLE).log] == [
        "run_1",
        "inspect_1",
        "sag",
        "repair_1",
        "run_2",
        "correct_1",
    ]


def test_an_empty_map_is_a_job_of_which_nothing_is_known():
    assert read("{}") == Job()


def test_a_file_is_read_by_its_name(tmp_path):
    path = tmp_path / "mine.yaml"
    path.write_text("log: [{rnu: {}}]", encoding="utf-8")
    job, mistakes = load_job(path, SMALL_BOOK)
    assert (job, [mistake.place for mistake in mistakes]) == (None, ["mine.yaml:1:8"])


@pytest.mark.parametrize(
    ("text", "slots"),
    [
        ("{memory: 8}", ["memory.1"]),
        ("{memories: [8, none, 16]}", ["memory.1", "memory.3"]),
        ("{memory.2: {gb: 8}, memory.1: yes}", ["memory.1", "memory.2"]),
        ("{fans: [yes, yes]}", ["fan.1", "fan.2"]),
        ("{supplies: [550]}", ["supply"]),
        ("{memory: [~, {}]}", ["memory.1", "memory.2"]),
        ("{card: unknown, supply: ~, drive: [unknown, m2]}", ["drive.2"]),
        ("{drive: [m2], board: {}, supply: 550}", ["supply", "board", "drive.1"]),
    ],
)
def test_parts_fill_numbered_slots_in_the_order_of_the_book(text, slots):
    assert [part.slot for part in machine(text).parts] == slots


@pytest.mark.parametrize("text", ["{card: none}", "{card: no}", "{card: 'no'}", "{cards: []}", "{card: [none]}"])
def test_none_is_certainly_not_there(text):
    job = machine(text)
    assert (job.parts, job.missing) == ((), ("card",))


def test_unknown_is_a_value_that_says_nothing():
    assert machine("{kind: unknown, age_years: ~, board: {firmware: unknown}}") == Job(parts=(OwnedPart("board"),))


def test_a_part_field_that_is_a_fact_is_told_of_the_machine():
    job = machine("{board: {video_output: no, firmware: '1.20'}}")
    assert job.machine == {"video_output": "no"}
    assert job.parts == (OwnedPart("board", {"firmware": "1.20"}),)


def test_numbers_stay_numbers_and_quoted_ones_text():
    fields = machine("{drive: [{type: 012, gb: 0.5}], board: {firmware: '012', status_leds: yes}}").parts
    assert [dict(part.fields) for part in fields] == [
        {"firmware": "012", "status_leds": "yes"},
        {"type": 12, "gb": 0.5},
    ]


@pytest.mark.parametrize(
    ("text", "seen"),
    [
        ("{}", Seen()),
        ("{stop: none}", Seen(stayed=True)),
        ("{stop: no}", Seen(stayed=True)),
        ("{stop: yes}", Seen(stop=StopSeen())),
        ("{stop: stays, not: self_test}", Seen(not_reached="self_test", stop=StopSeen("stays"))),
        ("{stop: 15s}", Seen(stop=StopSeen("", 15.0))),
        ("{stop: {freezes: yes}}", Seen(stop=StopSeen("freezes"))),
        ("{stop: {cuts_out: 0.5 h}}", Seen(stop=StopSeen("cuts_out", 1800.0))),
        ("{signs: {beep: no, fans_turn: yes, stripes: unsure}}",
         Seen(signs={"beep": "no", "fans_turn": "yes", "stripes": "unsure"})),
        ("{signs: [beep, fans_turn]}", Seen(signs={"beep": "yes", "fans_turn": "yes"})),
        ("{signs: beep}", Seen(signs={"beep": "yes"})),
    ],
)  # fmt: skip
def test_what_a_run_showed_may_be_told_tersely(text, seen):
    assert run(text).seen == seen


@pytest.mark.parametrize(
    ("text", "picture"),
    [
        ("{picture: none}", {"used": {"self_test": False, "system": False}}),
        ("{picture: yes}", {"used": {"self_test": True}}),
        ("{picture: yes, reached: log_in}", {"used": {"system": True}}),
        ("{picture: yes, output: board}", {"board": {"self_test": True}}),
        ("{picture: {card: yes, board: no}}",
         {"card": {"self_test": True}, "board": {"self_test": False, "system": False}}),
        ("{picture: {card: {self_test: yes, system: no}}}", {"card": {"self_test": True, "system": False}}),
        ("{picture: {self_test: no, system: yes}, output: card}",
         {"card": {"self_test": False, "system": True}}),
    ],
)  # fmt: skip
def test_a_picture_is_told_for_each_output_and_stage(text, picture):
    assert run(text).seen.picture == picture


@pytest.mark.parametrize(
    ("text", "conditions"),
    [
        ("{}", Conditions()),
        ("{cold: no, load: games, minutes: 30}", Conditions(cold=False, load="games", minutes=30.0)),
        ("{minutes: 1 h, lead_out: 30 s}", Conditions(minutes=60.0, lead_out_minutes=0.5)),
        ("{lead_out: no}", Conditions(lead_out_minutes=0.0)),
        ("{position: flat, touched: memory, started_by: pins}",
         Conditions(position="flat", touched="memory", started_by="pins")),
        ("{first_after: side_panel}", Conditions(first_after="side_panel")),
        ("{first_after: reseat_memory}", Conditions(first_after="reseat_memory")),
        ("{first_after: storm}", Conditions(first_after="storm")),
        ("{stop: {resets: 6 min, load: card}}", Conditions(load="card")),
    ],
)  # fmt: skip
def test_conditions_are_told_beside_what_was_seen(text, conditions):
    assert run(text).conditions == conditions


@pytest.mark.parametrize(
    ("text", "count"), [("{}", (1, 1)), ("{failed: 3, of: 5}", (3, 5)), ("{of: 5, reached: log_in}", (5, 5))]
)
def test_a_count_says_how_many_runs_showed_it(text, count):
    assert (run(text).failed, run(text).of) == count


def test_none_of_five_failed_is_five_runs_that_went_through():
    passed = run("{failed: 0, of: 5, signs: [beep]}")
    assert (passed.failed, passed.of) == (5, 5)
    assert passed.seen == Seen(reached="log_in", stayed=True, signs={"beep": "yes"})


@pytest.mark.parametrize(
    ("text", "swaps"),
    [
        ("{memory.2: out, card: none, supply: no}", {"memory.2": "out", "card": "out", "supply": "out"}),
        ("{drives: out}", {"drive": "out"}),
        ("{supply: shelf.supply_a, memory.1: owner.memory.2}",
         {"supply": "shelf.supply_a", "memory.1": "owner.memory.2"}),
        ("{board: bench.board, card: yes, supply: new.supply.1}",
         {"board": "bench.board", "card": "in", "supply": "new.supply.1"}),
        ("{supply: new, memory.3: owner, card: ~}", {"supply": "new", "memory.3": "owner"}),
    ],
)  # fmt: skip
def test_a_slot_holds_nothing_or_a_unit(text, swaps):
    assert run(f"{{with: {text}}}").swaps == swaps
    assert entry(f"setup: {text}").swaps == swaps


def test_a_setup_stays_and_tells_output_case_and_host_too():
    setup = entry("setup: {output: board, memory.2: out, case: out, on: bench, by: AB}")
    assert (setup.on, setup.output, setup.case, setup.swaps, setup.by) == (
        "bench",
        "board",
        "out",
        {"memory.2": "out"},
        "AB",
    )


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("{at: memory_seat.2, seen: dirty}", "memory_seat.2"),
        ("{at: drive.1, seen: clicks}", "drive_sound.1"),
        ("{at: drive_health.1, seen: fine}", "drive_health.1"),
        ("{at: supply, seen: unsure}", "supply"),
    ],
)
def test_an_inspection_is_found_by_its_place_and_what_was_seen(text, what):
    assert entry(f"inspect: {text}").what == what


def test_a_measurement_is_found_by_its_place_and_unit():
    assert entry("measure: {at: supply, watts: 45}").what == "wall_watts"
    assert entry("measure: {at: drive.2, celsius: -3}").what == "drive_temp.2"


@pytest.mark.parametrize(
    ("text", "done"),
    [
        ("{do: reseat, at: memory_seat.2}", ("reseat_memory", "memory_seat.2", "new")),
        ("reseat_memory", ("reseat_memory", "memory_seat", "new")),
        ("straighten", ("straighten_pins", "memory_seat", "new")),
        ("{do: replace, at: supply, with: shelf.supply_a}", ("replace_supply", "supply", "shelf.supply_a")),
        ("{do: replace_memory, at: memory.1, with: new}", ("replace_memory", "memory.1", "new")),
    ],
)
def test_a_repair_is_found_by_what_was_done_and_where(text, done):
    repair = entry(f"repair: {text}")
    assert (repair.do, repair.to, repair.fitted) == done


def test_remarks_have_text_and_money_in_cents():
    log = read("log: [{note: 'call: tomorrow'}, {spend: 42.5}, {agree: {text: up to, cost: 80}}]").log
    assert [(remark.kind, remark.text, remark.cents) for remark in log] == [
        ("note", "call: tomorrow", None),
        ("spend", "", 4250),
        ("agree", "up to", 8000),
    ]


def test_statements_may_be_short_and_stand_in_the_log_too():
    assert told("storm").event == "storm"
    assert told("{event: storm, happened: no, sure: guess}").is_true is False
    assert told("{words: it smells}").words == "it smells"
    assert read("told: {event: storm}").told[0].event == "storm"
    assert entry("told: {not: starts, cold: yes, sure: sure}").conditions.cold is True


def test_who_and_when_stand_inside_the_entry():
    note = entry("note: {text: x, by: AB, when: 2030-01-31T09:15, id: n-1}")
    assert (note.id, note.by, note.at) == ("n-1", "AB", "2030-01-31T09:15")


def test_a_correction_replaces_fields_takes_away_fields_and_can_be_corrected():
    job = read("""
        log:
          - run: {load: games, stop: {resets: 6 min}, by: AB}
          - correct: {entry: run_1, load: ~, cold: yes, by: CD}
          - correct: {entry: run_1, stop: freezes}
    """)
    first, second = job.log[1:]
    assert isinstance(first, Correct)
    assert (first.by, first.now.by, first.now.id) == ("CD", "AB", "run_1")
    assert first.now.conditions == Conditions(cold=True)
    assert first.now.seen == Seen(stop=StopSeen("resets", 360.0))
    assert second.now.conditions == Conditions(cold=True)
    assert second.now.seen == Seen(stop=StopSeen("freezes"))


def test_what_the_owner_told_can_be_corrected_too():
    job = read("{told: [{event: storm, id: bad_night}], log: [{correct: {entry: bad_night, happened: no}}]}")
    assert job.log[0].now.is_true is False


def test_the_order_of_keys_does_not_matter():
    top = read("{log: [{run: {reached: log_in, cold: yes}}], machine: {drive: m2, kind: built}, name: a job}")
    same = read("{name: a job, machine: {kind: built, drive: m2}, log: [{run: {cold: yes, reached: log_in}}]}")
    assert (top.name, top.machine, top.parts) == (same.name, same.machine, same.parts)
    assert top.log[0].seen == same.log[0].seen


def test_yaml_1_1_switches_change_no_word():
    assert run("{on: bench}").on == "bench"
    assert entry("note: {text: off, by: no, id: 012}").id == "012"
