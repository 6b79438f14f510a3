"""How long a fault book takes to load and compile, from its files and from the cache; how many roots a machine has.

The shipped book, and beside it a drawn one of 1 MB.  Budget: 2 s cold, 0.15 s from the cache; 250 to 400 roots in a
typical machine.  The seconds of the processor stand beside those of the clock, for where the machine is busy.
"""

import os
import tempfile
import time
from pathlib import Path

from halfsplit.book import load_book, shipped_book, shipped_book_dir
from halfsplit.job.fold import fold_job
from halfsplit.model.job import Job, OwnedPart

SMALL = Path(__file__).parents[1] / "tests" / "books" / "good" / "three_parts"
SIZE_BYTES = 1_000_000
TIMES = 5

TWO_OF_EACH = ("memory.1", "memory.2", "drive.1", "drive.2")
KNOWN = {
    "kind": "built",
    "age_years": 5.0,
    "case_size": "standard",
    "cooling": "air",
    "supply_shape": "standard",
    "socket_pins": "in_socket",
}
MACHINES = (
    (
        "typical: kind and age told, two modules, two drives, card and radio",
        {"kind": "built", "age_years": 5.0},
        (*TWO_OF_EACH, "card", "radio"),
    ),
    ("nothing known", {}, ()),
    ("looked over: case, cooling, supply and socket known", KNOWN, (*TWO_OF_EACH, "card", "radio")),
    (
        "large: four modules, three drives, three fans, card, radio, a further card and a USB device",
        {"kind": "built", "age_years": 5.0},
        (
            *("memory.1", "memory.2", "memory.3", "memory.4", "drive.1", "drive.2", "drive.3"),
            *("fan.1", "fan.2", "fan.3", "card", "radio", "add_on_card", "usb_device"),
        ),
    ),
)
"""What the machine is, facts known of it, and parts told of; the first is the typical one."""

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


def write_book(folder: Path) -> None:
    """Write the book."""
    faults, n = ["basis: estimate\nspread: 0.7\nfaults:"], 0
    while sum(map(len, faults)) < SIZE_BYTES:
        n += 1
        faults.append(FAULT.format(n=f"{n:04d}"))
    (folder / "faults.yaml").write_text("".join(faults), encoding="utf-8")
    for path in SMALL.glob("*.yaml"):
        (folder / path.name).write_bytes(path.read_bytes())


def time_load(folder: Path, *, cache: bool) -> tuple[float, float]:
    """Return how long one load takes, in seconds: by the clock, and of the processor."""
    start_s, start_cpu_s = time.perf_counter(), time.process_time()
    book, mistakes = load_book(folder, cache=cache)
    seconds = time.perf_counter() - start_s, time.process_time() - start_cpu_s
    if book is None:
        raise SystemExit("\n".join(map(str, mistakes)))
    return seconds


def time_book(title: str, folder: Path) -> tuple[float, float]:
    """Print how long a book takes, and return the best of each, in seconds by the clock."""
    size_bytes = sum(path.stat().st_size for path in folder.rglob("*.yaml"))
    print(f"{title}, {size_bytes / 1e6:.2f} MB, best and worst of {TIMES}")
    cold = [time_load(folder, cache=False) for _ in range(TIMES)]
    time_load(folder, cache=True)
    kept = [time_load(folder, cache=True) for _ in range(TIMES)]
    for way, took in (("from the files", cold), ("from the cache", kept)):
        (clock, cpu), (worst, _) = (min(each[n] for each in took) for n in (0, 1)), max(took)
        print(f"  {way}  {clock:.3f} s  {worst:.3f} s  (processor {cpu:.3f} s)")
    return min(cold)[0], min(kept)[0]


def count_roots() -> int:
    """Print how many roots some machines have, and return those of the typical one."""
    book = shipped_book()
    counts = []
    for title, machine, parts in MACHINES:
        job = Job(machine=machine, parts=tuple(map(OwnedPart, parts)), complaint="nothing_happens")
        counts.append(len(fold_job(job, book).evidence.roots))
        print(f"  {title}: {counts[-1]} roots")
    return counts[0]


def main() -> None:
    with tempfile.TemporaryDirectory() as name:
        os.environ["XDG_CACHE_HOME"] = name
        cold_s, cached_s = time_book("the shipped book", shipped_book_dir())
        long = Path(name) / "long"
        long.mkdir()
        write_book(long)
        time_book("a long book", long)
        print("machines that are brought in")
        roots = count_roots()
    print(f"figure: cold_s={cold_s:.2f} cached_s={cached_s:.3f} roots={roots}")


if __name__ == "__main__":
    main()
