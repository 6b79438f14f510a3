"""A drawn job as a Bayesian network for pyagrum, a general-purpose library, written so as to help it.

Every fault is a node.  A report is weighed against classes of totals: totals with one weight under every completion are
one class, found here by partition refinement, without the engine.  The faults that act on a report meet two by two in
small nodes that hold the class so far (divorced parents), and the report hangs on the last.  Three writings:

    plain   a balanced tree of meetings, the faults as they were drawn
    tree    the same, with faults of alike acts side by side, and with a fault that a report can only rule out put
            aside: its own node "does not contradict", as P("nobody contradicts") is a product over the faults
    chain   as tree, but the faults meet one after the other

Putting aside is worth more than noisy-OR nodes: a passing run is then no meeting at all.
"""

import warnings
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from halfsplit.model.arrays import Floats, Ints
from halfsplit.model.evidence import NOTHING, Effect, Evidence, Reading

with warnings.catch_warnings():
    # The library's binding warns when it loads.
    warnings.simplefilter("ignore", DeprecationWarning)
    import pyagrum


@dataclass(frozen=True)
class Classes:
    """The classes of one run's totals.

    Args:
        of: effect -> the class of a run in which it alone acts.
        join: shape (C, C).
        weights: shape (C,).
        bottom: the class of a run in which nothing acts.
        dead: the class that nothing can save, or None.
    """

    of: dict[Effect, int]
    join: Ints
    weights: Floats
    bottom: int
    dead: int | None


def find_classes(reading: Reading, effects: set[Effect]) -> Classes:
    """Find the classes of a reading whose setup does one thing, by refining the partition by weight."""
    ((_, base),) = reading.base
    asked = sum(1 << sign.bit for sign in reading.signs)

    def trim(effect: Effect) -> Effect:
        return Effect(effect.stop, effect.shown & asked, effect.hidden & asked)

    start = trim(base)
    letters = list(dict.fromkeys(trim(effect) for effect in (*effects, NOTHING)))
    number = {start: 0}
    totals = [start]
    for total in totals:  # grows while it is walked
        for letter in letters:
            if (total | letter) not in number:
                number[total | letter] = len(totals)
                totals.append(total | letter)
    follow = np.array([[number[total | letter] for letter in letters] for total in totals])
    weights = np.array([_weigh(reading, total) for total in totals])
    label = np.unique(weights, return_inverse=True)[1].ravel()
    while True:
        finer = np.unique(np.column_stack([label, label[follow]]), axis=0, return_inverse=True)[1].ravel()
        if finer.max() == label.max():
            break
        label = finer
    first = [totals[int(np.flatnonzero(label == c)[0])] for c in range(int(label.max()) + 1)]
    join = np.array([[label[number[a | b]] for b in first] for a in first])
    of_class = np.array([_weigh(reading, total) for total in first])
    dead = next((c for c in range(len(first)) if not of_class[join[c]].any()), None)
    of = {effect: int(label[number[start | trim(effect)]]) for effect in (*effects, NOTHING)}
    return Classes(of, join, of_class, int(label[0]), dead)


def _weigh(reading: Reading, total: Effect) -> float:
    weight = float(reading.stop_weights.get(total.stop, reading.other_stops))
    for sign in reading.signs:
        is_shown = bool(total.shown >> sign.bit & 1) and not total.hidden >> sign.bit & 1
        weight *= float(sign.if_visible if is_shown and total.stop >= sign.needs_stop else sign.if_not)
    return weight


class Network:
    """An evidence without contexts, moves and counts as a network.

    Args:
        evidence: the evidence.
        writing: plain, tree or chain.
    """

    def __init__(self, evidence: Evidence, writing: str) -> None:
        self.net = pyagrum.BayesNet()
        self.told: dict[str, int] = {}
        self.faults = [root.id for root in evidence.roots]
        self.writing = writing
        for root in evidence.roots:
            self._add(root.id, [], np.asarray(root.start))
        found = [self._draws(evidence, reading) for reading in evidence.readings]
        rank = {name: n for n, name in enumerate(self.faults)}
        if writing != "plain":
            rank = {name: n for n, name in enumerate(_alike(self.faults, found))}
        for reading, (classes, draws) in zip(evidence.readings, found, strict=True):
            self._report(reading.id, classes, dict(sorted(draws.items(), key=lambda item: rank[item[0]])))

    def p_faults(self) -> Floats:
        """Return P(there | all reports) of every fault, by lazy propagation."""
        inference = pyagrum.LazyPropagation(self.net)
        inference.setEvidence(self.told)
        for name in self.faults:
            inference.addTarget(name)
        inference.makeInference()
        return np.array([inference.posterior(name).toarray()[1:].sum() for name in self.faults])

    def _add(self, name: str, parents: Sequence[str], table: Floats) -> None:
        """Add a node whose table has the axes of the parents first and its own last."""
        self.net.add(pyagrum.LabelizedVariable(name, name, table.shape[-1]))
        for parent in parents:
            self.net.addArc(parent, name)
        cpt = self.net.cpt(name)
        axes = [*parents, name]
        cpt.fillWith(np.transpose(table, [axes.index(axis) for axis in reversed(cpt.names)]).ravel().tolist())

    def _draws(self, evidence: Evidence, reading: Reading) -> tuple[Classes, dict[str, Floats]]:
        """Return the classes, and for each fault that does anything P(class | state), shape (S, C)."""
        acting = {root.id: root.acts[reading.id] for root in evidence.roots if reading.id in root.acts}
        effects = {effect for acts in acting.values() for act in acts if act for _, effect in act.outcomes}
        classes = find_classes(reading, effects)
        draws = {}
        for name, acts in acting.items():
            table = np.zeros((len(acts), len(classes.weights)))
            for s, act in enumerate(acts):
                for p, effect in act.outcomes if act else ():
                    table[s, classes.of[effect]] += p
                table[s, classes.bottom] += 1.0 - table[s].sum()
            if (table[:, classes.bottom] < 1.0).any():
                draws[name] = table
        return classes, draws

    def _report(self, reading: str, classes: Classes, draws: dict[str, Floats]) -> None:
        """Add the meetings of the faults that act on a report, and the report (1 = this one)."""
        if self.writing != "plain" and classes.dead is not None:
            for name in [name for name, table in draws.items() if _only_rules_out(table, classes)]:
                p_dead = draws.pop(name)[:, classes.dead]
                self._tell(f"{reading}: {name} does not contradict", name, 1.0 - p_dead)
        meeting = list(draws.items())
        while len(meeting) > 1:
            many = 2 if self.writing == "chain" else len(meeting) // 2 * 2
            met = [self._meet(reading, classes, *meeting[n : n + 2]) for n in range(0, many, 2)]
            meeting = met + meeting[many:]
        for name, table in meeting:
            self._tell(reading, name, table @ classes.weights)

    def _meet(self, reading: str, classes: Classes, a: tuple[str, Floats], b: tuple[str, Floats]) -> tuple[str, Floats]:
        """Add the node in which two meet, and return it as what meets the next."""
        name = f"{reading}: {self.net.size()}"
        one = np.eye(len(classes.weights))
        self._add(name, [a[0], b[0]], np.einsum("ia,jb,abc->ijc", a[1], b[1], one[classes.join]))
        return name, one

    def _tell(self, name: str, parent: str, p_told: Floats) -> None:
        self._add(name, [parent], np.stack([1.0 - p_told, p_told], axis=-1))
        self.told[name] = 1


def _only_rules_out(table: Floats, classes: Classes) -> bool:
    return not np.delete(table, [classes.bottom, classes.dead], axis=1).any()


def _alike(faults: Sequence[str], found: Sequence[tuple[Classes, dict[str, Floats]]]) -> list[str]:
    """Return the faults with those that can leave the same classes on the reports side by side."""

    def classes_left(name: str) -> list[list[int]]:
        left = []
        for classes, draws in found:
            seen = draws[name].any(axis=0) if name in draws else np.zeros(len(classes.weights), dtype=bool)
            left.append([c for c in np.flatnonzero(seen).tolist() if c not in (classes.bottom, classes.dead)])
        return left

    return sorted(faults, key=classes_left)
