"""Drawn jobs for the engine's benchmarks: a ladder, masked signs, counts; two to four true faults.

The generator is not the fault book; it makes jobs that are harder than real ones, in the shape that the
engine must bear.  Everything comes from one seed.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from halfsplit.model.evidence import Acts, Effect, Evidence, Reading, Root, SignAsked
from halfsplit.model.ladder import NO_STOP

PARTS = 14
SIGNS = 12
ON_BY_DEFAULT = 3
RUNGS = 10
KINDS = 3
FAULTS_AT_INTAKE = 0.55
"""Mean number of faults of a drawn machine before anything is known; as in the fault book."""

TYPICAL = {1.0: 0.5, 0.95: 0.2, 0.6: 0.15, 0.25: 0.1, 0.05: 0.05}
"""How often a pattern acts in a run that suits it, with shares: most are steady where they act at all."""

AS_THE_BOOK_HAS_IT = {1.0: 0.16, 0.95: 0.19, 0.8: 0.11, 0.6: 0.22, 0.25: 0.25, 0.05: 0.07}
"""The same, as the strengths of the acts of the shipped book stand; many of them hold for few runs only."""


@dataclass(frozen=True)
class Drawn:
    """A drawn job.

    Args:
        evidence: the question.
        truth: root -> its true pattern's state.
    """

    evidence: Evidence
    truth: dict[str, int]


def draw_job(  # noqa: PLR0913  every size of a drawn job is a choice of its own
    seed: int,
    *,
    faults: int = 300,
    patterns: int = 3,
    rich: int = 8,
    readings: int = 20,
    counts: int = 2,
    kinds: int = KINDS,
    signs_asked: tuple[int, int] = (1, 2),
    strengths: Mapping[float, float] = TYPICAL,
) -> Drawn:
    """Draw a machine with two to four faults and a job on it.

    Args:
        seed: the seed.
        faults, patterns: how many faults, and patterns of each.
        rich: failing runs with a stop, and signs asked.
        readings: how many readings in all; the rest are passing runs of less, and inspections.
        counts: how many of the rich ones are counts (several equal runs in one condition).
        kinds: kinds of stop at each rung.
        signs_asked: least and most signs asked in a rich run; 1 or 2 give 4 to 12 classes, mostly.
        strengths: how often a pattern acts in a run -> share of the patterns.
    """
    rng = np.random.default_rng(seed)
    prior = np.exp(rng.normal(0, 1, faults))
    prior = np.minimum(0.2, prior / prior.sum() * FAULTS_AT_INTAKE)
    part = rng.integers(0, PARTS, faults)
    needs = rng.integers(0, RUNGS - 2, SIGNS)
    needs[:ON_BY_DEFAULT] = [1, 2, 6]
    chance, effect = _draw_patterns(rng, faults, patterns, kinds, strengths)
    share = rng.dirichlet(np.full(patterns, 2.0), faults)
    while True:
        true = rng.choice(faults, size=int(rng.integers(2, 5)), replace=False, p=prior / prior.sum())
        state = {int(i): int(rng.choice(patterns, p=share[i])) for i in true}
        if any(effect[i][k].stop != NO_STOP for i, k in state.items()):
            break
    acts: list[dict[str, tuple[Acts | None, ...]]] = [{} for _ in range(faults)]
    found: list[Reading] = []
    lit = Effect(shown=(1 << ON_BY_DEFAULT) - 1)
    while len(found) < rich:
        out = (
            set(rng.choice(PARTS, size=int(rng.integers(0, 4)), replace=False).tolist())
            if rng.random() < 0.6
            else set()
        )
        mild = float(rng.choice([1.0, 1.0, 0.5]))
        name = f"run {len(found) + 1}"
        here = {
            i: tuple(None if k < 0 else _act(chance[i][k], mild, effect[i][k]) for k in range(-1, patterns))
            for i in range(faults)
            if part[i] not in out
        }

        def run(here: dict[int, tuple[Acts | None, ...]] = here) -> Effect:
            total = lit
            for i, k in state.items():
                act = here.get(i, (None,) * (patterns + 1))[k + 1]
                if act is not None and rng.random() < act.outcomes[0][0]:
                    total |= act.outcomes[0][1]
            return total

        total = run()
        if total.stop == NO_STOP:
            continue
        count = 1
        if len(found) < counts:
            more = [run() for _ in range(4)]
            count += sum(other == total for other in more)
        found.append(
            _report(rng, name, len(found), total, needs, count, kinds, (0, 1) if len(found) < counts else signs_asked)
        )
        for i, states in here.items():
            acts[i][name] = states
    for n in range(rich, readings):
        if rng.random() < 0.5:  # a run of what is left without the parts at fault; it passes
            out = {int(part[i]) for i in true} | set(rng.choice(PARTS, size=6, replace=False).tolist())
            name = f"pass {n}"
            found.append(Reading(name, n, ((1.0, lit),), {NO_STOP: 1.0}, 0.0))
            for i in range(faults):
                if part[i] not in out:
                    acts[i][name] = (None, *(_act(chance[i][k], 1.0, effect[i][k]) for k in range(patterns)))
        else:  # a look at one place
            name, i = f"look {n}", int(rng.integers(faults))
            seen = i in state and rng.random() < 0.8
            found.append(Reading(name, n, stop_weights={0: 0.8 if seen else 0.2}, other_stops=0.02 if seen else 0.98))
            acts[i][name] = (None, *(Acts(((1.0, Effect(stop=0)),)) for _ in range(patterns)))
    roots = tuple(
        Root(
            f"fault {i}",
            ("absent", *(f"pattern {k}" for k in range(patterns))),
            np.array([1 - prior[i], *(prior[i] * share[i])]),
            acts[i],
            word=f"strength {i % 7}",
            held=(frozenset(), *(frozenset([f"part {part[i]}"]) for _ in range(patterns))),
        )
        for i in range(faults)
    )
    spreads = {f"strength {n}": 0.7 for n in range(7)} | {"often": 0.5}
    return Drawn(Evidence((), roots, tuple(found), spreads), {f"fault {i}": k + 1 for i, k in state.items()})


def _draw_patterns(
    rng: np.random.Generator, faults: int, patterns: int, kinds: int, strengths: Mapping[float, float]
) -> tuple[list[list[float]], list[list[Effect]]]:
    """Draw for each pattern how often it acts in a run, and what it then does."""
    at = np.array([3, 3, 4, 8, 12, 14, 8, 8, 6, 6]) / 72
    chance, effect = [], []
    for _ in range(faults):
        around = int(rng.choice(RUNGS, p=at)) if rng.random() < 0.75 else None
        rows = []
        for _ in range(patterns):
            stop = NO_STOP
            if around is not None:
                rung = int(np.clip(around + rng.integers(-1, 2), 0, RUNGS - 1))
                stop = rung * kinds + int(rng.integers(kinds))
            shown = rng.choice(np.arange(ON_BY_DEFAULT, SIGNS), size=int(rng.choice([0, 0, 1, 1, 2])), replace=False)
            hidden = rng.choice(SIGNS, size=int(rng.random() < 0.03), replace=False)  # as rare as in the book
            rows.append(Effect(stop, sum(1 << int(s) for s in shown), sum(1 << int(s) for s in hidden)))
        effect.append(rows)
        chance.append(rng.choice(list(strengths), size=patterns, p=list(strengths.values())).tolist())
    return chance, effect


def _act(chance: float, mild: float, effect: Effect) -> Acts:
    q = chance if chance == 1.0 else chance * mild
    return Acts(((q, effect),), word="often")


def _report(
    rng: np.random.Generator,
    name: str,
    time: int,
    total: Effect,
    needs: np.ndarray,
    count: int,
    kinds: int,
    signs_asked: tuple[int, int],
) -> Reading:
    """Report truthfully, but not in full: a stretch of rungs, perhaps the kind of stop, a few signs."""
    rung = total.stop // kinds
    vague = int(count == 1)  # who counts runs has looked well
    low, high = max(0, rung - int(rng.integers(1 + vague))), min(RUNGS - 1, rung + int(rng.integers(1 + vague)))
    told_kind = count > 1 or rng.random() < 0.7
    stops = {
        r * kinds + k: 1.0
        for r in range(low, high + 1)
        for k in range(kinds)
        if not told_kind or k == total.stop % kinds
    }
    asked = rng.choice(SIGNS, size=int(rng.integers(signs_asked[0], signs_asked[1] + 1)), replace=False)
    signs = []
    for bit in asked.tolist():
        is_visible = bool(total.shown >> bit & 1) and not total.hidden >> bit & 1 and rung >= needs[bit]
        signs.append(SignAsked(bit, int(needs[bit]) * kinds, float(is_visible), float(not is_visible)))
    base = ((1.0, Effect(shown=(1 << ON_BY_DEFAULT) - 1)),)
    return Reading(name, time, base, stops, 0.0, tuple(signs), count)
