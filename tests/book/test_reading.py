"""What the fields of a book mean once they are read."""

from pathlib import Path

import pytest

from halfsplit.book import load_book
from halfsplit.model.book import Book
from halfsplit.model.faults import Act, Ending, Looks, Reads, Strength, When

GOOD = Path(__file__).parents[1] / "books" / "good" / "three_parts"
HEAD = "basis: estimate\nspread: 0.7\n"


@pytest.fixture
def lay(tmp_path: Path):
    """Lay a text over the good book."""

    def read(text: str) -> Book:
        (tmp_path / "own.yaml").write_text(HEAD + text, encoding="utf-8")
        book, mistakes = load_book(GOOD, tmp_path, cache=False)
        assert [str(mistake) for mistake in mistakes] == []
        assert book is not None
        return book

    return read


def acts_of(book: Book) -> tuple[Act, ...]:
    return book.faults["supply_unlisted"].patterns[0].acts


def fault_with(acts: str) -> str:
    return f"faults: {{supply_unlisted: {{patterns: {{a: {{acts: [{acts}]}}}}}}}}\n"


@pytest.mark.parametrize(
    ("written", "ending"),
    [
        ("not: loader", Ending(not_reached="loader")),
        ("not: self_test, stop: resets", Ending(not_reached="self_test", kind="resets")),
        ("not: loader, stop: {freezes: 5 s}", Ending(not_reached="loader", kind="freezes", seconds=5.0)),
        ("stop: {resets: 10 min}", Ending(kind="resets", seconds=600.0)),
        ("stop: {cuts_out: 1 h}", Ending(kind="cuts_out", seconds=3600.0)),
        ("stop: {cuts_out: 15 s, from: start}", Ending(kind="cuts_out", seconds=15.0, from_start=True)),
        ("dark: board", Ending(dark=("board",))),
        ("dark: [board.self_test, used, all.system]", Ending(dark=("board.self_test", "used", "all.system"))),
        ("shows: clicking, hides: [fans_turn]", Ending(shows=("clicking",), hides=("fans_turn",))),
    ],
)
def test_an_ending_is_read_as_it_is_written(lay, written: str, ending: Ending) -> None:
    (act,) = acts_of(lay(fault_with(f"{{q: often, {written}}}")))
    assert act.endings == (ending,)


def test_an_act_that_never_happens_may_show_nothing(lay) -> None:
    first, _ = acts_of(lay(fault_with("{when: {cold: yes}, q: never}, {q: often, not: loader}")))
    assert (first.q.p, first.endings) == (0.0, (Ending(),))


def test_every_condition_reaches_the_model(lay) -> None:
    words = "positions: {flat: flat}\ntouches: {card: card pressed}\n"
    when = (
        "load: [card, supply], cold: 'no', minutes_over: 5, lead_out: true, position: flat, touched: [card], "
        "started_by: front, first_after: [storm, side_panel, replace_board], output: board, in_case: no, "
        "has: monitor, lacks: [board.2], host: bench"
    )
    (act,) = acts_of(lay(words + fault_with(f"{{when: {{{when}}}, q: often, not: loader}}")))
    assert act.when == When(
        load=("card", "supply"),
        cold=False,
        minutes_over=5.0,
        lead_out=True,
        position=("flat",),
        touched=("card",),
        started_by=("front",),
        first_after=("storm", "side_panel", "replace_board"),
        output=("board",),
        in_case=False,
        has=("monitor",),
        lacks=("board.2",),
        host=("bench",),
    )


@pytest.mark.parametrize(
    ("written", "strength"),
    [
        ("often", Strength(0.6, 0.7, "often", "estimate")),
        ("0.3", Strength(0.3, 0.7, "", "estimate")),
        ("1e-3", Strength(0.001, 0.7, "", "estimate")),
        (".5", Strength(0.5, 0.7, "", "estimate")),
        ("{p: 0.3}", Strength(0.3, 0.7, "", "estimate")),
        ("{p: 0.3, spread: 0.2}", Strength(0.3, 0.2, "", "estimate")),
        ("{p: 0.3, basis: common practice}", Strength(0.3, 0.7, "", "common practice")),
        ('{p: 0.3, basis: "source: supply_guide"}', Strength(0.3, 0.7, "", "source: supply_guide")),
        ("always", Strength(1.0, 0.0, "always", "estimate")),
        ("1", Strength(1.0, 0.0, "", "estimate")),
    ],
)
def test_a_strength_is_read_as_it_is_written(lay, written: str, strength: Strength) -> None:
    (act,) = acts_of(lay(fault_with(f"{{q: {written}, not: loader}}")))
    assert act.q == strength


def test_words_that_look_like_switches_stay_words(lay) -> None:
    book = lay(
        "positions: {on: lies on its side, off: stands}\n"
        "facts: {wired: {title: wired, values: {yes: 0.5, no: 0.5}}}\n"
        "faults: {supply_trips: {only: {wired: yes}}}\n"
        "checks: {supply_alone: {results: {012: code 012, 12:30: half past}, "
        "setup: {board: out, supply: owner}}}\n"
    )
    assert set(book.positions) == {"on", "off"}
    assert book.faults["supply_trips"].only == {"wired": ("yes",)}
    assert set(book.checks["supply_alone"].results) == {"012", "12:30"}
    assert book.checks["supply_alone"].setup == {"board": "out", "supply": "owner"}


@pytest.mark.parametrize("yes", ["yes", "'yes'", '"yes"', "true"])
def test_yes_may_stand_in_quotes(lay, yes: str) -> None:
    assert lay(f"parts: {{monitor: {{many: {yes}}}}}\n").kinds["monitor"].many is True


def test_a_look_without_a_catch_is_usually_seen() -> None:
    book, _ = load_book(GOOD, cache=False)
    assert book is not None
    looks = book.faults["main_power_plug_loose"].patterns[0].looks
    assert looks == (Looks("main_power_plug", "half_in", book.strengths["usually"]),)


def test_a_measurement_may_read_otherwise_in_other_runs(lay) -> None:
    book = lay(
        "faults: {supply_unlisted: {patterns: {a: {reads: "
        "{wall_watts: [{low: often, high: rarely, when: {cold: yes}}, {low: always}]}}}}}\n"
    )
    often, rarely, always = (book.strengths[word] for word in ("often", "rarely", "always"))
    assert book.faults["supply_unlisted"].patterns[0].reads == (
        Reads("wall_watts", "low", often, When(cold=True)),
        Reads("wall_watts", "high", rarely, When(cold=True)),
        Reads("wall_watts", "low", always),
    )


def test_money_is_in_cents() -> None:
    book, _ = load_book(GOOD, cache=False)
    assert book is not None
    assert (book.kinds["supply"].worth_cents, book.kinds["supply"].price_cents) == (3500, 8000)


def test_a_replaced_part_is_the_part_that_is_taken() -> None:
    book, _ = load_book(GOOD, cache=False)
    assert book is not None
    assert book.repairs["replace_supply"].part == "supply"
    assert book.repairs["reseat_main_plug"].part == ""


def test_a_pattern_that_is_alone_has_the_whole_share() -> None:
    book, _ = load_book(GOOD, cache=False)
    assert book is not None
    assert [pattern.share for pattern in book.faults["board_dead"].patterns] == [1.0]
    assert [pattern.share for pattern in book.faults["supply_no_standby"].patterns] == [0.8, 0.2]


def test_conditions_of_a_check_are_text_by_the_names_of_a_job_file(lay) -> None:
    book = lay(
        "checks: {supply_alone: {conditions: {load: games, cold: yes, minutes: 30, lead_out: 5 min, "
        "started_by: supply_pins, first_after: replace_supply}}}\n"
    )
    assert book.checks["supply_alone"].conditions == {
        "load": "games",
        "cold": "yes",
        "minutes": "30",
        "lead_out": "5 min",
        "started_by": "supply_pins",
        "first_after": "replace_supply",
    }


def test_kin_faults_may_be_alike(lay) -> None:
    twin = (
        "title: twin, at: supply, base: 0.001, owner_says: Something., "
        "cures: {replace_supply: often}, kin: twins, patterns: {a: {acts: [{q: 0.3, not: loader}]}}"
    )
    assert len(lay(f"faults: {{twin_a: {{{twin}}}, twin_b: {{{twin}}}}}\n").faults) == 11


def test_a_difference_in_one_chance_tells_faults_apart(lay) -> None:
    twin = (
        "title: twin, at: supply, base: 0.001, owner_says: Something., cures: {replace_supply: often}, "
        "patterns: {a: {acts: [{q: %s, not: loader}]}}"
    )
    assert len(lay(f"faults: {{twin_a: {{{twin % 0.3}}}, twin_b: {{{twin % 0.31}}}}}\n").faults) == 11


def test_a_check_is_moved_only_by_what_can_be_on_its_host(lay) -> None:
    text = """
hosts: {lone_monitor: {title: monitor on its own}}
checks:
  lone_monitor_run:
    {title: monitor alone, kind: run, host: lone_monitor, minutes: {hands_on: 1}, steps: Run.,
     setup: {monitor: MONITOR}}
"""
    assert "lone_monitor_run" in lay(text.replace("MONITOR", "owner")).checks
    with pytest.raises(AssertionError, match="HS329"):
        lay(text.replace("MONITOR", "out"))
