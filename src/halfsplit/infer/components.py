"""What hangs together: groups of roots, readings and contexts that share nothing with the rest.

P(all readings) is the product over the groups, and a root's answer depends on its own group only.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from halfsplit.infer.fields import Field, compile_fields
from halfsplit.model.evidence import NOTHING, Acts, Context, Effect, Evidence, Reading, Root


@dataclass(frozen=True)
class Group:
    """One group.

    Args:
        roots: its roots, with one more for each reading whose setup itself acts by chance (their ids begin
            with "setup of").
        contexts: the contexts that they share.
        fields: the compiled readings, in order of time, with their times.
    """

    roots: tuple[Root, ...]
    contexts: tuple[Context, ...]
    fields: tuple[tuple[int, Field], ...]


def split_evidence(evidence: Evidence) -> tuple[Group, ...]:
    """Compile all readings and return the groups that share nothing, the largest first."""
    sizes = {context.id: len(context.values) for context in evidence.contexts}
    roots = [
        *evidence.roots,
        *(_setup_root(reading) for reading in evidence.readings if len(reading.base) > 1),
    ]
    touching: dict[str, list[tuple[int, tuple[Acts | None, ...]]]] = {
        reading.id: [] for reading in evidence.readings
    }
    for i, root in enumerate(roots):
        for reading_id, acts in root.acts.items():
            touching[reading_id].append((i, acts))
    links = _Links()
    for context in evidence.contexts:
        links.find(context.id)
    for i, root in enumerate(roots):
        links.find(i)
        for name in (*root.given, *(name for move in root.moves for name in move.given)):
            links.join(i, name)
    compiled: list[tuple[int, Field, list[int]]] = []
    for reading in evidence.readings:
        effects = _effects(reading, [acts for _, acts in touching[reading.id]])
        for field in compile_fields(reading, effects, sizes):
            mark = ("field", len(compiled))
            links.find(mark)
            for name in field.given:
                links.join(mark, name)
            contradicts = []
            for i, acts in touching[reading.id]:
                codes = _codes(field, acts)
                if field.bits and any(code > 0 for code in codes):
                    links.join(mark, i)
                elif any(code != 0 for code in codes):
                    contradicts.append(i)
            compiled.append((reading.time, field, contradicts))
    members: dict[object, Group] = {}
    for key in links.roots():
        mine = [roots[i] for i in range(len(roots)) if links.find(i) == key]
        shared = [context for context in evidence.contexts if links.find(context.id) == key]
        fields = [(time, f) for n, (time, f, _) in enumerate(compiled) if links.find(("field", n)) == key]
        members[key] = Group(tuple(mine), tuple(shared), tuple(fields))
    # a root that a reading can only rule out takes its part in its own group
    for n, (time, field, contradicts) in enumerate(compiled):
        for key in {links.find(i) for i in contradicts} - {links.find(("field", n))}:
            group = members[key]
            members[key] = Group(group.roots, group.contexts, (*group.fields, (time, _scaling(field))))
    groups = [
        Group(group.roots, group.contexts, tuple(sorted(group.fields, key=lambda item: item[0])))
        for group in members.values()
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


class _Links:
    """Which things are linked, by union and find."""

    def __init__(self) -> None:
        self._parent: dict[object, object] = {}

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
