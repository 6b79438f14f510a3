"""The rule of thumb played to the end of drawn situations, within their own worlds: what a price of a bit costs.

    ./dev bench thumb [MACHINES] [TIMES] [NEXT_BIT ...]

A situation is a drawn machine after its counter run, with the worlds that repairs make. What is wrong is drawn from
these worlds, so that neither the book nor the weighing is on trial, only what is chosen.
"""

import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from modest import be_modest

import halfsplit.plan.thumb as thumb_of
from halfsplit.errors import ImpossibleReadingsError
from halfsplit.job.advise import fold_and_weigh
from halfsplit.job.advised import FIRST, PROVE
from halfsplit.job.outlook import Outlook, look_out
from halfsplit.model.rates import Rates
from halfsplit.plan import HAND_BACK, REPLACE, Thumb, rank_by_thumb
from halfsplit.simulate import Task
from halfsplit.simulate.benches import Bench

MACHINES, TIMES = 10, 8
SEED = 20_26
SAMPLES = 200
MOST_STEPS = 45
NEXT_BITS = (1.0, 2.0, 4.0)
_EURO = 100.0


@dataclass
class Game:
    """One situation with one of its worlds being true."""

    outlook: Outlook
    rng: np.random.Generator

    def __post_init__(self) -> None:
        situation = self.outlook.situation
        self.rules = self.outlook.thumb()
        self.weights = situation.weights
        self.world = int(self.rng.choice(len(self.weights), p=self.weights))
        self.known = float(self.rules.known[self.world])
        self.inside = {each.id: each.inside for each in situation.openings}
        self.opening = {each.id: each for each in situation.openings}
        self.number = {action.id: n for n, action in enumerate(situation.actions)}
        self.made = set(situation.open_now)
        self.done: set[str] = set()
        self.cents, self.steps, self.is_ended = 0.0, 0, False

    def step(self) -> None:
        """Do what comes first."""
        outlook, self.steps = self.outlook, self.steps + 1
        actions = tuple(each for each in outlook.situation.actions if each.id not in self.done)
        now = replace(outlook.situation, weights=self.weights, actions=actions, open_now=frozenset(self.made))
        left = {each.id for each in actions}
        after = {name: into for name, into in outlook.after.items() if name in left}
        thumb = Thumb(
            now,
            after,
            ends=outlook.ends,
            proof=outlook.proof,
            proves=PROVE,
            again=outlook.again,
            starts=outlook.starts & left,
        )
        first = rank_by_thumb(thumb).ranked[0].id
        if first == HAND_BACK or self.steps == MOST_STEPS:
            self._end(float(self.rules.stop_open[self.world]))
        elif first == REPLACE:
            self._end(now.replacing)
        else:
            self._pay(first)
            (self._mend if first in outlook.mends else self._check)(first)

    def _end(self, cents: float) -> None:
        self.cents += cents
        self.is_ended = True

    def _pay(self, name: str) -> None:
        action = self.outlook.situation.actions[self.number[name]]
        need, opening = set(), action.opening
        while opening:
            need.add(opening)
            opening = self.inside[opening]
        self.cents += float(self.rules.cents[self.number[name]][self.world])
        self.cents += sum(self.opening[each].cents for each in need - self.made)
        self.made |= need
        if action.powers:
            self.made = {each for each in self.made if self.opening[each].stays}

    def _check(self, name: str) -> None:
        tells = self.outlook.situation.actions[self.number[name]].tells
        result = int(self.rng.choice(tells.shape[1], p=tells[self.world] / tells[self.world].sum()))
        if name == PROVE and result == 0:
            self._end(self.outlook.situation.comeback * float(not self.rules.clean[self.world]))
            return
        self._told(tells[:, result])
        self.done.add(name)

    def _mend(self, name: str) -> None:
        """Do a repair and its re-check; what was looked at before may look otherwise now."""
        goes, into = self.rules.goes[self.number[name]], self.rules.after[self.number[name]]
        if self.rng.random() < goes[self.world]:
            self.world = int(into[self.world])
        weights = self.weights * (1.0 - goes)
        np.add.at(weights, into, self.weights * goes)
        self.weights = weights
        shows = self.rules.p_shows[: len(weights)]
        self._told(shows if self.rng.random() < shows[self.world] else 1.0 - shows)
        self.done = {each for each in self.done if each in self.outlook.mends} | {name}

    def _told(self, chance: np.ndarray) -> None:
        weights = self.weights * chance
        self.weights = weights / weights.sum()


def situations(many: int) -> list[Outlook]:
    """Return drawn machines after their counter run, as situations closed under repairs."""
    task, found = Task(many, SEED), []
    for number in range(many):
        bench = Bench(task.draw(number))
        bench.check(FIRST)
        try:
            folded, posterior = fold_and_weigh(bench.job, bench.book)
        except ImpossibleReadingsError:
            continue
        found.append(look_out(bench.job, folded, posterior, Rates(), bench.kept, steps=None, samples=SAMPLES))
    return found


def played(outlooks: Sequence[Outlook], times: int) -> tuple[float, float, float]:
    """Return the mean cost, the mean cost if all were known, and the mean number of steps."""
    games = [Game(each, np.random.default_rng([SEED, n, k])) for n, each in enumerate(outlooks) for k in range(times)]
    for game in games:
        while not game.is_ended:
            game.step()
    found = np.array([(game.cents, game.known, game.steps) for game in games]).mean(axis=0)
    return float(found[0]), float(found[1]), float(found[2])


def main() -> None:
    words = sys.argv[1:]
    many, times = (int(word) for word in (*words[:2], *(MACHINES, TIMES)[len(words[:2]) :]))
    outlooks = situations(many)
    print(f"{len(outlooks)} situations from seed {SEED}, {times} times each", flush=True)
    costs = {}
    for next_bit in [float(word) for word in words[2:]] or NEXT_BITS:
        thumb_of.NEXT_BIT = next_bit
        cents, known, steps = played(outlooks, times)
        costs[next_bit] = cents / _EURO
        print(
            f"  next bit {next_bit:g}: {cents / _EURO:.1f} in {steps:.1f} steps; known {known / _EURO:.1f}", flush=True
        )
    print("figure: " + " ".join(f"next_{name:g}={cents:.1f}" for name, cents in costs.items()))


if __name__ == "__main__":
    be_modest()
    main()
