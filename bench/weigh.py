"""`halfsplit weigh` on two jobs, as a whole process: start, fault book, weighing, sheet.

The one is an example of the project with more runs, looks and repairs in its log, 30 entries.  The other is the same
machine with three runs in which many signs were looked for and not seen.  Nothing else should run meanwhile:
the wall time is what a person waits, the CPU time beside it says how much of that was another's.
"""

import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parent.parent
EXAMPLE = ROOT / "examples" / "restarts_under_load.yaml"
REPEATS = 7

MORE = """\
  - repair:  {do: replace, at: cell}
  - run:     {lead_out: 10 min, reached: log_in, signs: {clock_wrong: no, settings_lost_message: no}}
  - inspect: {at: main_power_plug, tool: torch, seen: fine}
  - inspect: {at: memory_seat.1, tool: torch, seen: fine}
  - run:     {cold: yes, reached: log_in, stop: none, minutes: 30}
  - run:     {load: games, reached: log_in, stop: {resets: 40 min}, failed: 1, of: 4}
  - measure: {at: rail_12v, volts: 11.84, load: card, meter: bench}
  - run:     {with: {memory.2: out}, load: games, reached: log_in, stop: none, minutes: 60}
  - run:     {load: memory, reached: log_in, stop: none, minutes: 60}
  - repair:  {do: reseat, at: memory_seat.2}
  - run:     {load: games, reached: log_in, stop: none, minutes: 60, of: 3}
"""

NOT_SEEN = [
    "error_messages",
    "pop_ups",
    "artefacts",
    "picture_flickers",
    "slow",
    "hangs_for_seconds",
    "program_crashes",
    "network_drops",
    "sound_dead",
    "usb_dead",
    "keys_dead",
    "clock_wrong",
    "memory_low_message",
    "updates_refused",
]
"""Signs that the owner's own use would show."""


def quiet_runs() -> str:
    """Return the log of three runs that showed nothing."""
    signs = ", ".join(f"{sign}: no" for sign in NOT_SEEN)
    run = f"  - run:     {{reached: log_in, load: games, stop: none, minutes: 60, signs: {{{signs}}}}}\n"
    return run + "  - repair:  {do: reseat, at: card_power_plug}\n" + run + run


def run_weigh(job: Path) -> tuple[float, float]:
    """Weigh a job file once; return the seconds it took, and those of the CPU."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    start = time.perf_counter()
    command = [Path(sys.executable).with_name("halfsplit"), "weigh", job]
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
    wall_s = time.perf_counter() - start
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return wall_s, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def measure(name: str, text: str) -> tuple[float, float]:
    """Print what a job takes; return the medians of wall time and CPU time in s."""
    entries = sum(line.lstrip().startswith("- ") for line in text.splitlines())
    with tempfile.TemporaryDirectory() as folder:
        job = Path(folder) / "job.yaml"
        job.write_text(text, encoding="utf-8")
        run_weigh(job)
        wall_s, cpu_s = np.array([run_weigh(job) for _ in range(REPEATS)]).T
    print(f"{name}: {entries} entries, {REPEATS} runs; {os.cpu_count()} cores, load {os.getloadavg()[0]:.2f}")
    print(f"  wall, s  min {wall_s.min():.2f}  median {np.median(wall_s):.2f}  max {wall_s.max():.2f}")
    print(f"  CPU, s   min {cpu_s.min():.2f}  median {np.median(cpu_s):.2f}  max {cpu_s.max():.2f}")
    return float(np.median(wall_s)), float(np.median(cpu_s))


def main() -> None:
    text = EXAMPLE.read_text(encoding="utf-8").rstrip("\n") + "\n"
    wall_s, cpu_s = measure("a long job", text + MORE)
    not_seen_s, _ = measure("signs not seen", text.split("log:")[0] + "log:\n" + quiet_runs())
    peak_mb = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    print(f"figure: weigh_30_s={wall_s:.2f} cpu_s={cpu_s:.2f} not_seen_s={not_seen_s:.2f} peak_mb={peak_mb:.0f}")


main()
