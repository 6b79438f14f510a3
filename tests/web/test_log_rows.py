"""Entries of the log in a few words, as a technician says them."""

import pytest
from folding import BOOK, job_of

from halfsplit.web.log_rows import entry_in_words, entry_names

SUPPLY = BOOK.shelf["supply_a"].title
SAID = {
    "setup: {memory.2: out, supply: shelf.supply_a}": f"memory module no.\u00a02: out, power supply: {SUPPLY}",
    "setup: {case: out, output: board}": f"monitor on: {BOOK.outputs['board'].title}, board out of the case",
    "setup: {on: bench, card: owner}": (
        f"on {BOOK.hosts['bench'].title}, graphics card: that of the {BOOK.hosts['owner'].title}"
    ),
    "agree: {text: up to, cost: 120}": "up to 120.00 EUR",
    "spend: 84.90": "84.90 EUR",
    "repair: {do: reseat_memory, at: memory_seat.2}": "memory module no.\u00a02 out and home again",
    "repair: {do: replace_supply, at: supply, with: shelf.supply_a}": (
        f"{BOOK.repairs['replace_supply'].title}, {SUPPLY}"
    ),
    "note: rings back": "rings back",
    "run: {reached: log_in, signs: {fans_turn: no, slow: yes, burnt_smell: no, artefacts: no}}": (
        f"reached 'log-in', {BOOK.signs['slow'].title}, {BOOK.signs['fans_turn'].absent}; "
        "2 more looked for and not there"
    ),
    "run: {with: {keyboard: out, mouse: out, headset: out, network_lead: out, memory.2: out}, not: starts}": (
        "stopped before 'starts (fans move)' (memory module no.\u00a02 out, other leads and devices around it)"
    ),
}


@pytest.mark.parametrize("entry", SAID)
def test_an_entry_is_said_in_the_words_of_the_trade(entry):
    (line,) = job_of(entry).log
    assert entry_in_words(line, BOOK, "EUR") == SAID[entry]


def test_without_a_currency_none_is_said():
    (line,) = job_of("agree: {text: up to, cost: 120}").log
    assert entry_in_words(line, BOOK) == "up to 120.00"


def test_a_run_is_called_as_on_the_ladder_and_anything_else_by_what_it_says():
    job = job_of("inspect: {at: supply_exhaust, tool: nose, seen: fine}", "run: {not: starts}", "run: {not: starts}")
    smell, *_ = job.log
    names = entry_names(job, BOOK)
    assert [names["run_1"], names["run_2"]] == ["run 1", "run 2"]
    assert names[smell.id] == f"\u2018{entry_in_words(smell, BOOK)}\u2019"


def test_what_corrects_another_entry_says_which():
    job = job_of("run: {not: starts}", "note: rings back", "correct: {entry: note_1, withdrawn: yes}")
    names = entry_names(job, BOOK)
    assert entry_in_words(job.log[-1], BOOK, "EUR", names) == "takes back \u2018rings back\u2019"
    assert names["note_1"] == "\u2018rings back\u2019"
