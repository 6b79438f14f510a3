"""What was wrong with a machine, in the owner's words: what its repairs were for, and what was seen by the way."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from halfsplit.actions import JobView
from halfsplit.errors import InputError
from halfsplit.job.corrections import apply_corrections
from halfsplit.job.units import OWNER, kind_of, number_of
from halfsplit.model.book import Book
from halfsplit.model.faults import Fault
from halfsplit.model.job import Entry, Inspect, Job, RepairDone, Run
from halfsplit.web.log_rows import entry_in_words
from halfsplit.web.texts import say

LEAST_TOLD = 0.1
"""A fault that was suspected less before its repair is not told as what was wrong (estimate)."""

MOST_TOLD = 3
"""So many faults of which one was likely there are told for one repair."""


def found_in_words(view: JobView, log: Sequence[Entry], book: Book) -> Sequence[str]:
    """Return the owner's sentence for each fault that a repair was done for, once.

    Of the faults that a repair cures the one is meant that most of the looks at its place before it had shown, of
    several the commonest.  Where no look had shown any they are the ones that were suspected most just before, as many
    as make up half of what it cures, and are told as likely only; where they were hardly suspected at all, as after a
    repair that had cured them already, only if no other repair has found anything.  A repair for what no look had
    shown, after which the machine came no further than before, has not found anything.

    Args:
        view: the job.
        log: its log as it stands corrected.
        book: the fault book.
    """
    looks: set[tuple[str, str]] = set()
    found: list[str] = []
    unlikely: list[tuple[float, str]] = []
    for place, entry in enumerate(log):
        if isinstance(entry, Inspect):
            looks.add((entry.what, entry.seen))
        if isinstance(entry, RepairDone):
            cured = _cured_by(entry, book)
            shown = {fault.id: _shown(fault, looks, entry) for fault in cured}
            best = max(cured, key=lambda fault: (len(shown[fault.id]), fault.base.p, fault.id), default=None)
            if best is not None and shown[best.id]:
                looks -= shown[best.id]
                found.append(best.owner_says)
            elif best is not None and _came_further(log[:place], log[place + 1 :], book):
                p = _suspected_before(view, entry.id, book)
                cured.sort(key=lambda fault: (p.get(fault.id, 0.0), fault.base.p, fault.id), reverse=True)
                said, most = _as_likely(cured, p), p.get(cured[0].id, 0.0)
                if most >= LEAST_TOLD:
                    found.append(said)
                else:
                    unlikely.append((most, said))
    return found or [said for _, said in sorted(unlikely, reverse=True)[:1]]


def righted_in_words(log: Sequence[Entry], book: Book, spoken: Book) -> Iterable[str]:
    """Yield what a look had found not fine that no repair was done for, and the last look there found fine.

    A step of a check had put it right, as a plug that was taken off and put back, or the look was wrong.

    Args:
        log: as it stands corrected.
        book: the fault book.
        spoken: the book as it is spoken of this machine.
    """
    odd: dict[str, Inspect] = {}
    last: dict[str, str] = {}
    for entry in log:
        if isinstance(entry, Inspect) and entry.on == OWNER:
            last[entry.what] = entry.seen
            if entry.seen != book.inspections[kind_of(entry.what)].fine:
                odd.setdefault(entry.what, entry)
        if isinstance(entry, RepairDone):
            looks = {(look.what, look.seen) for look in odd.values()}
            for what, _ in (each for fault in _cured_by(entry, book) for each in _shown(fault, looks, entry)):
                odd.pop(what, None)
    for what, look in odd.items():
        if last[what] == book.inspections[kind_of(what)].fine:
            yield say("collection.righted", seen=entry_in_words(look, spoken))


def _cured_by(repair: RepairDone, book: Book) -> list[Fault]:
    """Return the faults that a repair may be for, of those that the owner is told of."""
    return [
        fault
        for fault in book.faults.values()
        if fault.owner_says and any(cure.repair == repair.do for cure in fault.cures)
    ]


def _as_likely(faults: Sequence[Fault], p: Mapping[str, float]) -> str:
    """Return the owner's sentences for the likeliest of some faults, as many as make up half of all of them.

    Args:
        faults: likeliest first; at least one.
        p: fault -> how far it is suspected.
    """
    half, sum_p, said = 0.5 * sum(p.get(fault.id, 0.0) for fault in faults), 0.0, list[str]()
    for fault in faults[:MOST_TOLD]:
        said.append(fault.owner_says)
        sum_p += p.get(fault.id, 0.0)
        if sum_p >= half:
            break
    if len(said) == 1:
        return say("collection.likely", sentence=said[0])
    return say("collection.one_of", sentences=f" {say('collection.or')} ".join(said))


def _suspected_before(view: JobView, repair: str, book: Book) -> Mapping[str, float]:
    """Return fault -> how far it was suspected just before a repair; nothing where that cannot be worked out."""
    job = view.job or Job()
    told, log = apply_corrections(job, [])
    place = next(number for number, entry in enumerate(log) if entry.id == repair)
    before = replace(job, told=told, log=log[:place])

    def work_out() -> Mapping[str, float]:
        from halfsplit.job.advise import fold_and_weigh  # noqa: PLC0415  only this page needs it
        from halfsplit.job.suspected import p_of_faults  # noqa: PLC0415  only this page needs it

        try:
            return p_of_faults(*fold_and_weigh(before, book))
        except InputError:
            return {}

    on_file = view.on_file
    return on_file.bench.memory.get(("suspected before", *on_file.key, repair), work_out)


def _came_further(before: Iterable[Entry], after: Iterable[Entry], book: Book) -> bool:
    """Return whether the first run after a repair, and before the next one, did not fail as the last one before it.

    Where there is none it is not known, and the repair is believed.
    """
    first = next((entry for entry in after if isinstance(entry, Run | RepairDone)), None)
    if not isinstance(first, Run) or not _failed(first):
        return True
    last = next((entry for entry in reversed(tuple(before)) if isinstance(entry, Run) and _failed(entry)), None)
    return last is not None and _height(first, book) > _height(last, book)


def _failed(run: Run) -> bool:
    """Return whether it stopped, came not as far as was looked for, or left every monitor that was looked at dark."""
    seen = run.seen
    stages = {stage for shown in seen.picture.values() for stage in shown}
    is_dark = any(not any(shown.get(stage) for shown in seen.picture.values()) for stage in stages)
    return run.failed > 0 and (seen.not_reached != "" or seen.stop is not None or is_dark)


def _height(run: Run, book: Book) -> int:
    """Return the place of the highest rung that a run is known to have reached, from 0; -1 = none."""
    seen, ladder = run.seen, book.ladder
    missed = ladder.place(seen.not_reached) - 1 if seen.not_reached else -1
    return max(missed, ladder.place(seen.reached) if seen.reached else -1)


def _shown(fault: Fault, looks: Iterable[tuple[str, str]], repair: RepairDone) -> set[tuple[str, str]]:
    """Return the looks that have shown a fault where a repair was done: of two modules not those at the other one."""
    shows = {(look.inspection, look.word) for pattern in fault.patterns for look in pattern.looks}
    return {
        (what, seen)
        for what, seen in looks
        if (kind_of(what), seen) in shows and len({number_of(what), number_of(repair.to)} - {""}) <= 1
    }
