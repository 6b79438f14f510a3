"""How fast this machine is just now: times of one run are held against times of another by it."""

import time

SUMS = 3_000_000
TRIES = 5


def yardstick() -> str:
    """Return in words how long some sums in Python take on one core, the quickest of a few tries."""
    tries = []
    for _ in range(TRIES):
        begin, total = time.perf_counter(), 0
        for n in range(SUMS):
            total += n
        tries.append(time.perf_counter() - begin)
    return f"{SUMS:,} sums in Python take {min(tries):.2f} s on this machine just now"
