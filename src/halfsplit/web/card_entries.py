"""What a card puts on the log beside its answers: the setup that it wants, and that nobody is sure of what was seen."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from markupsafe import Markup

from halfsplit.actions import JobView
from halfsplit.errors import Mistake
from halfsplit.job.asked import placed_entries
from halfsplit.job.machine import facts_of
from halfsplit.job.setups import SetupChanger
from halfsplit.job.units import OWNER, kind_of
from halfsplit.model.bench import Check
from halfsplit.model.job import UNSURE, ChangeSetup, Entry, Inspect, Job, Run, Seen
from halfsplit.web.drawings import target_setup
from halfsplit.web.entry_text import entry_text


@dataclass(frozen=True)
class Target:
    """The setup that a check wants.

    Args:
        drawn: it beside the setup now.
        entry: what goes on the log when the machine was made to look like that.
        is_inside: whether anything inside the case is changed, and not only leads and what stands around it.
    """

    drawn: Markup
    entry: str
    is_inside: bool


def target_of(check: Check, view: JobView) -> Target | None:
    """Return the setup that a check wants; None where it is there, or cannot be made from what is known.

    Args:
        check: the check.
        view: the job as it stands now.
    """
    wants = next((entry for entry in _asked(check, view) if isinstance(entry, Run | ChangeSetup)), None)
    if wants is None or view.course is None:
        return None
    standing, book = view.course.standing, view.on_file.book
    mistakes: list[Mistake] = []
    changer = SetupChanger(book, view.course.intake, mistakes)
    after = changer.change(standing, wants.on, wants.swaps, output=wants.output, case=wants.case)
    now, wanted = standing[wants.on], after[wants.on]
    drawn = target_setup(view.spoken, now, wanted)
    if not drawn or mistakes:
        return None
    change = ChangeSetup("", on=wants.on, swaps=wants.swaps, output=wants.output, case=wants.case)
    changed = {kind_of(slot) for slot, _ in now.slots.items() ^ wanted.slots.items()}
    is_inside = now.in_case != wanted.in_case or any(not book.kinds[kind].outside for kind in changed)
    return Target(drawn, entry_text([change], book), is_inside)


def unsure_text(check: Check, view: JobView) -> str:
    """Return what a check puts on the log when it was done and nobody is sure of what was seen.

    Args:
        check: the check.
        view: the job as it stands now.

    Returns:
        Its looks as unsure, and its run with each sign that was asked for as unsure and nothing said of how it
        ended; "" where only numbers are asked for.
    """
    book = view.on_file.book
    signs = MappingProxyType({word: UNSURE for word in check.asks if word in book.signs})
    found: list[Entry] = []
    for entry in _asked(check, view):
        if isinstance(entry, Inspect):
            found.append(replace(entry, seen=UNSURE))
        elif isinstance(entry, Run):
            found.append(replace(entry, seen=Seen(signs=signs)))
    return entry_text(found, book) if found else ""


def _asked(check: Check, view: JobView) -> Sequence[Entry]:
    """Return what a check would put on the log as the machine stands, with no result yet."""
    if view.course is None:
        return ()
    book = view.on_file.book
    return placed_entries(check, view.course.standing[OWNER], book, facts_of(view.job or Job(), book, []))
