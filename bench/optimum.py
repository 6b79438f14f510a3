"""The advice held against the best of all policies on drawn small models: one step ahead, and two for the best few.

Takes some minutes: the best policy is found by plain recursion.  Models in which the best is to end the job at once are
counted apart: they would flatter the mean.
"""

import os
import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))
from drawn_situations import draw_situation

from halfsplit.plan import HAND_BACK, REPLACE, rank_actions
from halfsplit.plan.optimum import find_optimum, follow_advice

SEEDS = range(500)
WORST = 8
HOW = {"one step": {}, "two steps, best 6": {"depth": 2, "width": 6}}


@dataclass(frozen=True)
class Held:
    """One model.

    Args:
        seed: it is drawn from this.
        best: least expected cost, in cents.
        first: what comes first then.
        advised: the cost of following the advice, for each way of ``HOW``.
        beliefs: states looked at to find the best.
    """

    seed: int
    best: float
    first: tuple[str, ...]
    advised: tuple[float, ...]
    beliefs: int


def hold(seed: int) -> Held:
    situation = draw_situation(seed)
    optimum = find_optimum(situation)
    advised = tuple(follow_advice(situation, partial(rank_actions, **how)).cents for how in HOW.values())
    return Held(seed, optimum.cents, optimum.first, advised, optimum.beliefs)


def main() -> None:
    with ProcessPoolExecutor(os.cpu_count()) as pool:
        models = list(pool.map(hold, SEEDS, chunksize=4))
    acted = [each for each in models if each.first[0] not in (HAND_BACK, REPLACE)]
    checks = sum(each.first[0].startswith("check") for each in acted)
    ended = len(models) - len(acted)
    print(
        f"{len(models)} models, at most {max(each.beliefs for each in models)} states; the best policy ends {ended} of"
    )
    print(f"them at once, begins {checks} with a check and {len(acted) - checks} with a repair")
    figures = []
    for n, name in enumerate(HOW):
        ratios = np.array([each.advised[n] / each.best for each in acted])
        p95 = float(np.percentile(ratios, 95))
        figures.append((float(ratios.mean()), p95))
        at_once = max((each.advised[n] / each.best for each in models if each not in acted), default=1.0)
        print(f"\n{name}: mean {ratios.mean():.4f}  p95 {p95:.4f}  max {ratios.max():.3f}")
        print(f"  the best policy itself in {(ratios < 1 + 1e-9).mean():.0%}; where it ends at once: max {at_once:.3f}")
        for worst in np.argsort(-ratios)[:WORST]:
            each = acted[worst]
            print(f"  seed {each.seed:4d}  best {each.best:9.0f}  advised {each.advised[n]:9.0f}  {ratios[worst]:.3f}")
    (ratio, p95), (two, two_p95) = figures
    print(
        f"\nfigure: optimum_ratio={ratio:.4f} optimum_p95={p95:.4f}"
        f" two_steps_ratio={two:.4f} two_steps_p95={two_p95:.4f}"
    )


if __name__ == "__main__":
    main()
