"""Machines played by policies, here, in processes or on a cluster: the same results for the same seed."""

import gc
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from types import MappingProxyType

from halfsplit.book import shipped_book
from halfsplit.model.rates import Rates
from halfsplit.simulate.advised import follow_advice
from halfsplit.simulate.benches import Bench
from halfsplit.simulate.cluster import map_on_cluster
from halfsplit.simulate.machines import SETTINGS, Drawing, Drawn, draw_machine
from halfsplit.simulate.repairers import cheapest_first, likeliest_first, p_over_c, swap_the_suspect
from halfsplit.simulate.results import Played
from halfsplit.simulate.routine import follow_routine

MOST_STEPS = 60
"""A policy that has not ended after so many steps hands the machine back."""

COLLECTED_AFTER = (100_000, 50, 100)
"""How many new things there may be before each generation is looked through, in a process that plays machines."""

ADVICE, ROUTINE = "advice", "routine"

Policy = Callable[[Bench], None]
"""Does one step: a check, a repair with its re-check, a proof, or an end."""

POLICIES: Mapping[str, Policy] = MappingProxyType(
    {
        ADVICE: follow_advice,
        ROUTINE: follow_routine,
        "likeliest": likeliest_first,
        "cheapest": cheapest_first,
        "p_over_c": p_over_c,
        "swap": swap_the_suspect,
    }
)
"""Name -> the policy."""


@dataclass(frozen=True)
class Task:
    """Machines to be played.

    Args:
        machines: how many.
        seed: of all of them.
        policies: the policies, by name.
        complaint: the class of complaint; "" = all in turn.
        drawing: how they are drawn.
    """

    machines: int
    seed: int = 1
    policies: tuple[str, ...] = tuple(POLICIES)
    complaint: str = ""
    drawing: Drawing = SETTINGS

    def draw(self, number: int) -> Drawn:
        """Return one machine."""
        book = shipped_book()
        classes = (self.complaint,) if self.complaint else tuple(book.complaints)
        return draw_machine(book, classes[number % len(classes)], (self.seed, number), self.drawing)


def play(drawn: Drawn, policy: str, number: int = 0, rates: Rates | None = None, *, by: Policy | None = None) -> Played:
    """Play one machine to its end.

    Args:
        drawn: the machine.
        policy: the policy's name.
        number: the machine's number.
        rates: what time and mishaps cost; None = the defaults.
        by: the policy itself; None = the one of that name.

    Returns:
        The same for the same machine and policy.
    """
    bench = Bench(drawn, rates or Rates())
    faults = bench.world.left()
    step = by or POLICIES[policy]
    for _ in range(MOST_STEPS):
        step(bench)
        if bench.ended:
            break
    else:
        bench.hand_back()
    bill = bench.bill
    return Played(
        policy,
        number,
        drawn.job.complaint,
        bill.cents,
        bill.time,
        bill.parts,
        bill.damage,
        bill.end,
        bill.hands,
        bill.replaced,
        bill.needless,
        bench.ended,
        faults,
        bench.world.left(),
        tuple(bench.path),
    )


def play_all(task: Task, *, processes: int = 1, cluster: str = "") -> tuple[Played, ...]:
    """Play all machines by all policies.

    Args:
        task: the machines and policies.
        processes: of this computer.
        cluster: the address of a cluster's scheduler; "" = this computer.

    Returns:
        In the order of the machines, and of the policies for each; the same however it is shared out.

    Raises:
        UsageError: HS910 or HS911, the cluster cannot be used.
    """
    numbers = range(task.machines)
    work = partial(play_machine, task)
    found: Sequence[tuple[Played, ...]]
    if cluster:
        found = map_on_cluster(work, numbers, cluster)
    elif processes > 1:
        with ProcessPoolExecutor(processes, initializer=spare_the_collector) as pool:
            found = list(pool.map(work, numbers))
    else:
        found = [work(number) for number in numbers]
    return tuple(each for played in found for each in played)


def spare_the_collector() -> None:
    """Let the collector of garbage pass over the book, and look less often: a seventh of the time of an advice."""
    shipped_book()
    gc.collect()
    gc.freeze()
    gc.set_threshold(*COLLECTED_AFTER)


def play_machine(task: Task, number: int) -> tuple[Played, ...]:
    """Play one machine of a task by each of its policies."""
    drawn = task.draw(number)
    return tuple(play(drawn, policy, number) for policy in task.policies)
