"""The fault book as a noun: everything that is known of faults, compiled, read-only, in one place."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from halfsplit.model.bench import (
    Check,
    Event,
    Forced,
    Hazard,
    Inspection,
    Load,
    Measurement,
    Opening,
    Repair,
    Sign,
    Tool,
    Word,
)
from halfsplit.model.faults import Fault, Strength
from halfsplit.model.ladder import Ladder
from halfsplit.model.machine import Block, Fact, Grade, Host, Joint, Output, PartKind, ShelfPart


@dataclass(frozen=True)
class Teller:
    """A level of how far an owner's words can be trusted: the chance of the level, and of a slip in one statement."""

    id: str
    share: float
    slip: float


@dataclass(frozen=True)
class Complaint:
    """One of the complaint classes: a title and the words that owners use."""

    id: str
    title: str
    words: tuple[str, ...] = ()


@dataclass(frozen=True)
class StopKind:
    """One way in which a run ends by itself, one of ``ladder.KINDS``: a title and the words that owners use."""

    id: str
    title: str
    words: tuple[str, ...] = ()


@dataclass(frozen=True)
class Book:
    """The compiled fault book.  Every map goes from id to noun, in the order of the files."""

    hash: str
    strengths: Mapping[str, Strength]
    ladder: Ladder
    kinds: Mapping[str, PartKind]
    joints: Mapping[str, Joint]
    facts: Mapping[str, Fact]
    hosts: Mapping[str, Host]
    grades: Mapping[str, Grade]
    shelf: Mapping[str, ShelfPart]
    outputs: Mapping[str, Output]
    loads: Mapping[str, Load]
    conditions: Mapping[str, Word]
    positions: Mapping[str, Word]
    starters: Mapping[str, Word]
    touches: Mapping[str, Word]
    complaints: Mapping[str, Complaint]
    tellers: tuple[Teller, ...]
    events: Mapping[str, Event]
    signs: Mapping[str, Sign]
    forced: tuple[Forced, ...]
    tools: Mapping[str, Tool]
    inspections: Mapping[str, Inspection]
    measurements: Mapping[str, Measurement]
    openings: Mapping[str, Opening]
    hazards: Mapping[str, Hazard]
    checks: Mapping[str, Check]
    repairs: Mapping[str, Repair]
    faults: Mapping[str, Fault]
    stops: Mapping[str, StopKind] = field(default_factory=lambda: MappingProxyType({}))
    map: Mapping[str, Block] = field(default_factory=lambda: MappingProxyType({}))
