"""What hangs together: groups of roots, readings and contexts that share nothing with the rest.

P(all readings) is the product over the groups, and a root's answer depends on its own group only.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from halfsplit.infer.draws import Draws, draw_states
from halfsplit.infer.fields import ROUNDING, Field, compile_fields
from halfsplit.model.arrays import Ints
from halfsplit.model.evidence import NOTHING, Acts, Context, Evidence, Reading, Root


@dataclass(frozen=True)
class CompiledField:
    """One field with what it makes of every root.

    Args:
        field: the field.
        draws: of all states of the evidence's roots, then of "nothing", then of the setup itself.
        explains: roots that can leave a code on it.
        contradicts: roots that it can only rule out.
    """

    field: Field
    draws: Draws
    explains: tuple[int, ...]
    contradicts: tuple[int, ...]


@dataclass(frozen=True)
class Group:
    """One group.

    Args:
        roots: its roots, with one more for each reading whose setup itself acts by chance (their ids begin
            with "setup of"); at least one.
        contexts: the contexts that they share.
        fields: the compiled readings, in order of time.
    """

    roots: tuple[Root, ...]
    contexts: tuple[Context, ...]
    fields: tuple["GroupField", ...]


@dataclass(frozen=True)
class GroupField:
    """One field as a group sees it.

    Args:
        time: the place of the reading in the log.
        compiled: the field.
        is_own: whether its weight counts here; where it does not, it can only rule roots of this group out.
        places: the places of the group's states in its draws.
    """

    time: int
    compiled: CompiledField
    is_own: bool
    places: Ints


@dataclass(frozen=True)
class Compiled:
    """An evidence with its readings compiled; any of its readings may be left out of the question.

    Args:
        evidence: the evidence.
        roots: the faults, and the setup's own chance doings.
        fields: for each reading its fields.
    """

    evidence: Evidence
    roots: tuple[Root, ...]
    fields: Mapping[str, tuple[CompiledField, ...]]


def compile_readings(evidence: Evidence, before: Compiled | None = None) -> Compiled:
    """Compile all readings of an evidence.

    Args:
        evidence: the evidence.
        before: the same job some entries earlier; what has not changed since (the very same objects) is kept.
    """
    sizes = {context.id: len(context.values) for context in evidence.contexts}
    setups = tuple(_setup_root(reading) for reading in evidence.readings if len(reading.base) > 1)
    fields = {}
    for reading in evidence.readings:
        if before is not None and _is_same(reading, evidence, before.evidence):
            fields[reading.id] = before.fields[reading.id]
        else:
            fields[reading.id] = _compile_reading(reading, evidence.roots, sizes)
    return Compiled(evidence, (*evidence.roots, *setups), fields)


def _is_same(reading: Reading, evidence: Evidence, before: Evidence) -> bool:
    """Return whether a reading and all that acts on it are the very same objects as before."""
    return (
        len(evidence.roots) == len(before.roots)
        and any(reading is old for old in before.readings)
        and all(
            len(new.states) == len(old.states) and new.acts.get(reading.id) is old.acts.get(reading.id)
            for new, old in zip(evidence.roots, before.roots, strict=True)
        )
    )


def _compile_reading(reading: Reading, roots: Sequence[Root], sizes: Mapping[str, int]) -> tuple[CompiledField, ...]:
    acts: list[Acts | None] = []
    for root in roots:
        acts += root.acts.get(reading.id) or (None,) * len(root.states)
    acts += [None, Acts(reading.base) if len(reading.base) > 1 else None]
    effects = dict.fromkeys([NOTHING])
    for act in {id(act): act for act in acts if act is not None}.values():
        effects.update((effect, None) for p, effect in act.outcomes if p > 0)
    offset = np.cumsum([0, *(len(root.states) for root in roots), 1])
    compiled: list[CompiledField] = []
    fields = compile_fields(reading, [*effects, *(effect for _, effect in reading.base)], sizes)
    for field in fields:
        same = next((item for item in compiled if item.field is field), None)
        if same is not None:
            compiled.append(same)
            continue
        draws = draw_states(field, acts)
        state, code, _ = draws.listed()
        loud = np.zeros(len(acts), dtype=bool)
        loud[state[code > 0]] = True
        explains = np.logical_or.reduceat(loud, offset)
        cut = np.logical_or.reduceat(draws.living < 1.0 - ROUNDING, offset)
        compiled.append(
            CompiledField(
                field,
                draws,
                tuple(np.flatnonzero(explains[:-1]).tolist()),
                tuple(np.flatnonzero(cut[:-1] & ~explains[:-1]).tolist()),
            )
        )
    return tuple(compiled)


def split_evidence(compiled: Compiled, readings: Collection[str]) -> tuple[Group, ...]:
    """Return the groups that share nothing in the question with these readings, the largest first."""
    evidence, roots = compiled.evidence, compiled.roots
    asked = [
        (reading.time, item)
        for reading in evidence.readings
        if reading.id in readings
        for item in compiled.fields[reading.id]
    ]
    setup_of = {root.id: i for i, root in enumerate(roots) if i >= len(evidence.roots)}
    links = _link(compiled, asked, setup_of)
    members: dict[object, list[int]] = {key: [] for key in links.groups()}
    for i in range(len(roots)):
        members[links.find(i)].append(i)
    places = _Places(compiled)
    groups = []
    for key, mine in members.items():
        fields = []
        for n, (time, item) in enumerate(asked):
            is_own = links.find(("field", n)) == key
            # a root that a reading can only rule out takes its part in its own group
            if is_own or any(links.find(i) == key for i in item.contradicts):
                fields.append(GroupField(time, item, is_own, places.of(mine, item.field.reading)))
        shared = tuple(context for context in evidence.contexts if links.find(context.id) == key)
        groups.append(
            Group(tuple(roots[i] for i in mine) or (_STILL,), shared, tuple(sorted(fields, key=lambda item: item.time)))
        )
    return tuple(sorted(groups, key=lambda group: -len(group.roots)))


def _link(compiled: Compiled, asked: Sequence[tuple[int, CompiledField]], setup_of: Mapping[str, int]) -> "_Links":
    """Link roots, contexts and fields that share something."""
    evidence, roots = compiled.evidence, compiled.roots
    links = _Links([*(context.id for context in evidence.contexts), *range(len(roots))])
    linked: set[int] = set()
    for i, root in enumerate(roots):
        for name in (*root.given, *(name for move in root.moves for name in move.given)):
            links.join(i, name)
            linked.add(i)
    for n, (_, item) in enumerate(asked):
        own = setup_of.get(_setup_id(item.field.reading))
        explains = item.explains if own is None else (*item.explains, own)
        for thing in (*item.field.given, *explains):
            links.join(("field", n), thing)
        linked.update(explains)
        if not item.field.bits and not item.field.given:
            links.join(("field", n), _REST)
    for i in range(len(roots)):
        if i not in linked:
            links.join(i, _REST)
    return links


class _Places:
    """Where the states of a group's roots lie in the draws of a field."""

    def __init__(self, compiled: Compiled) -> None:
        self.roots = compiled.roots
        self.faults = len(compiled.evidence.roots)
        sizes = [len(root.states) for root in compiled.evidence.roots]
        self.offset = np.cumsum([0, *sizes])
        self.nothing = int(self.offset[-1])

    def of(self, members: Sequence[int], reading: str) -> Ints:
        """Return the places; a group without roots has one state that does nothing."""
        places: list[int] = []
        for i in members:
            if i < self.faults:
                places.extend(range(self.offset[i], self.offset[i + 1]))
            else:
                places.append(self.nothing + (self.roots[i].id == _setup_id(reading)))
        return np.array(places or [self.nothing], dtype=np.int64)


def _setup_root(reading: Reading) -> Root:
    """Return the setup's own chance doings in one reading as a root that is always there."""
    return Root(
        _setup_id(reading.id),
        ("there",),
        np.ones(1),
        {reading.id: (Acts(reading.base),)},
        held=(frozenset(),),
    )


def _setup_id(reading: str) -> str:
    return f"setup of {reading}"


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

    def groups(self) -> list[object]:
        return list(dict.fromkeys(self.find(thing) for thing in list(self._parent)))
