"""What is known of the owner's machine: its facts, told or plain from its parts."""

from collections.abc import Mapping
from types import MappingProxyType

from halfsplit.errors import Mistake
from halfsplit.job.units import kind_of
from halfsplit.model.book import Book
from halfsplit.model.job import Job

AGE = "age_years"

USUAL_AGE_YEARS = 5.0
"""The age that the book's bases are for, in years."""

TOLD_BY_FIELD: Mapping[tuple[str, str], tuple[str, Mapping[str, str]]] = MappingProxyType(
    {
        ("drive", "type"): ("boot_drive_type", {"mechanical": "mechanical", "sata": "sata", "m2": "m2"}),
        ("memory", "ddr"): ("memory_type", {"3": "ddr3", "4": "ddr4", "5": "ddr5"}),
        ("cooler", "type"): ("cooling", {"air": "air", "liquid": "liquid"}),
        ("supply", "modular"): ("supply_leads", {"yes": "modular", "no": "fixed"}),
        ("supply", "shape"): ("supply_shape", {"standard size": "standard", "maker's own shape": "makers_own"}),
        ("system", "encrypted"): ("drive_lock", {"yes": "encrypted", "no": "open"}),
    }
)
"""Part and its field -> the fact of the machine that it tells, and what each of its values says."""

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
    headroom = _headroom(job)
    if headroom:
        found["power_headroom"] = headroom
    if any(kind_of(part.slot) == "riser" for part in job.parts):
        found["mount"] = "on_riser"
    found |= job.machine
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
            share *= sum(book.facts[name].values[value] for value in values)
    return min(1.0, share)


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
