"""What the pages of parts, joints, facts, hosts, outputs and rungs say, chapter by chapter."""

from collections.abc import Mapping

from halfsplit.book.entry_chapters import Chapters, only_lines
from halfsplit.book.speech import Speech, chance
from halfsplit.model.bench import Check, Repair
from halfsplit.model.book import Book
from halfsplit.model.ladder import Rung
from halfsplit.model.machine import Block, Fact, Host, Joint, Output, PartKind


def part_chapters(kind: PartKind, book: Book, speech: Speech) -> Chapters:
    """Return what is to be said of a kind of part."""
    there = [] if kind.only else [f"{kind.default} in a machine of which nobody said"]
    there += ["a machine may have several"] if kind.many else []
    there += ["outside the case"] if kind.outside else []
    worth = f"a good used one {_money(kind.worth_cents)}, a new one {_money(kind.price_cents)}"
    block = book.map.get(kind.id)
    return [
        ("how many", there),
        ("only", only_lines(kind.only, book)),
        ("worth", [worth] if kind.price_cents or kind.worth_cents else []),
        ("a job file may tell of it", [f"{name}: {line}" for name, line in kind.fields.items()]),
        ("meets others at", [joint.title for joint in book.joints.values() if kind.id in joint.between]),
        ("on the map", [] if block is None else [_block(block, speech)]),
        ("on the shelf", [part.title or name for name, part in book.shelf.items() if part.kind == kind.id]),
        ("what may be wrong with it", _faults_at(kind.id, book)),
        ("looked at by", [look.title for look in book.inspections.values() if look.at == kind.id]),
        ("measured at", [point.title for point in book.measurements.values() if point.at == kind.id]),
    ]


def joint_chapters(joint: Joint, book: Book, speech: Speech) -> Chapters:
    """Return what is to be said of a joint."""
    disturbed = [
        f"{opening.title} ({chance(opening.disturbs[joint.id].p)})"
        for opening in book.openings.values()
        if joint.id in opening.disturbs
    ]
    return [
        ("between", [speech.place(kind) for kind in joint.between]),
        ("disturbed by", disturbed),
        ("what may be wrong with it", _faults_at(joint.id, book)),
        ("looked at by", [look.title for look in book.inspections.values() if look.at == joint.id]),
    ]


def fact_chapters(fact: Fact, book: Book, speech: Speech) -> Chapters:
    """Return what is to be said of a fact."""
    given = [
        f"{book.facts[other].title} {_word(value)}: {_shares(shares)}"
        for other, by_value in fact.given.items()
        for value, shares in by_value.items()
    ]
    moved = [
        f"{fault.id}: {fault.title}"
        for fault in book.faults.values()
        if fact.id in fault.only or fact.id in fault.likelier
    ]
    doings: list[Check | Repair] = [*book.checks.values(), *book.repairs.values()]
    return [
        ("values", [_shares(fact.values)] if fact.values else ["a plain number"]),
        ("given another fact", given),
        ("changes", moved),
        ("decides about", [each.title for each in doings if fact.id in each.only]),
        ("asked by", [check.title for check in book.checks.values() if fact.id in check.asks]),
    ]


def host_chapters(host: Host, book: Book, speech: Speech) -> Chapters:
    """Return what is to be said of a host."""
    return [
        ("brings itself", [speech.place(kind) for kind in host.own]),
        ("all of that good", [f"{host.p_good:g}"] if host.own else []),
        ("harms what is lent to it", [f"{host.harms:g} at each power-up"] if host.harms else []),
        ("checks on it", [check.title for check in book.checks.values() if check.host == host.id]),
    ]


def output_chapters(output: Output, book: Book, speech: Speech) -> Chapters:
    """Return what is to be said of a socket for a monitor."""
    return [("on", [speech.place(output.part)])]


def rung_chapters(rung: Rung, book: Book, speech: Speech) -> Chapters:
    """Return what is to be said of a rung."""
    earliest, latest = rung.seconds
    signs = book.signs.values()
    return [
        ("reached", [f"{earliest:g} to {latest:g} s after the start by a sound machine"]),
        ("shows from here on", [sign.title for sign in signs if sign.needs == rung.id]),
        ("proved by", [sign.title for sign in signs if sign.proves == rung.id]),
    ]


def _faults_at(place: str, book: Book) -> list[str]:
    return [f"{fault.id}: {fault.title}" for fault in book.faults.values() if place in fault.at]


def _block(block: Block, speech: Speech) -> str:
    on = f", in that of {speech.place(block.on)}" if block.on else ""
    label = f" \u201c{block.label}\u201d" if block.label else ""
    return f"a block{label} of {block.w} by {block.h} squares at {block.x}, {block.y}{on}"


def _shares(shares: Mapping[str, float]) -> str:
    return ", ".join(f"{_word(value)} {share:.0%}" for value, share in shares.items())


def _word(value: str) -> str:
    return value.replace("_", " ")


def _money(cents: int) -> str:
    return f"{cents / 100:.2f}"
