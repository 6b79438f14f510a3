"""How long a fault book of 1 MB takes to load and compile: from its files, and from the cache.

Budget: 1.5 s cold, 0.15 s from the cache.
"""

import os
import tempfile
import time
from pathlib import Path

from halfsplit.book import load_book

SMALL = Path(__file__).parents[1] / "tests" / "books" / "good" / "three_parts"
SIZE_BYTES = 1_000_000
TIMES = 5

FAULT = """
  fault_{n}:
    title: fault number {n} of a book that is far too long
    at: supply
    base: {{p: 0.000{n}, spread: 0.5, basis: "source: supply_guide"}}
    wear: 2
    after: {{storm: 0.1, worked_on: 0.0{n}}}
    made_by: {{side_panel: 0.001, replace_supply: 0.01}}
    cures: {{replace_supply: nearly_always, reseat_main_plug: {{goes: rarely, comes: 0.00{n}}}}}
    owner_says: The power supply no longer gives what it should, in the way that has the number {n}.
    words: ["completely dead", "goes off in games", "it ticks"]
    told_by: [counter_run, standby_measured]
    patterns:
      dead:
        share: 0.5
        acts:
          - {{q: 0.9{n}, not: standby_power}}
        looks: {{supply_exhaust: {{see: burnt_smell, catch: sometimes}}, main_power_plug: half_in}}
        reads: {{rail_5vsb: {{absent: always}}, wall_watts: {{low: usually}}}}
      cold_only:
        share: 0.2
        acts:
          - {{when: {{cold: yes}}, q: often, not: starts, shows: clicking}}
          - {{when: {{load: supply}}, q: sometimes, stop: {{resets: 10 min}}, shows: [clicking]}}
      trips:
        share: 0.3
        acts:
          - when: {{load: [card, supply]}}
            q: usually
            ends:
              - {{share: 0.7, stop: {{cuts_out: 1 min}}}}
              - {{share: 0.3, stop: {{resets: 10 min}}, hides: fans_turn}}
"""


def write_book(folder: Path) -> int:
    """Write the book and return its size in bytes."""
    faults, n = ["basis: estimate\nspread: 0.7\nfaults:"], 0
    while sum(map(len, faults)) < SIZE_BYTES:
        n += 1
        faults.append(FAULT.format(n=f"{n:04d}"))
    (folder / "faults.yaml").write_text("".join(faults), encoding="utf-8")
    for path in SMALL.glob("*.yaml"):
        (folder / path.name).write_bytes(path.read_bytes())
    return sum(path.stat().st_size for path in folder.glob("*.yaml"))


def time_load(folder: Path, *, cache: bool) -> float:
    """Return how long one load takes, in seconds."""
    start_s = time.perf_counter()
    book, mistakes = load_book(folder, cache=cache)
    seconds = time.perf_counter() - start_s
    if book is None:
        raise SystemExit("\n".join(map(str, mistakes)))
    return seconds


with tempfile.TemporaryDirectory() as name:
    os.environ["XDG_CACHE_HOME"] = name
    folder = Path(name) / "long"
    folder.mkdir()
    size_bytes = write_book(folder)
    cold_s = [time_load(folder, cache=False) for _ in range(TIMES)]
    time_load(folder, cache=True)
    kept_s = [time_load(folder, cache=True) for _ in range(TIMES)]
print(f"{size_bytes / 1e6:.2f} MB, best and worst of {TIMES}")
print(f"from the files  {min(cold_s):.3f} s  {max(cold_s):.3f} s")
print(f"from the cache  {min(kept_s):.3f} s  {max(kept_s):.3f} s")
