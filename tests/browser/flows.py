"""Whole jobs, from the complaint to collection: machines with what is truly wrong with them, and what taps they cost.

The budgets are those of the trade (common practice, no source): from the complaint to the first advice 8 taps and no
typing; each later result one tap; a dead supply 25 taps in all.
"""

from dataclasses import dataclass

from browser.hands import Hands
from browser.machines import BOOK, Machine
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
        slips: what the work on it leaves behind: repair -> root and state.
        most_taps: what it may cost from intake to collection, None = no budget.
        most_cards: cards after which it is given up.
    """

    name: str
    machine: str
    states: tuple[tuple[str, str], ...]
    tiles: tuple[str, ...]
    most_taps: int | None
    most_cards: int
    slips: tuple[tuple[str, tuple[str, str]], ...] = ()


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
    60,
)
RESTARTS = Flow(
    "restarts under load",
    "machine: {kind: built, age_years: 6.5, side: steel, card: {}, memory: [8, 8], drives: [sata]}",
    (("card_power_plug_half_in", "half_in"), ("cooler_clogged", "cuts_out")),
    (
        *("starts, then misbehaves", "moved house", "built, with graphics card", "5 to 8 years"),
        *("starts again by itself", "in games, under load", "100"),
    ),
    None,
    60,
    (("clean_cooler", ("processor_fan_blocked", "held")),),
)
"""Three independent faults; the third one came in by the work on the first: a lead was pushed into the fan."""

FLOWS = (DEAD, NO_PICTURE, CRASHES, THREE, RESTARTS)


def take_in(flow: Flow, page: Page, folder: str = "") -> Hands:
    """Take the machine in, by tiles alone, and return the hands at it; pictures of each step go into a folder."""
    hands = Hands(page, Machine(flow.machine, dict(flow.states), dict(flow.slips)), flow.name, folder)
    hands.take_in(*flow.tiles)
    return hands


def finish(flow: Flow, hands: Hands) -> bool:
    """Do what the cards say until the machine is proven and collected; return whether it is."""
    if not hands.work(flow.most_cards):
        return False
    hands.collect()
    return True


def is_mended(root: str, hands: Hands) -> bool:
    """Return whether the cards asked for a repair of a fault, and it was done."""
    repairs = {cure.repair for cure in BOOK.faults[root].cures}
    return any(line.partition(":")[0].partition("@")[0] in repairs for line in hands.path)


def told(hands: Hands) -> str:
    """Return what a job came to, for whoever reads the figures."""
    left = ", ".join(hands.machine.world.left()) or "nothing"
    return f"{hands.taps} taps, {hands.keys} keys, left in it: {left}\n  " + "\n  ".join(hands.path)
