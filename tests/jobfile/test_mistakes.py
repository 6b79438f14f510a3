"""Every mistake of a job file is told at once, each with its code, its place and the word that was meant."""

import pytest
from small_book import SMALL_BOOK

from halfsplit.jobfile import parse_job


def mistakes(text):
    job, found = parse_job(text, SMALL_BOOK)
    assert (job is None) == bool(found)
    return found


def told(text):
    return [(mistake.code, mistake.place.removeprefix("job.yaml:")) for mistake in mistakes(text)]


def told_in_log(entry):
    """The mistakes of one entry, whose text begins in line 1, column 7."""
    return told(f"log: [{entry}]")


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("", [("HS113", "1:1")]),
        ("[1]", [("HS113", "1:1")]),
        ("mashine: {}", [("HS111", "1:1")]),
        ("machine: built", [("HS113", "1:10")]),
        ("log: {run: {}}", [("HS113", "1:6")]),
        ("told: storm\nlog: 3", [("HS113", "2:6")]),
        ("name: [a]", [("HS113", "1:7")]),
        ("complaint: noting_happens", [("HS112", "1:12")]),
        ("a: 1\na: 2\nlog: [", [("HS103", "2:1"), ("HS102", "4:1")]),
        ("machine: !x {}", [("HS104", "1:10")]),
    ],
)
def test_the_file_as_a_whole(text, found):
    if text.endswith("["):
        found = [found[0], ("HS102", told(text)[-1][1])]
    assert told(text) == found


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("{knid: built}", [("HS111", "1:11")]),
        ("{kind: bilt}", [("HS112", "1:17")]),
        ("{kind: yes}", [("HS112", "1:17")]),
        ("{age_years: old}", [("HS114", "1:22")]),
        ("{age_years: -1}", [("HS114", "1:22")]),
        ("{age_years: .nan}", [("HS114", "1:22")]),
        ("{supply: {wats: 5}}", [("HS111", "1:20")]),
        ("{supply: {watts: [5]}}", [("HS113", "1:27")]),
        ("{supply: [{}, {}]}", [("HS131", "1:19")]),
        ("{supply.1: {}}", [("HS131", "1:11")]),
        ("{memory.0: {}}", [("HS131", "1:11")]),
        ("{memory.1: [8]}", [("HS113", "1:21")]),
        ("{memory: [[8]]}", [("HS113", "1:20")]),
        ("{memory: [8], memory.1: 8}", [("HS132", "1:34")]),
        ("{drive: m2, drives: [m2]}", [("HS132", "1:31")]),
        ("{fan: big}", [("HS112", "1:16")]),
        ("{video_output: yes, board: {video_output: no}}", [("HS134", "1:52")]),
    ],
)
def test_the_machine(text, found):
    assert told(f"machine: {text}") == found


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("{run: {}, by: AB}", [("HS121", "1:7")]),
        ("run", [("HS121", "1:7")]),
        ("{}", [("HS121", "1:7")]),
        ("{rnu: {}}", [("HS111", "1:8")]),
        ("{run: yes}", [("HS113", "1:13")]),
        ("{run: {id: a b}}", [("HS122", "1:18")]),
        ("{run: {id: x}}, {run: {id: x}}", [("HS122", "1:34")]),
        ("{run: {id: run_2}}, {run: {}}", [("HS122", "1:33")]),
        ("{note: {text: x, when: today}}", [("HS118", "1:30")]),
        ("{note: ~}", [("HS113", "1:14")]),
        ("{note: {by: AB}}", [("HS117", "1:14")]),
        ("{note: ['x']}", [("HS113", "1:14")]),
        ("{spend: {text: x}}", [("HS117", "1:15")]),
        ("{spend: 3.999}", [("HS119", "1:15")]),
        ("{spend: {cost: -3}}", [("HS119", "1:22")]),
    ],
)
def test_any_entry(text, found):
    assert told_in_log(text) == found


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("{on: bnech}", [("HS112", "1:18")]),
        ("{on: [bench]}", [("HS113", "1:18")]),
        ("{output: crad, case: off}", [("HS112", "1:22"), ("HS112", "1:34")]),
        ("{cold: 1}", [("HS115", "1:20")]),
        ("{load: game}", [("HS112", "1:20")]),
        ("{minutes: long}", [("HS114", "1:23")]),
        ("{lead_out: 30}", [("HS116", "1:24")]),
        ("{minutes: 200 weeks}", [("HS116", "1:23")]),
        ("{reached: login}", [("HS112", "1:23")]),
        ("{reached: log_in, not: self_test}", [("HS142", "1:36")]),
        ("{stop: none, not: self_test}", [("HS142", "1:20")]),
        ("{stop: {resets: 6}}", [("HS116", "1:29")]),
        ("{stop: {resets: 6 min, freezes: 6 min}}", [("HS143", "1:20")]),
        ("{stop: {load: card}}", [("HS143", "1:20")]),
        ("{stop: {reset: 6 min}}", [("HS111", "1:21"), ("HS143", "1:20")][::-1]),
        ("{stop: {resets: 6 min, load: card}, load: games}", [("HS141", "1:42")]),
        ("{picture: {crad: yes}}", [("HS111", "1:24")]),
        ("{picture: {card: maybe}}", [("HS115", "1:30")]),
        ("{picture: {self_test: blue}}", [("HS115", "1:35")]),
        ("{signs: {bep: yes}}", [("HS111", "1:22")]),
        ("{signs: {beep: perhaps}}", [("HS112", "1:28")]),
        ("{signs: [bep]}", [("HS112", "1:22")]),
        ("{failed: 3}", [("HS117", "1:13")]),
        ("{failed: 3, of: 2}", [("HS145", "1:22")]),
        ("{failed: 0, of: 2, stop: resets}", [("HS145", "1:22")]),
        ("{of: 0}", [("HS114", "1:18")]),
        ("{of: 2.5}", [("HS114", "1:18")]),
        ("{with: {suply: out}}", [("HS111", "1:21")]),
        ("{with: {supply: oot}}", [("HS112", "1:29")]),
        ("{with: {supply: [out]}}", [("HS113", "1:29")]),
        ("{with: {supply: shelf.memory_a}}", [("HS133", "1:29")]),
        ("{with: {card: owner.supply}}", [("HS133", "1:27")]),
        ("{with: {memory.0: out, supply.2: out}}", [("HS131", "1:21"), ("HS131", "1:36")]),
        ("{with: {memory: out, memories: in}}", [("HS132", "1:34")]),
        ("{with: out}", [("HS113", "1:20")]),
    ],
)
def test_a_run(text, found):
    assert told_in_log(f"{{run: {text}}}") == found


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("{}", [("HS144", "1:14")]),
        ("{event: storm, stop: resets}", [("HS144", "1:14")]),
        ("{event: strom}", [("HS112", "1:22")]),
        ("strom", [("HS112", "1:14")]),
        ("{event: storm, sure: very}", [("HS112", "1:35")]),
        ("{event: storm, happened: perhaps}", [("HS115", "1:39")]),
        ("{signs: {}}", [("HS144", "1:14")]),
    ],
)
def test_a_statement(text, found):
    assert told_in_log(f"{{told: {text}}}") == found


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("{setup: {outptu: card}}", [("HS111", "1:16")]),
        ("{setup: {memory.2: out, drive: shelf.supply_a}}", [("HS133", "1:38")]),
        ("{inspect: {at: memory_seat.1}}", [("HS117", "1:17")]),
        ("{inspect: {seen: fine}}", [("HS117", "1:17")]),
        ("{inspect: {at: memory_saet, seen: fine}}", [("HS112", "1:22")]),
        ("{inspect: {at: board, seen: fine}}", [("HS151", "1:22")]),
        ("{inspect: {at: supply.1, seen: fine}}", [("HS131", "1:22")]),
        ("{inspect: {at: memory_seat.0, seen: fine}}", [("HS131", "1:22")]),
        ("{inspect: {at: memory_seat, seen: burnt}}", [("HS112", "1:41")]),
        ("{inspect: {at: drive, seen: fine}}", [("HS152", "1:22")]),
        ("{inspect: {at: supply, seen: fine, tool: lamp}}", [("HS112", "1:48")]),
        ("{measure: {at: rail_12v}}", [("HS153", "1:17")]),
        ("{measure: {at: rail_12v, volts: 3, watts: 4}}", [("HS153", "1:17")]),
        ("{measure: {at: rail_12v, watts: 4}}", [("HS153", "1:22")]),
        ("{measure: {volts: 4}}", [("HS117", "1:17")]),
        ("{measure: {at: supply, volts: 4}}", [("HS152", "1:22")]),
        ("{measure: {at: rail_12v, volts: 11.8 V}}", [("HS114", "1:39")]),
        ("{measure: {at: rail_12v, volts: .inf}}", [("HS114", "1:39")]),
        ("{measure: {at: fan, rpm: 900}}", [("HS151", "1:22")]),
        ("{repair: {at: memory_seat}}", [("HS117", "1:16")]),
        ("{repair: {do: reset}}", [("HS112", "1:21")]),
        ("{repair: reseat}", [("HS117", "1:16")]),
        ("{repair: {do: replace, at: card}}", [("HS151", "1:34")]),
        ("{repair: {do: clean, at: memory_seat}}", [("HS152", "1:21")]),
        ("{repair: {do: replace_supply, at: memory}}", [("HS151", "1:41")]),
        ("{repair: {do: replace, at: supply, with: shelf.memory_a}}", [("HS133", "1:48")]),
        ("{repair: {do: reseat, at: memory_seat, with: new}}", [("HS133", "1:52")]),
        ("{correct: {entry: run_1, cold: yes}}", [("HS123", "1:25")]),
        ("{correct: {cold: yes}}", [("HS117", "1:17")]),
        ("{note: x}, {correct: {entry: note_1}}", [("HS117", "1:28")]),
        ("{note: x}, {correct: {entry: note_1, volts: 3}}", [("HS111", "1:44")]),
        ("{note: x}, {correct: {entry: note_1, text: [y]}}", [("HS113", "1:50")]),
        ("{correct: {entry: run_1, cold: yes}}, {run: {}}", [("HS123", "1:25")]),
        ("{note: x}, {correct: {entry: note_1, withdrawn: yes, text: y}}", [("HS124", "1:28")]),
        ("{note: x}, {correct: {entry: note_1, withdrawn: 3}}", [("HS115", "1:55")]),
    ],
)
def test_the_other_entries(text, found):
    assert told_in_log(text) == found


def test_all_mistakes_come_at_once_in_the_order_of_the_file():
    text = "\n".join(["log:", *(f"  - run: {{load: nothing_{n}}}" for n in range(12)), "machine: {knid: built}"])
    assert [place for _, place in told(text)] == [*(f"{line}:17" for line in range(2, 14)), "14:11"]


def test_a_mistake_in_a_corrected_entry_is_told_once():
    text = "log: [{run: {cold: 1, load: games}}, {correct: {entry: run_1, load: card}}]"
    assert told(text) == [("HS115", "1:20")]


@pytest.mark.parametrize(
    ("entry", "meant"),
    [
        ("{run: {load: game}}", "games"),
        ("{run: {reached: login}}", "log_in"),
        ("{run: {reached: Log-In}}", "log_in"),
        ("{run: {with: {Memory: out}}}", "memory"),
        ("{run: {with: {graphics card: out}}}", "card"),
        ("{run: {with: {supply: supply_a}}}", "shelf.supply_a"),
        ("{inspect: {at: card_power_plug, seen: half-in}}", "half_in"),
        ("{run: {signs: [fan_turns]}}", "fans_turn"),
        ("{measur: {}}", "measure"),
        ("{run: {output: bord}}", "board"),
        ("{note: {txt: a, text: b}}", "text"),
    ],
)
def test_the_word_that_was_meant_is_named(entry, meant):
    (mistake,) = mistakes(f"log: [{entry}]")
    assert mistake.do == f"Did you mean '{meant}'? Write it so"


def test_what_is_allowed_is_named():
    (mistake,) = mistakes("log: [{run: {load: xyz}}]")
    assert mistake.should == "allowed here: idle, games, card"
    assert mistake.do == "Write one of them, or leave it out"


def test_a_long_list_of_allowed_words_is_cut_and_begins_with_the_likely_ones():
    (mistake,) = mistakes("log: [{run: {lod: games}}]")
    assert mistake.should.startswith("allowed here: load, ")
    assert mistake.should.endswith(" more (see `halfsplit vocabulary`)")
