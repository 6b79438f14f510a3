"""What hangs together: groups of roots, readings and contexts that share nothing with the rest.

P(all readings) is the product over the groups, and a root's answer depends on its own group only.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from halfsplit.infer.fields import Field, compile_fields
from halfsplit.model.evidence import NOTHING, Acts, Context, Effect, Evidence, Reading, Root


@dataclass(frozen=True)
class Group:
    """One group.

    Args:
        roots: its roots, with one more for each reading whose setup itself acts by chance (their ids begin
            with "setup of"); at least one.
        contexts: the contexts that they share.
        fields: the compiled readings, in order of time, with their times.
    """

    roots: tuple[Root, ...]
    contexts: tuple[Context, ...]
    fields: tuple[tuple[int, Field], ...]


@dataclass(frozen=True)
class Compiled:
    """An evidence with its readings compiled; any of its readings may be left out of the question.

    Args:
        roots: the faults, and the setup's own chance doings.
        fields: for each reading its fields, and for each of these the roots that can leave a code on it and
            those that it can only rule out.
    """

    evidence: Evidence
    roots: tuple[Root, ...]
    fields: Mapping[str, tuple[tuple[Field, tuple[int, ...], tuple[int, ...]], ...]]


def compile_readings(evidence: Evidence) -> Compiled:
    """Compile all readings of an evidence."""
    sizes = {context.id: len(context.values) for context in evidence.contexts}
    roots = (*evidence.roots, *(_setup_root(reading) for reading in evidence.readings if len(reading.base) > 1))
    fields = {}
    for reading in evidence.readings:
        acting = [(i, root.acts[reading.id]) for i, root in enumerate(roots) if reading.id in root.acts]
        effects = _effects(reading, [acts for _, acts in acting])
        compiled = []
        for field in compile_fields(reading, effects, sizes):
            codes = [(i, _codes(field, acts)) for i, acts in acting]
            explains = tuple(i for i, found in codes if field.bits and any(code > 0 for code in found))
            contradicts = tuple(i for i, found in codes if i not in explains and found - {0})
            compiled.append((field, explains, contradicts))
        fields[reading.id] = tuple(compiled)
    return Compiled(evidence, roots, fields)


def split_evidence(compiled: Compiled, readings: Collection[str]) -> tuple[Group, ...]:
    """Return the groups that share nothing in the question with these readings, the largest first."""
    evidence, roots = compiled.evidence, compiled.roots
    asked = [
        (reading.time, *item)
        for reading in evidence.readings
        if reading.id in readings
        for item in compiled.fields[reading.id]
    ]
    links = _Links([*(context.id for context in evidence.contexts), *range(len(roots))])
    linked: set[int] = set()
    for i, root in enumerate(roots):
        for name in (*root.given, *(name for move in root.moves for name in move.given)):
            links.join(i, name)
            linked.add(i)
    for n, (_, field, explains, _) in enumerate(asked):
        for thing in (*field.given, *explains):
            links.join(("field", n), thing)
        linked.update(explains)
        if not field.bits and not field.given:
            links.join(("field", n), _REST)
    for i in range(len(roots)):
        if i not in linked:
            links.join(i, _REST)
    own = [links.find(("field", n)) for n in range(len(asked))]
    by_key: dict[object, tuple[list[Root], list[Context], list[tuple[int, Field]]]] = {}
    for key in links.roots():
        by_key[key] = ([], [], [])
    for i, root in enumerate(roots):
        by_key[links.find(i)][0].append(root)
    for context in evidence.contexts:
        by_key[links.find(context.id)][1].append(context)
    for (time, field, _, contradicts), key in zip(asked, own, strict=True):
        by_key[key][2].append((time, field))
        # a root that a reading can only rule out takes its part in its own group
        for other in dict.fromkeys(links.find(i) for i in contradicts):
            if other != key:
                by_key[other][2].append((time, _scaling(field)))
    groups = [
        Group(tuple(mine) or (_STILL,), tuple(shared), tuple(sorted(fields, key=lambda item: item[0])))
        for mine, shared, fields in by_key.values()
    ]
    return tuple(sorted(groups, key=lambda group: -len(group.roots)))


def _setup_root(reading: Reading) -> Root:
    """Return the setup's own chance doings in one reading as a root that is always there."""
    return Root(
        f"setup of {reading.id}",
        ("there",),
        np.ones(1),
        {reading.id: (Acts(reading.base),)},
        held=(frozenset(),),
    )


def _effects(reading: Reading, acting: Sequence[tuple[Acts | None, ...]]) -> list[Effect]:
    found = dict.fromkeys([NOTHING])
    for acts in acting:
        for act in acts:
            if act is not None:
                for p, effect in act.outcomes:
                    if p > 0:
                        found[effect] = None
    for _, effect in reading.base:
        found[effect] = None
    return list(found)


def _codes(field: Field, acts: Sequence[Acts | None]) -> set[int]:
    """Return the codes that any state can leave on the field; -1 is dead."""
    return {field.code_of[effect] for act in acts if act is not None for p, effect in act.outcomes if p > 0}


def _scaling(field: Field) -> Field:
    """Return the field as it looks to roots that it can only rule out; its own weight is counted elsewhere."""
    return Field(
        field.reading,
        (),
        0,
        field.has_dead,
        np.ones((1, 1)),
        None,
        field.runs,
        field.classes,
        field.code_of,
        {},
    )


_STILL = Root("nothing", ("there",), np.ones(1), held=(frozenset(),))
"""The root of a group that has none."""


_REST = "the rest"
"""What stands alone is answered together; it costs nothing, as its tables have one row each."""


class _Links:
    """Which things are linked, by union and find."""

    def __init__(self, things: Iterable[object]) -> None:
        self._parent: dict[object, object] = {thing: thing for thing in things}

    def find(self, thing: object) -> object:
        parent = self._parent.setdefault(thing, thing)
        while parent != self._parent[parent]:
            self._parent[parent] = self._parent[self._parent[parent]]
            parent = self._parent[parent]
        self._parent[thing] = parent
        return parent

    def join(self, a: object, b: object) -> None:
        self._parent[self.find(a)] = self.find(b)

    def roots(self) -> list[object]:
        return list(dict.fromkeys(self.find(thing) for thing in list(self._parent)))
