"""A run on the ladder says what was seen, and leaves the rest unknown."""

import pytest
from folding import BOOK, job_of
from small_book import SMALL_BOOK
from spaced import spaced

from halfsplit.job.columns import run_column
from halfsplit.job.lines import line_of
from halfsplit.job.weighed import NOT_REACHED, REACHED, STOPPED, UNKNOWN
from halfsplit.model.job import Run, Seen, StopSeen
from halfsplit.model.machine import Conditions


def marks(**seen):
    return list(run_column(Run("run_1", seen=Seen(**seen)), SMALL_BOOK).marks)


def test_a_run_of_which_nothing_was_seen_is_unknown_throughout():
    assert marks() == [UNKNOWN] * 10


def test_a_rung_reached_proves_those_below_and_says_nothing_above():
    assert marks(reached="rails_good") == [REACHED] * 3 + [UNKNOWN] * 7


def test_a_rung_not_reached_is_where_it_stopped_and_what_lies_between_stays_unknown():
    assert marks(reached="starts", not_reached="self_test") == [
        *[REACHED] * 2,
        *[UNKNOWN] * 3,
        STOPPED,
        *[NOT_REACHED] * 4,
    ]


def test_a_sign_that_was_there_proves_its_rung_and_one_that_was_not_proves_nothing():
    assert marks(signs={"beep": "yes"}) == [REACHED] * 4 + [UNKNOWN] * 6
    assert marks(signs={"beep": "no", "fans_turn": "unsure"}) == [UNKNOWN] * 10


def test_a_run_that_did_not_stop_reached_every_rung():
    column = run_column(Run("run_1", seen=Seen(stayed=True)), SMALL_BOOK)
    assert (set(column.marks), column.ended) == ({REACHED}, "none")


def test_a_column_says_how_it_ended_and_what_sets_the_run_apart():
    run = Run(
        "run_1",
        on="bench",
        swaps={"card": "owner", "supply": "shelf.supply_a"},
        conditions=Conditions(cold=True, load="games"),
        seen=Seen(reached="log_in", stop=StopSeen("resets", 360.0)),
        failed=3,
        of=5,
    )
    column = run_column(run, SMALL_BOOK)
    assert column.heads == (
        "3 of 5",
        SMALL_BOOK.loads["games"].title,
        "cold",
        f"on the {SMALL_BOOK.hosts['bench'].title}",
        f"{SMALL_BOOK.kinds['card'].title} of the {SMALL_BOOK.hosts['owner'].title}",
        f"{SMALL_BOOK.kinds['supply'].title} from the shelf",
    )
    assert (column.ended, column.ended_after_seconds) == ("resets", 360.0)


@pytest.mark.parametrize(
    ("run", "heads"),
    [
        ("position: flat", [BOOK.positions["flat"].title]),
        ("touched: main_power_plug", [BOOK.touches["main_power_plug"].title]),
        ("started_by: wake", [f"started by: {BOOK.starters['wake'].title}"]),
        ("lead_out: 5 min", ["mains lead out before, 5 min"]),
        ("first_after: side_panel", [f"first start after: {BOOK.openings['side_panel'].title}"]),
        ("load: all, minutes: 30", [BOOK.loads["all"].title, "for 30 min"]),
        ("output: board", [f"monitor on the {BOOK.outputs['board'].title}"]),
        ("case: out", ["board out of the case"]),
        ("with: {memory.2: out}", ["memory module no. 2 out"]),
        ("with: {supply: shelf.supply_a}", ["power supply from the shelf"]),
        ("with: {memory.1: owner.memory.2}", ["memory module no. 2 in the place of memory module no. 1"]),
        (
            "with: {keyboard: out, mouse: out, headset: out, network_lead: out, memory.2: out}",
            ["memory module no. 2 out", "other leads and devices around it"],
        ),
    ],
)
def test_whatever_sets_a_run_apart_is_said_in_words(run, heads):
    (entry,) = job_of(f"run: {{{run}, not: log_in}}", machine="{memory: [8, 8]}").log
    assert [spaced(head) for head in run_column(entry, BOOK).heads] == heads
    for head in heads:
        assert head in spaced(line_of([entry], BOOK))


def test_no_word_of_a_run_is_left_raw():
    """No id with an underscore reaches a head, whatever a run may have been under."""
    for name in ("positions", "touches", "starters", "loads", "outputs"):
        field = {"positions": "position", "touches": "touched", "starters": "started_by", "loads": "load"}
        for word in getattr(BOOK, name):
            (entry,) = job_of(f"run: {{{field.get(name, 'output')}: {word}, not: log_in}}").log
            assert not [head for head in run_column(entry, BOOK).heads if "_" in head]
