"""Whole jobs in a real browser, on machines that answer as the simulator says; taps and keys are held to the budgets.

Those with a budget or with several faults run here; `./dev bench page` runs them all.
"""

import pytest
from browser.flows import DEAD, FLOWS, RESTARTS, THREE, TO_FIRST_ADVICE, Flow, finish, is_mended, take_in, told
from browser.hands import Hands
from browser.machines import BOOK, Machine

LEAD_OFF = "data lead of the drive, both ends: off"
"""How the log says that the third of three faults was seen."""


@pytest.fixture
def page(shop):
    page = shop.open("/")
    yield page
    page.context.close()


def test_a_dead_supply_is_found_mended_proven_and_collected_in_25_taps(page):
    hands = take_in(DEAD, page)
    hands.settle()
    assert hands.card == "counter_run"
    assert hands.taps <= TO_FIRST_ADVICE
    assert hands.keys == 0
    assert finish(DEAD, hands), told(hands)
    assert hands.machine.left() == (), told(hands)
    assert hands.taps <= DEAD.most_taps, told(hands)
    assert hands.unanswered == [], told(hands)
    assert "power supply" in page.locator("main").inner_text()


def test_three_faults_one_behind_the_other_are_found_on_a_machine_without_a_graphics_card(page):
    """Each hides the next: no start, then no picture, then no drive; a dark run after a repair is no proof."""
    hands = take_in(THREE, page)
    assert finish(THREE, hands), told(hands)
    assert hands.machine.left() == (), told(hands)
    assert hands.keys <= 5 * hands.taps, told(hands)
    text = page.locator("main").inner_text()
    page.goto(f"/jobs/{hands.number}/copy")
    log = page.locator("main").inner_text()
    supply, module, lead = (root.partition("@")[0] for root in dict(THREE.states))
    found = [supply, module, *([lead] if LEAD_OFF in log and is_mended(lead, hands) else [])]  # a step may right a plug
    for root in found:
        assert BOOK.faults[root].owner_says in text, told(hands)


def test_three_faults_behind_restarts_are_found_in_the_order_of_the_cards_from_intake_to_collection(page, tmp_path):
    """Two were there, and the work on the first brought in the third; each step is photographed on both screens."""
    hands = take_in(RESTARTS, page, str(tmp_path / "pictures"))
    hands.asks_first = True
    assert finish(RESTARTS, hands), told(hands)
    assert hands.machine.left() == (), told(hands)
    came_in = [root for root, _ in dict(RESTARTS.slips).values()]
    assert hands.machine.world.states.keys().isdisjoint(came_in), told(hands)
    assert hands.is_approved
    assert hands.keys <= 5 * hands.taps, told(hands)  # numbers are all that is typed
    assert hands.too_wide == [], told(hands)
    assert len(list((tmp_path / "pictures").glob("*.png"))) >= 2 * len(hands.waited)
    text = page.locator("main").inner_text()
    mended = [root for root in (*dict(RESTARTS.states), *came_in) if is_mended(root, hands)]
    assert "cooler_clogged" in mended, told(hands)  # a plug, and a lead in a fan, may be put right by a step of a check
    for root in mended:
        assert BOOK.faults[root].owner_says in text, told(hands)
    page.goto(f"/jobs/{hands.number}/slip")
    assert f"Job {hands.number}" in page.locator("body").inner_text()


WRONG_OUTPUT = 8
"""The demo's job with the monitor in the wrong output, just brought in."""

OUTPUT = Flow(
    "monitor in the wrong output",
    "machine: {kind: built, age_years: 3.5, board: {video_output: yes}, memory: [8, 8], card: {}}",
    (("wrong_output", "on_board"),),
    (),
    5,
    5,
)


def test_the_demo_s_monitor_in_the_wrong_output_is_done_in_five_taps(page):
    """Found, put right, shown to the owner and collected; budget of the trade (common practice, no source)."""
    hands = Hands(page, Machine(OUTPUT.machine, dict(OUTPUT.states)), OUTPUT.name)
    page.goto(f"/jobs/{WRONG_OUTPUT}")
    hands.settle()
    assert hands.card == "counter_run"
    assert hands.work(OUTPUT.most_cards, proofs=()), told(hands)
    hands.collect()
    assert hands.machine.left() == (), told(hands)
    assert hands.taps <= OUTPUT.most_taps, told(hands)
    assert hands.keys == 0
    assert hands.unanswered == [], told(hands)
    assert BOOK.faults["wrong_output"].owner_says in page.locator("main").inner_text()
    page.goto(f"/jobs/{WRONG_OUTPUT}")
    assert "collected" in page.locator(".strip").inner_text()


def test_the_machines_of_all_flows_are_machines_of_the_book(page):
    for flow in (*FLOWS, OUTPUT):
        assert all(root.partition("@")[0] in BOOK.faults for root, _ in flow.states), flow.name
    assert len({flow.name for flow in FLOWS}) == len(FLOWS)
