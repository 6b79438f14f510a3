"""Whole jobs, from the complaint to collection: machines with what is truly wrong with them, and what taps they cost.

The budgets are those of the trade (common practice, no source): from the complaint to the first advice 8 taps and no
typing; each later result one tap; a dead supply 25 taps in all.
"""

from dataclasses import dataclass

from browser.hands import Hands, Machine
from playwright.sync_api import Page

TO_FIRST_ADVICE = 8
"""Taps from the complaint to the first advice."""


@dataclass(frozen=True)
class Flow:
    """One job.

    Args:
        name: what it is called.
        machine: what is so of the machine, as the head of a job file.
        states: what is wrong with it: root -> state.
        tiles: what is tapped at the counter.
        most_taps: what it may cost from intake to collection, None = no budget.
        most_cards: cards after which it is given up.
    """

    name: str
    machine: str
    states: tuple[tuple[str, str], ...]
    tiles: tuple[str, ...]
    most_taps: int | None
    most_cards: int


DEAD = Flow(
    "dead supply",
    "machine: {kind: built, age_years: 6.5, card: none}",
    (("supply_does_not_start", "silent"),),
    ("nothing happens", "built, no graphics card", "5 to 8 years"),
    25,
    20,
)
NO_PICTURE = Flow(
    "fans but no picture",
    "machine: {kind: built, age_years: 3.5, card: {}, memory: [8, 8]}",
    (("memory_not_home@memory.1", "stops"),),
    ("lights or fans, no picture", "carried or driven about", "built, with graphics card", "2 to 5 years"),
    None,
    20,
)
CRASHES = Flow(
    "crashes under load",
    "machine: {kind: built, age_years: 6.5, card: {}, memory: [8, 8], drives: [sata]}",
    (("cooler_clogged", "cuts_out"),),
    ("starts, then misbehaves", "built, with graphics card", "5 to 8 years"),
    None,
    25,
)
THREE = Flow(
    "three faults",
    "machine: {kind: built, age_years: 6.5, card: none, memory: [8, 8], drives: [sata]}",
    (
        ("supply_does_not_start", "silent"),
        ("memory_module_bad@memory.2", "stops"),
        ("sata_lead_not_home@drive.1", "off"),
    ),
    ("nothing happens", "built, no graphics card", "5 to 8 years"),
    None,
    45,
)
FLOWS = (DEAD, NO_PICTURE, CRASHES, THREE)


def take_in(flow: Flow, page: Page) -> Hands:
    """Take the machine in, by tiles alone, and return the hands at it."""
    hands = Hands(page, Machine(flow.machine, dict(flow.states)), flow.name)
    hands.take_in(*flow.tiles)
    return hands


def finish(flow: Flow, hands: Hands) -> bool:
    """Do what the cards say until the machine is proven and collected; return whether it is."""
    if not hands.work(flow.most_cards):
        return False
    hands.collect()
    return True


def told(hands: Hands) -> str:
    """Return what a job came to, for whoever reads the figures."""
    left = ", ".join(hands.machine.world.left()) or "nothing"
    return f"{hands.taps} taps, {hands.keys} keys, left in it: {left}\n  " + "\n  ".join(hands.path)
