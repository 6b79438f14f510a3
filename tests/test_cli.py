"""The commands of the shell: what they print, and how they say no."""

import json
from io import BytesIO, TextIOWrapper
from pathlib import Path

import pytest
from rich.console import Console
from weighed_samples import weighed

from halfsplit.cli import main
from halfsplit.cli.plain_letters import PLAIN_LETTERS
from halfsplit.cli.sheet import print_sheet
from halfsplit.cli.weigh import show_weighed
from halfsplit.errors import JobFileError
from halfsplit.job.weighed import Conflict, LeftOut, Moved

EXAMPLES = Path(__file__).parents[1] / "examples"
METER = ("--meter", "0.5%+2", "--resolution", "0.01")

VOCABULARY = [
    "machine",
    "slots",
    "joints",
    "hosts",
    "outputs",
    "conditions",
    "loads",
    "events",
    "signs",
    "rungs",
    "stops",
    "inspections",
    "tools",
    "seen",
    "measurements",
    "checks",
    "repairs",
    "parts",
    "faults",
]


def rail(capsys, *words):
    assert main(["rail", *words, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def refused(capsys, *words):
    assert main(list(words)) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert "Traceback" not in said.err
    return [line.split()[0] for line in said.err.splitlines()]


@pytest.mark.parametrize(
    ("reading", "revision", "verdict"),
    [
        ("11.42", "2.x", "cannot_tell"),
        ("11.60", "2.x", "pass"),
        ("11.2", "2.x", "fail"),
        ("11.42", "3.x", "pass"),
        ("11.2", "3.x", "cannot_tell"),
    ],
)
def test_a_reading_is_held_against_the_limits_of_its_revision(capsys, reading, revision, verdict):
    assert rail(capsys, "+12V", reading, *METER, "--revision", revision)["verdict"] == verdict


def test_the_json_of_a_rail_says_what_the_verdict_rests_on(capsys):
    data = rail(capsys, "+12V", "11.42", *METER)
    assert (data["rail"], data["reading_volts"]) == ("+12V", 11.42)
    assert data["half_width_volts"] == pytest.approx(0.0771)
    assert data["guard_band_volts"] == pytest.approx(0.08903, abs=1e-5)
    assert data["p_in_limits"] == pytest.approx(0.673, abs=1e-3)
    assert (data["limits"]["low_volts"], data["limits"]["high_volts"]) == (11.4, 12.6)
    assert data["limits"]["revision"] == "2.x"
    assert data["limits"]["source"]


@pytest.mark.parametrize("words", [("-12V", "-11.9"), ("- 12 V", "-11,9 V"), ("--json", "-12V", "-11.9")])
def test_a_rail_and_a_reading_may_begin_with_a_dash(capsys, words):
    data = rail(capsys, *words)
    assert (data["rail"], data["reading_volts"], data["verdict"]) == ("-12V", -11.9, "pass")


@pytest.mark.parametrize("name", ["12V", "+12v", "12 V", "+12V"])
def test_a_rail_is_named_as_people_write_it(capsys, name):
    assert rail(capsys, name, "12.0")["rail"] == "+12V"


def test_a_rail_for_a_person_is_told_in_words(capsys):
    assert main(["rail", "+12V", "11.42", *METER]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == "+12V reads 11.42\u00a0V: cannot tell"
    assert lines[-1].endswith("about 2 in 3")


@pytest.mark.parametrize(
    ("words", "codes"),
    [
        ((), ["HS901"]),
        (("vocabluary",), ["HS901"]),
        (("rail",), ["HS901"]),
        (("rail", "12V", "12", "--unknown"), ["HS901"]),
        (("rail", "12V", "12", "--meter"), ["HS901"]),
        (("rail", "12V", "twelve"), ["HS902"]),
        (("rail", "12V", "12", "--meter", "0.5%+2"), ["HS903"]),
        (("rail", "12V", "12", "--resolution", "0.01"), ["HS903"]),
        (("rail", "13V", "abc", "--meter", "half", "--resolution", "0.01"), ["HS902", "HS505", "HS502"]),
        (("rail", "12V", "12", "--revision", "9"), ["HS503"]),
        (("rail", "12V", "12000"), ["HS507"]),
        (("vocabulary", "more"), ["HS901"]),
    ],
)
def test_a_command_that_cannot_be_used_is_refused_with_its_code(capsys, words, codes):
    assert refused(capsys, *words) == codes


def test_the_command_that_was_meant_is_named(capsys):
    assert main(["vocabluary"]) == 2
    assert "Did you mean 'vocabulary'?" in capsys.readouterr().err


def test_a_job_file_with_mistakes_is_refused_with_all_of_them_in_order(tmp_path):
    path = tmp_path / "bad.yaml"
    path.write_text("log:\n" + "  - run: {load: gmaes}\n" * 11, encoding="utf-8")
    with pytest.raises(JobFileError) as refusal:
        show_weighed(path, lambda job, book: weighed(), as_json=False)
    assert [mistake.place for mistake in refusal.value.mistakes] == [f"bad.yaml:{n}:17" for n in range(2, 13)]


def test_a_real_job_is_weighed_as_json_sorted_by_p(capsys):
    assert main(["weigh", str(EXAMPLES / "dead_after_storm.yaml"), "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert {"faults", "parts", "sets", "conflict", "bound_share"} <= set(said)
    for key in ("faults", "parts", "sets"):
        p = [row["p"] for row in said[key]]
        assert p == sorted(p, reverse=True)
    assert {"id", "part", "p"} <= set(said["faults"][0])
    assert said["faults"][0]["id"] == "surge"


def test_a_real_job_is_weighed_for_a_person(capsys):
    assert main(["weigh", str(EXAMPLES / "dead_after_storm.yaml")]) == 0
    said = capsys.readouterr().out
    assert "surge" in said
    assert "%" not in said


def test_a_job_that_cannot_be_folded_is_refused_with_its_place(capsys, tmp_path):
    path = tmp_path / "job.yaml"
    path.write_text("log:\n  - correct: {entry: never, load: card}\n", encoding="utf-8")
    assert main(["weigh", str(path)]) == 2
    assert "job.yaml:2" in capsys.readouterr().err


def test_a_job_file_that_is_not_there_is_a_mistake(tmp_path):
    with pytest.raises(JobFileError, match="HS101"):
        show_weighed(tmp_path / "none.yaml", lambda job, book: weighed(), as_json=False)


def test_a_weighed_job_is_printed_for_a_person_or_as_json(capsys, tmp_path):
    path = tmp_path / "job.yaml"
    path.write_text("name: restarts", encoding="utf-8")
    show_weighed(path, lambda job, book: weighed(name=job.name), as_json=True)
    assert json.loads(capsys.readouterr().out)["name"] == "restarts"
    show_weighed(path, lambda job, book: weighed(name=job.name), as_json=False)
    assert "Likely faults" in capsys.readouterr().out


def test_the_vocabulary_has_its_maps_and_a_line_for_each_word(capsys):
    assert main(["vocabulary", "--json"]) == 0
    maps = json.loads(capsys.readouterr().out)
    assert list(maps) == VOCABULARY
    assert all(isinstance(line, str) and line for words in maps.values() for line in words.values())
    assert all(maps.values())


def test_the_vocabulary_for_a_person_lists_the_same_words(capsys):
    main(["vocabulary", "--json"])
    maps = json.loads(capsys.readouterr().out)
    assert main(["vocabulary"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert [line[:-1] for line in lines if line.endswith(":") and not line.startswith(" ")] == VOCABULARY
    starts = {line.split()[0] for line in lines if line.startswith("  ") and not line.startswith("   ")}
    assert starts == {word for words in maps.values() for word in words}


def sheet(job, width=100):
    console = Console(width=width, force_terminal=False, record=True, file=open_paper("utf-8"))
    print_sheet(job, console)
    return console.export_text()


def open_paper(encoding):
    return TextIOWrapper(BytesIO(), encoding=encoding, errors=PLAIN_LETTERS)


def test_the_sheet_draws_every_run_on_the_ladder_log_in_at_the_top():
    lines = [line.split() for line in sheet(weighed()).splitlines()]
    titles = [" ".join(line[:2]) for line in lines if line]
    assert titles.index("log in") < titles.index("standby power")
    assert ["self", "test", "●", "✕", "stays", "●"] in lines
    assert ["then", "resets", "6", "min", "stays", "up"] in lines


def test_the_sheet_says_suspicions_in_words_and_no_percentages():
    text = sheet(weighed())
    assert "about 9 in 10" in text
    assert "power plug of the card half in" in text
    assert "%" not in text


def test_a_longer_bar_is_a_stronger_suspicion():
    bars = [line.count("█") for line in sheet(weighed()).splitlines() if "at " in line and "█" in line]
    assert bars == sorted(bars, reverse=True)
    assert len(set(bars)) > 1


def test_the_sheet_asks_when_the_readings_strain_against_each_other():
    calm = sheet(weighed())
    alarm = sheet(weighed(conflict=Conflict(log_m=4.0, since="run_2", p_unlisted=0.3, explained_by="supply_sags")))
    assert "Yes, as far as the book knows." in calm
    assert "most since run_2" in alarm
    assert "power supply sags under load" in alarm.split("Do the readings agree?")[1]


def test_readings_that_cannot_all_be_true_are_named_and_what_is_suspected_all_the_same_is_told():
    text = sheet(weighed(impossible=("run_1", "run_3"), aside=("look_2",)))
    assert "run_1, run_3" in text
    assert "look_2: nothing was found that shows this with the rest" in text
    assert "Likely faults" in text
    assert "Likely faults" not in sheet(weighed(impossible=("run_1", "run_3"), faults=()))


def test_a_terminal_without_drawing_signs_gets_letters():
    paper = open_paper("ascii")
    print_sheet(weighed(), Console(width=100, force_terminal=False, file=paper))
    paper.seek(0)
    shown = paper.read()
    assert "resets 6 min" in " ".join(shown.split())
    assert "?" not in shown.replace("Do the readings agree?", "")


def test_many_runs_on_a_narrow_terminal_are_drawn_below_each_other():
    job = weighed()
    many = weighed(runs=job.runs * 6)
    text = sheet(many, width=60)
    assert all(len(line) <= 60 for line in text.splitlines())
    assert text.count("standby power") > 1


def test_a_reading_that_moved_nothing_gets_no_line_and_one_that_did_says_how_far():
    still = sheet(weighed(moved=(Moved("plug_half_in", "run_9", "nothing new", 0.5, 0.501),)))
    assert "run_9" not in still
    assert "about 1 in 50 > 1 in 3" in sheet(weighed())


def test_where_nothing_is_likely_the_sheet_says_so():
    text = sheet(weighed(faults=(), parts=(), sets=(), moved=(), runs=()))
    assert "Nothing that the book knows of is likely." in text
    assert "None is likely to be bad." in text
    assert "No set of faults stands out." in text
    assert "The ladder" not in text


def test_what_was_left_out_to_be_fast_is_said():
    assert "Exact: nothing was left out." in sheet(weighed())
    assert "Less than 1 in 100 of the answer" in sheet(weighed(bound_share=0.002))
    assert "left out is not known" in sheet(weighed(bound_share=0.93))


def test_an_estimate_of_what_was_left_out_is_said_as_one():
    """At the upper end of its interval, so that it does not flatter; however large the bound is."""
    said = " ".join(sheet(weighed(bound_share=0.93, left_out=LeftOut(0.01, 0.0, 0.05))).split())
    assert "1 in 20 of the answer was left out to be fast: an estimate; proven is less." in said
    assert "not known" not in said


BOOKS = Path(__file__).parent / "books"


def test_a_good_book_is_checked_with_its_counts(capsys):
    assert main(["book", "check", str(BOOKS / "good" / "three_parts")]) == 0
    assert capsys.readouterr().out == "9 faults, 5 checks, 5 repairs, 2 signs; no mistake.\n"


def test_a_bad_book_is_listed_mistake_by_mistake_with_exit_code_1(capsys, tmp_path):
    (tmp_path / "own.yaml").write_text("faults: {board_dead: {bse: 0.1, kin: [}}\n", encoding="utf-8")
    (tmp_path / "more.yaml").write_text("repairs: {replace_bord: {retire: yes}}\n", encoding="utf-8")
    assert main(["book", "check", str(BOOKS / "good" / "three_parts"), "--over", str(tmp_path)]) == 1
    lines = capsys.readouterr().out.splitlines()
    assert [line.split(":")[0].split()[0] for line in lines] == ["HS316", "HS102", "2"]
    assert f"{tmp_path.name}/more.yaml:1:11" in lines[0]
    assert "Did you mean 'replace_board'?" in lines[0]
    assert lines[-1] == "2 mistakes."


def test_what_a_bench_lays_over_a_book_is_shown(capsys):
    good = BOOKS / "good"
    assert main(["book", "check", str(good / "three_parts"), "--over", str(good / "own_bench")]) == 0
    assert capsys.readouterr().out.splitlines()[:4] == [
        "own_bench/ours.yaml:6:3 changed faults supply_no_standby: base",
        "own_bench/ours.yaml:7:3 added faults video_plug_bent",
        "own_bench/ours.yaml:17:3 added repairs straighten_video_pin",
        "own_bench/ours.yaml:26:3 retired events storm",
    ]


def test_the_shipped_book_has_no_mistake(capsys):
    assert main(["book", "check"]) == 0
    assert capsys.readouterr().out.endswith("; no mistake.\n")


def test_an_entry_of_the_book_is_shown_with_its_nearest_neighbour_and_its_numbers(capsys):
    assert main(["book", "show", "socket_pins_bent"]) == 0
    said = capsys.readouterr().out
    assert said.startswith("socket_pins_bent: ")
    assert "\nhardest to tell from it\n" in said
    assert " to 1 for it" in " ".join(said.split())
    assert "\nits numbers\n" in said
    assert max(map(len, said.splitlines())) < 130


def test_an_entry_is_shown_as_json_and_so_is_the_list(capsys):
    assert main(["book", "show", "memory_out_listen", "--json"]) == 0
    (page,) = json.loads(capsys.readouterr().out)
    assert (page["section"], page["id"], page["neighbour"]) == ("checks", "memory_out_listen", None)
    assert page["chapters"]["how"]
    assert main(["book", "show", "--json"]) == 0
    entries = json.loads(capsys.readouterr().out)
    assert {"faults", "checks", "repairs", "signs", "events"} <= entries.keys()


def test_the_list_of_entries_has_a_line_for_each(capsys):
    assert main(["book", "show"]) == 0
    said = capsys.readouterr().out
    assert "faults (" in said
    assert "\n  memory_not_home " in said


def test_an_id_that_is_not_there_is_refused_with_the_one_that_was_meant(capsys):
    assert main(["book", "show", "memory_not_hom"]) == 2
    said = capsys.readouterr().err
    assert said.startswith("HS904 ")
    assert "Did you mean 'memory_not_home'" in said


def test_what_every_number_rests_on_is_listed(capsys):
    assert main(["book", "basis"]) == 0
    said = capsys.readouterr().out
    assert "| estimate | " in said
    assert "| faults.memory_not_home | base " in said


def test_an_owners_words_are_found(capsys):
    assert main(["find", "it", "won't", "turn", "on"]) == 0
    assert "nothing_happens" in capsys.readouterr().out
    assert main(["find", "black screen", "--json"]) == 0
    assert "lights_no_picture" in [offer["id"] for offer in json.loads(capsys.readouterr().out)]


def test_words_that_mean_nothing_are_refused(capsys):
    assert refused(capsys, "find", "xyzzy") == ["HS905"]


@pytest.mark.parametrize("words", [("book",), ("book", "chekc"), ("book", "check", "a", "b"), ("find",)])
def test_book_and_find_say_how_they_are_called(capsys, words):
    assert refused(capsys, *words) == ["HS901"]
