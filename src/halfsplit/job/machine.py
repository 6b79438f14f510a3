"""What is known of the owner's machine: its facts, told or plain from its parts."""

from collections.abc import Mapping
from types import MappingProxyType

from halfsplit.errors import Mistake
from halfsplit.job.units import kind_of
from halfsplit.model.bench import Check
from halfsplit.model.book import Book
from halfsplit.model.job import Job
from halfsplit.model.machine import ShelfPart

NO_FACTS: Mapping[str, object] = MappingProxyType({})
"""Of a machine of which nothing is known."""

AGE = "age_years"

OWN_PICTURE, THERE = "own_picture", "there"
"""The fact that a machine gives a picture without a graphics card, and its value where it does."""

USUAL_AGE_YEARS = 5.0
"""The age that the book's bases are for, in years."""

TOLD_BY_FIELD: Mapping[tuple[str, str], tuple[str, Mapping[str, str]]] = MappingProxyType(
    {
        ("drive", "type"): ("boot_drive_type", {"mechanical": "mechanical", "sata": "sata", "m2": "m2"}),
        ("memory", "ddr"): ("memory_type", {"3": "ddr3", "4": "ddr4", "5": "ddr5"}),
        ("cooler", "type"): ("cooling", {"air": "air", "liquid": "liquid"}),
        ("supply", "modular"): ("supply_leads", {"yes": "modular", "no": "fixed"}),
        ("supply", "shape"): (
            "supply_shape",
            {
                "standard size": "standard",
                "small": "standard",
                "maker's own shape": "makers_own",
                "12 V only": "twelve_volt_only",
                "outside": "outside",
            },
        ),
        ("processor", "graphics"): ("own_picture", {"yes": "there", "no": "none"}),
        ("board", "video_output"): ("own_picture", {"no": "none"}),
        ("board", "status_leds"): ("status_lamps", {"yes": "lamps", "codes": "codes", "no": "none"}),
        ("board", "socket"): ("socket_pins", {"LGA": "in_socket", "PGA": "on_processor"}),
        ("case", "size"): ("case_size", {"standard": "standard", "small": "small", "mini": "mini"}),
        ("system", "encrypted"): ("drive_lock", {"yes": "encrypted", "no": "open"}),
    }
)
"""Part and its field -> the fact of the machine that it tells, and what each of its values says."""

LEAST_SHARE = 0.5
"""A check is offered where at least this share of machines like this one is of the kind that it is for."""

OTHER_WATTS = 75.0
"""What a machine draws beside processor and graphics card at most, in watts (estimate)."""

USUAL_PROCESSOR_WATTS = 105.0
"""What a processor draws at most where nobody said, in watts (estimate)."""

HEADROOM = ((1.5, "ample"), (1.1, "tight"), (0.0, "short"))
"""Rated watts over what the parts may draw: from this ratio on, that value of the fact (estimate)."""


def facts_of(job: Job, book: Book, mistakes: list[Mistake]) -> Mapping[str, object]:
    """Return fact -> value as far as the job tells it; what is told as a fact goes before what a part shows.

    Args:
        job: the job.
        book: the fault book; a fact or value that it does not have is left out.
        mistakes: HS206 goes here for an age that is none.
    """
    found: dict[str, object] = {}
    for part in reversed(job.parts):  # of several drives the first is the one that the system is on
        for name, value in part.fields.items():
            fact, values = TOLD_BY_FIELD.get((kind_of(part.slot), name), ("", {}))
            if str(value) in values:
                found[fact] = values[str(value)]
    if any(kind_of(part.slot) == "board" and str(part.fields.get("video_output")) == "no" for part in job.parts):
        found[OWN_PICTURE] = "none"  # graphics in the processor are of no use without a socket
    headroom = _headroom(job)
    if headroom:
        found["power_headroom"] = headroom
    for part in job.parts:
        for fact, meant in book.kinds[kind_of(part.slot)].only.items() if kind_of(part.slot) in book.kinds else ():
            if len(meant) == 1:
                found[fact] = meant[0]
    found |= job.machine
    if _lacks("card", job, found, book):
        found.setdefault(OWN_PICTURE, THERE)  # nobody owns a machine that never had a picture
    age = found.get(AGE)
    if age is not None and not (isinstance(age, int | float) and age >= 0):
        do = "Write the age in years, such as 6, or leave it out"
        mistakes.append(Mistake("machine", "HS206", f"the age is {age!r}", "an age is 0 years or more", do))
        del found[AGE]
    return MappingProxyType(
        {
            name: value
            for name, value in found.items()
            if name in book.facts and (not book.facts[name].values or value in book.facts[name].values)
        }
    )


def age_of(facts: Mapping[str, object]) -> float:
    """Return the machine's age in years; the usual one where nobody said."""
    age = facts.get(AGE)
    return float(age) if isinstance(age, int | float) else USUAL_AGE_YEARS


def share_of(only: Mapping[str, tuple[str, ...]], facts: Mapping[str, object], book: Book) -> float:
    """Return the share of machines like this one that have these facts.

    Args:
        only: fact -> the values that are meant.
        facts: what is known of this machine.
        book: the fault book, for the shares of what is not known.

    Returns:
        1 or 0 where the facts are known; the product of the shares where they are not.
    """
    share = 1.0
    for name, values in only.items():
        if name in facts:
            share *= float(facts[name] in values)
        elif book.facts[name].values:
            shares = book.facts[name].shares(facts)
            share *= sum(shares.get(value, 0.0) for value in values)
    return min(1.0, share)


def factor_of(likelier: Mapping[str, Mapping[str, float]], facts: Mapping[str, object], book: Book) -> float:
    """Return how much likelier something is in a machine like this one than in any machine.

    Args:
        likelier: fact -> value -> its weight; a value that is not named has 1.
        facts: what is known of this machine.
        book: the fault book, for the shares of each value among all machines.

    Returns:
        For each fact that is known its weight over the mean weight of all machines; 1 where none is known.
    """
    factor = 1.0
    for name, weights in likelier.items():
        if name in facts:
            mean = sum(share * weights.get(value, 1.0) for value, share in book.facts[name].values.items())
            factor *= weights.get(str(facts[name]), 1.0) / mean
    return factor


def is_offered(check: Check, facts: Mapping[str, object], book: Book) -> bool:
    """Return whether a check is thought of on a machine like this one, with what is on the shelf.

    Args:
        check: the check.
        facts: what is known of this machine.
        book: the fault book.

    Returns:
        Whether the machine is more likely than not of a kind that it can be done on, and a part that may fit is on
        the shelf for each that it needs.
    """
    if share_of(check.only, facts, book) < LEAST_SHARE:
        return False
    return all(name in book.shelf or shelf_part(name, facts, book) is not None for name in check.shelf)


def shelf_part(kind: str, facts: Mapping[str, object], book: Book) -> ShelfPart | None:
    """Return the first shelf part of a kind that more likely than not goes into such a machine, else the likeliest."""
    parts = [part for part in book.shelf.values() if part.kind == kind]
    shares = [share_of(part.fits, facts, book) for part in parts]
    enough = min(LEAST_SHARE, max(shares, default=0.0))
    return next((part for part, share in zip(parts, shares, strict=True) if share >= enough > 0.0), None)


def _lacks(kind: str, job: Job, facts: Mapping[str, object], book: Book) -> bool:
    """Return whether it is known that the owner's machine has no part of a kind."""
    if any(kind_of(part.slot) == kind for part in job.parts):
        return False
    return kind in job.missing or (kind in book.kinds and share_of(book.kinds[kind].only, facts, book) == 0.0)


def _headroom(job: Job) -> str:
    """Return how the supply's watts compare with what the parts may draw, or "" where too little is known."""
    watts = {kind_of(part.slot): part.fields.get("watts") for part in job.parts}
    supply = watts.get("supply")
    card = 0.0 if "card" in job.missing else watts.get("card")
    processor = watts.get("processor") or USUAL_PROCESSOR_WATTS
    if not (isinstance(supply, int | float) and isinstance(card, int | float) and isinstance(processor, int | float)):
        return ""
    ratio = supply / (card + processor + OTHER_WATTS)
    return next(value for least, value in HEADROOM if ratio >= least)
