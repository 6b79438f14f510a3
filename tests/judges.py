"""The exact engine and its slow twin, by one signature: evidence -> posterior."""

from dataclasses import replace
from functools import partial

import pytest
from oracles import enumerate_evidence

from halfsplit.infer import weigh

weigh_all = partial(weigh, limit=0)
"""The engine, never pruning."""

by_both = pytest.mark.parametrize(
    "judge", [pytest.param(weigh_all, id="engine"), pytest.param(enumerate_evidence, id="twin")]
)
"""Published figures are put to both."""

ALL_SETS = 10_000
"""More than there are sets of faults in a small case."""


def answers(said, evidence):
    """What a posterior says of this evidence, but for sets; a flat dict, roots and contexts go by place."""
    flat = {"P(readings)": said.p_readings}
    for place, root in enumerate(evidence.roots):
        flat |= {f"root {place} in state {state}": p for state, p in enumerate(said.p_states(root.id))}
        flat[f"root {place} now"] = said.p_now(root.id)
    for thing in set().union(*(things for root in evidence.roots for things in root.held)):
        flat[f"{thing} held"] = said.p_held(thing)
    for place, context in enumerate(evidence.contexts):
        flat |= {f"context {place} is {value}": p for value, p in enumerate(said.context(context.id))}
    return {name: float(p) for name, p in flat.items()}


def close(flat, rel=1e-9):
    """These answers again, but for rounding; 1e-13 absolute is what ``1 - p`` may lose."""
    return pytest.approx(flat, rel=rel, abs=1e-13)


def with_readings(evidence, readings):
    """The same faults with these readings; of what they do, only what is asked."""
    readings = tuple(readings)
    names = {reading.id for reading in readings}
    roots = tuple(
        replace(root, acts={name: acts for name, acts in root.acts.items() if name in names}) for root in evidence.roots
    )
    return replace(evidence, roots=roots, readings=readings)
