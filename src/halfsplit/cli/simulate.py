"""``halfsplit simulate``: policies played on drawn machines whose truth is not the book."""

import json
from collections.abc import Sequence
from dataclasses import asdict

from halfsplit.book import shipped_book
from halfsplit.errors import Mistake, UsageError
from halfsplit.job.amounts import counted
from halfsplit.simulate import POLICIES, Played, Task, mean_cents, mean_needless, of_policy, play_all

MOST_MACHINES = 100_000
MOST_PROCESSES = 256
_EURO = 100.0


def show_simulation(
    *, machines: str, seed: str, policies: Sequence[str], complaint: str, processes: str, cluster: str, as_json: bool
) -> None:
    """Draw machines, play them, and print what they came to; how they are drawn is printed before.

    Args:
        machines, seed, processes: whole numbers, as written.
        policies: the policies; none = all.
        complaint: the class of complaint; "" = all in turn.
        cluster: the address of a cluster's scheduler, or "".
        as_json: as JSON, for programs; else as a table.

    Raises:
        UsageError: HS906 a number is none or out of range; HS904 a policy or class that there is not; HS910, HS911 the
            cluster cannot be used.
    """
    book = shipped_book()
    mistakes: list[Mistake] = []
    many = _number("--machines", machines, 1, MOST_MACHINES, mistakes)
    from_seed = _number("--seed", seed, 0, 2**63 - 1, mistakes)
    at_once = _number("--processes", processes, 1, MOST_PROCESSES, mistakes)
    for name in policies:
        _known("--policy", name, tuple(POLICIES), mistakes)
    if complaint:
        _known("--class", complaint, tuple(book.complaints), mistakes)
    if mistakes:
        raise UsageError(mistakes)
    task = Task(many, from_seed, tuple(policies) or tuple(POLICIES), complaint)
    if not as_json:
        print(f"{counted(many, 'machine')} from seed {from_seed}; {task.drawing}", flush=True)
    results = play_all(task, processes=at_once, cluster=cluster)
    if as_json:
        print(json.dumps([asdict(each) for each in results], indent=2))
    else:
        print("\n".join(lines_of(results, task.policies)))


def lines_of(results: Sequence[Played], policies: Sequence[str]) -> list[str]:
    """Return a table: for each policy the mean cost of a machine by class and in all, and how it ended."""
    classes = list(dict.fromkeys(each.complaint for each in results))
    lines = [f"{'mean cost of a machine':22s}" + "".join(f"{name:>20s}" for name in (*classes, "all"))]
    for policy in policies:
        cells = [mean_cents(of_policy(results, policy, name)) / _EURO for name in (*classes, "")]
        lines.append(f"  {policy:20s}" + "".join(f"{cell:20.2f}" for cell in cells))
    lines.append(f"{'':22s}{'needless parts':>20s}{'proven':>10s}{'faults left':>14s}{'hands-on min':>14s}")
    for policy in policies:
        own = of_policy(results, policy)
        proven = sum(each.ended == "proven" for each in own) / len(own)
        left = sum(bool(each.left) for each in own) / len(own)
        hands = sum(each.hands for each in own) / len(own)
        lines.append(f"  {policy:20s}{mean_needless(own):20.2f}{proven:10.0%}{left:14.0%}{hands:14.0f}")
    return lines


def _number(option: str, said: str, least: int, most: int, mistakes: list[Mistake]) -> int:
    if said.strip().isdigit() and least <= int(said) <= most:
        return int(said)
    should, do = f"it is a whole number from {least} to {most:,}", "Write one"
    mistakes.append(Mistake(option, "HS906", f"it is '{said.strip()}'", should, do))
    return least


def _known(option: str, said: str, known: Sequence[str], mistakes: list[Mistake]) -> None:
    if said not in known:
        should = f"it is one of: {', '.join(known)}"
        mistakes.append(Mistake(option, "HS904", f"there is no '{said}'", should, "Write one of these"))
