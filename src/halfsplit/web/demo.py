"""A small bench to look around on: invented machines of invented people, brought in over the last days."""

from datetime import datetime, timedelta

from halfsplit import actions
from halfsplit.actions import Bench
from halfsplit.settings import Settings, save_settings
from halfsplit.store.persons import Person
from halfsplit.store.shelf import Consumable

SHOP = "Repair bench at the old mill"
PEOPLE = ("MK", "TO")

_Job = tuple[str, tuple[str, ...]]

_JOBS: tuple[_Job, ...] = (
    (
        "name: the tower from the music school\n"
        "machine: {kind: built, age_years: 6, card: {}, memory: [8, 8], drives: [sata], air: dusty}\n"
        "complaint: starts_misbehaves\n",
        (
            "- told: {stop: resets, load: games, always: no, words: starts again by itself in games}\n"
            "- told: {event: moved_house, ago: 2 weeks}",
            "- run: {output: card, reached: log_in, cold: yes, signs: {burnt_smell: no}}",
            "- run: {output: card, reached: log_in, load: card, stop: {resets: 5 min}, failed: 3, of: 5}",
        ),
    ),
    (
        "name: office PC that shows nothing\n"
        "machine: {kind: ready_made, age_years: 3.5, card: none, memory: [16]}\n"
        "complaint: lights_no_picture\n",
        (
            "- told: {event: carried, ago: 3 days}\n- told: {picture: none, always: yes}",
            "- run: {cold: yes, picture: none, not: memory_passes, signs: {fans_turn: yes, memory_complaint: yes}}",
        ),
    ),
    (
        "name: dead since the storm\n"
        "machine: {kind: built, age_years: 3.5, card: none, memory: [8, 8], drives: [sata]}\n"
        "complaint: nothing_happens\n",
        (
            "- told: {event: storm, ago: 1 day, sure: sure}\n- told: {not: starts, always: yes}",
            "- inspect: {at: supply_exhaust, tool: nose, seen: fine}",
        ),
    ),
    (
        "name: slow after the last update\n"
        "machine: {kind: ready_made, age_years: 6.5, card: none, memory: [4], boot_drive_type: mechanical}\n"
        "complaint: slow_noisy_other\n",
        ("- told: {event: system_update}\n- told: {signs: [slow], always: yes}",),
    ),
)

_COLLECTED: _Job = (
    "name: picture gone after a move\n"
    "machine: {kind: built, age_years: 3.5, card: {}, memory: [8, 8]}\n"
    "complaint: lights_no_picture\n",
    (
        "- told: {event: cables_replugged}\n- told: {picture: none, always: yes}",
        "- inspect: {at: video_plug, tool: eye, seen: on_board}",
        "- repair: {do: set_output}",
        "- run: {output: card, cold: yes, picture: yes, reached: log_in, stop: none, of: 3}",
    ),
)


def stock_demo(bench: Bench, now: datetime) -> None:
    """Put jobs, people, a shelf and settings on a bench; one that has a job already is left as it is.

    Args:
        bench: the bench.
        now: the moment; all was entered in the days before it.
    """
    if actions.list_open_jobs(bench) or actions.list_closed_jobs(bench, limit=1):
        return
    who = PEOPLE[0]
    save_settings(bench.store, Settings(shop=SHOP, people=PEOPLE))
    actions.stock_shelf(bench, by=who, now=now)
    actions.count_consumable(bench, Consumable("paste", "thermal paste, coolers", 12), by=who, now=now)
    number = _enter(bench, _COLLECTED, now - timedelta(days=4))
    actions.collect(bench, number, by=who, now=now - timedelta(days=3), person_days=Settings().person_days)
    numbers = [_enter(bench, job, now - timedelta(days=n, hours=3)) for n, job in enumerate(_JOBS)]
    actions.set_person(bench, numbers[0], Person("Ilse Brandauer-Muster", notes="rings back after five"))
    actions.set_state(
        bench, numbers[3], "waiting_for_owner", by=who, now=now, waiting_for="may the data be copied first?"
    )
    actions.promise(bench, numbers[1], (now + timedelta(days=1)).date())


def _enter(bench: Bench, job: _Job, opened: datetime) -> int:
    machine, entries = job
    number = actions.open_job(bench, machine, by=PEOPLE[0], now=opened)
    for minutes, entry in enumerate(entries, 1):
        actions.record(bench, number, entry, by=PEOPLE[0], now=opened + timedelta(minutes=4 * minutes))
    return number
