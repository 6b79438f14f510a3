"""Machines played by policies and kept in a file, so that a comparison of hours can be stopped and gone on with."""

import json
import sys
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import asdict
from pathlib import Path

from search import SEARCH, follow_search

from halfsplit.simulate import Played, Task, play
from halfsplit.simulate.playing import spare_the_collector

Wanted = tuple[str, int]
"""A policy, and the number of the machine that it is to play."""


def play_wanted(task: Task, wanted: Sequence[Wanted], *, processes: int, file: Path | None) -> tuple[Played, ...]:
    """Play machines by policies, and print each as it ends.

    Args:
        task: how the machines are drawn.
        wanted: what is to be played.
        processes: of this computer.
        file: where each is kept, a line of JSON after a first line that says how they were drawn; what stands there
            already is not played again.  None = nowhere.

    Returns:
        All that was wanted, in that order.

    Raises:
        SystemExit: the file is of machines that were drawn in another way.
    """
    head = json.dumps({"seed": task.seed, "drawing": str(task.drawing)})
    found = _read(file, head)
    missing = [each for each in wanted if each not in found]
    with ProcessPoolExecutor(processes, initializer=spare_the_collector) as pool:
        jobs = [pool.submit(_timed, task, policy, number) for policy, number in missing]
        try:
            for job in as_completed(jobs):
                played, seconds = job.result()
                found[played.policy, played.number] = played
                print(f"  {played.number} {played.policy} {played.cents / 100:.0f} ({seconds:.0f} s CPU)", flush=True)
                if file is not None:
                    _append(file, head, json.dumps(asdict(played)))
        except BaseException:
            pool.shutdown(cancel_futures=True)  # a mistake is told at once, not after all the others were played
            raise
    return tuple(found[each] for each in wanted)


def _timed(task: Task, policy: str, number: int) -> tuple[Played, float]:
    begin = time.process_time()
    played = play(task.draw(number), policy, number, by=follow_search if policy == SEARCH else None)
    return played, time.process_time() - begin


def _read(file: Path | None, head: str) -> dict[Wanted, Played]:
    if file is None or not file.exists():
        return {}
    first, *lines = file.read_text(encoding="utf-8").splitlines()
    if first != head:
        sys.exit(f"{file}: its machines were drawn in another way ({first}). Name another file.")
    found = [_played(json.loads(line)) for line in lines]
    return {(each.policy, each.number): each for each in found}


def _played(plain: dict[str, object]) -> Played:
    return Played(**{name: tuple(value) if isinstance(value, list) else value for name, value in plain.items()})  # type: ignore[arg-type]


def _append(file: Path, head: str, line: str) -> None:
    is_new = not file.exists()
    with file.open("a", encoding="utf-8") as out:
        out.write(f"{head}\n{line}\n" if is_new else f"{line}\n")
