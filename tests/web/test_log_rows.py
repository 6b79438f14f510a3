"""Entries of the log in a few words, as a technician says them."""

import pytest
from folding import BOOK, job_of

from halfsplit.web.log_rows import entry_in_words

SUPPLY = BOOK.shelf["supply_a"].title
SAID = {
    "setup: {memory.2: out, supply: shelf.supply_a}": f"memory module 2: out, power supply: {SUPPLY}",
    "setup: {case: out, output: board}": f"monitor on: {BOOK.outputs['board'].title}, board out of the case",
    "setup: {on: bench, card: owner}": f"on {BOOK.hosts['bench'].title}, graphics card: owner",
    "agree: {text: up to, cost: 120}": "up to 120.00 EUR",
    "spend: 84.90": "84.90 EUR",
    "note: rings back": "rings back",
    "run: {reached: log_in, signs: {fans_turn: no, slow: yes, burnt_smell: no, artefacts: no}}": (
        f"reached 'log-in', {BOOK.signs['slow'].title}, no: {BOOK.signs['fans_turn'].title}; "
        "2 more looked for and not there"
    ),
    "run: {with: {keyboard: out, mouse: out, headset: out, network_lead: out, memory.2: out}, not: starts}": (
        "stopped before 'starts (fans move)' (memory.2 out); with other leads and devices around it"
    ),
}


@pytest.mark.parametrize("entry", SAID)
def test_an_entry_is_said_in_the_words_of_the_trade(entry):
    (line,) = job_of(entry).log
    assert entry_in_words(line, BOOK, "EUR") == SAID[entry]


def test_without_a_currency_none_is_said():
    (line,) = job_of("agree: {text: up to, cost: 120}").log
    assert entry_in_words(line, BOOK) == "up to 120.00"
