"""Checks that were passed over: a decision in the log, with the reason, until it is withdrawn."""

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from halfsplit.job.advised import Advice, Proposal
from halfsplit.job.corrections import apply_corrections
from halfsplit.model.job import Job, Remark
from halfsplit.web.entry_text import fields_text, quoted

DECIDE = "decide"
"""The kind of remark that a decision is."""

NOT_SURE, WITHOUT_NUMBERS = "not_sure", "without_numbers"

REASONS: Mapping[str, str] = MappingProxyType(
    {
        NOT_SURE: "not sure",
        "could_not": "could not be done",
        "done_before": "already done",
        WITHOUT_NUMBERS: "done without its numbers",
        "owner_wants": "not as the owner wants it",
    }
)
"""Why a check is passed over -> how the log says it."""

_SAID = re.compile(rf"({'|'.join(REASONS.values())}): .*\[([^\]]+)\]")


@dataclass(frozen=True)
class Passed:
    """A check that was passed over.

    Args:
        entry: the decision's id.
        proposal: the check's or repair's id.
        text: how the log says it.
    """

    entry: str
    proposal: str
    text: str


def passing_text(reason: str, title: str, proposal: str) -> str:
    """Return the entry that passes a proposal over; ``reason`` is one of ``REASONS``."""
    return fields_text(DECIDE, {"text": quoted(f"{REASONS[reason]}: {title} [{proposal}]")})


def is_passing(text: str) -> bool:
    """Return whether a decision passes something over."""
    return _SAID.fullmatch(text) is not None


def plain_reason(text: str) -> str:
    """Return a decision as people read it: without the id of what it passes over.

    Example:
        >>> plain_reason("could not be done: memory test overnight [memory_test_overnight]"), plain_reason("let it be")
        ('could not be done: memory test overnight', 'let it be')
    """
    return text.rpartition(" [")[0] if is_passing(text) else text


def passed_over(job: Job) -> tuple[Passed, ...]:
    """Return what is passed over now."""
    found = []
    for entry in apply_corrections(job, [])[1]:
        said = _SAID.fullmatch(entry.text) if isinstance(entry, Remark) and entry.kind == DECIDE else None
        if said is not None:
            found.append(Passed(entry.id, said[2], plain_reason(said[0])))
    return tuple(found)


def chosen_of(advice: Advice, gone: Collection[str], wanted: str = "") -> Proposal | None:
    """Return the proposal that is on the card, or None where there is none.

    Args:
        advice: what it is one of.
        gone: proposals that were passed over.
        wanted: the one that is wanted instead of the best, or "".
    """
    if wanted and (found := advice.proposal(wanted)) is not None:
        return found
    top = advice.proposal(advice.top)
    if top is not None and top.id not in gone:
        return top
    free = (each for each in advice.proposals if each.id not in gone and not any(s.bars for s in each.stop_points))
    return next(free, top)
