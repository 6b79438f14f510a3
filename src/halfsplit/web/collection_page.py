"""The page for collection, in the owner's words, and the bench's own copy."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from starlette.responses import Response

from halfsplit import actions
from halfsplit.actions import JobView
from halfsplit.errors import InputError
from halfsplit.job.corrections import apply_corrections
from halfsplit.job.units import kind_of, number_of
from halfsplit.job.weighed import Weighed, by_p
from halfsplit.model.book import Book
from halfsplit.model.faults import Fault
from halfsplit.model.job import Entry, Inspect, Job, Remark, RepairDone, Run
from halfsplit.store.states import COLLECTED
from halfsplit.web.job_page import state_in_words, state_of
from halfsplit.web.log_rows import LogRow, entry_in_words, log_rows
from halfsplit.web.lookback import LookBack, look_back
from halfsplit.web.machine_words import machine_words
from halfsplit.web.passing import DECIDE, is_passing
from halfsplit.web.rebuild_page import still_to_rebuild
from halfsplit.web.screen import show
from halfsplit.web.texts import say
from halfsplit.web.visit import Visit

LIKELY = 0.5
"""A fault that is still suspected so far is told to the owner as likely left in."""

LEAST_TOLD = 0.1
"""A fault that was suspected less before its repair is not told as what was wrong (estimate)."""

MOST_TOLD = 3
"""So many faults of which one was likely there are told for one repair."""

PICTURE_JOINTS = ("video_plug", "monitor_plug", "monitor")
"""Where a repair is done after which the owner is told which socket is the right one."""


@dataclass(frozen=True)
class CollectionPage:
    """What goes home with the machine.

    Args:
        number: of the job.
        shop: what the bench is called, or "".
        name: what the job is called.
        brought: what it was brought in with.
        found: the sentences for the owner, of the faults that the repairs were for; where there are none, of what is
            normal and was likely taken for one; and what was seen by the way and is not so any more.
        done: the repairs, in order.
        proved: what was run after the last repair, and held.
        unproved: why it is not proven that it holds, or "".
        not_rebuilt: what is still to be done on the rebuild list, or "".
        left: faults that may still be there, for the owner to sign for.
        cautions: what to mind at home.
        is_weighed: whether what may still be there is known.
        is_collected: whether it has gone home.
        opened_at: when it came.
        agreed: what was agreed on or decided, in a few words each.
        refresh: the address at which it comes again as long as what may still be there is worked out, "" = it stays so.
    """

    number: int
    shop: str
    name: str
    brought: str
    found: tuple[str, ...]
    done: tuple[str, ...]
    proved: tuple[str, ...]
    unproved: str
    not_rebuilt: str
    left: tuple[str, ...]
    cautions: tuple[str, ...]
    is_weighed: bool
    is_collected: bool
    opened_at: str
    agreed: tuple[str, ...]
    refresh: str


@dataclass(frozen=True)
class CopyPage:
    """The bench's own copy of a job.

    Args:
        number: of the job.
        name: what it is called.
        machine: what is known of it.
        state: where it is.
        states: the states that it was in: title, who and when.
        rows: the log, oldest first.
        photos: hash and title.
        back: the look back on what it took.
    """

    number: int
    name: str
    machine: tuple[str, ...]
    state: str
    states: tuple[tuple[str, str, str], ...]
    rows: tuple[LogRow, ...]
    photos: tuple[tuple[str, str], ...]
    back: LookBack


def show_collection(visit: Visit) -> Response:
    """Answer with the page that goes home with the machine."""
    view = actions.job_view(visit.desk.bench, visit.number)
    standing, settings = visit.desk.weigher.standing(view.on_file), visit.settings
    refresh = "" if standing.is_done else f"/jobs/{visit.number}/collection"
    page = collection_page(view, standing.weighed, settings.shop, settings.currency, refresh=refresh)
    return show(visit, "collection", page)


def collection_page(
    view: JobView, weighed: Weighed | None, shop: str, currency: str, *, refresh: str = ""
) -> CollectionPage:
    """Return what goes home with a machine.

    Args:
        view: its job.
        weighed: how far each fault is to be suspected now, or None as long as that is not worked out.
        shop: what the bench is called, or "".
        currency: of every sum.
        refresh: the address at which it comes again, "" = it stays so.
    """
    book, row = view.on_file.book, view.row
    log = apply_corrections(view.job or Job(), [])[1]
    likely = [fault for fault in by_p(weighed.faults) if fault.p >= LIKELY] if weighed is not None else []
    known = {each.id: book.faults.get(each.id.partition("@")[0]) for each in likely}  # a part of the shelf is no fault
    normal = [fault for fault in known.values() if fault is not None and fault.is_normal]
    left = [each.title for each in likely if known[each.id] not in normal]
    proved = tuple(_proved(log, book))
    return CollectionPage(
        row.number,
        shop,
        row.name,
        book.complaints[row.complaint].title if row.complaint in book.complaints else "",
        (
            *dict.fromkeys(_found(view, log, book) or [each.owner_says for each in normal if each.owner_says]),
            *_righted(log, book, view.spoken),
        ),
        tuple(dict.fromkeys(entry_in_words(entry, view.spoken) for entry in log if isinstance(entry, RepairDone))),
        proved,
        _unproved(log, proved, left),
        still_to_rebuild(view.job or Job(), view.course, book),
        tuple(left),
        tuple(_cautions(log, book)),
        weighed is not None,
        row.state == COLLECTED,
        row.opened_at,
        tuple(
            entry_in_words(entry, book, currency)
            for entry in log
            if isinstance(entry, Remark) and entry.kind in ("agree", DECIDE) and not is_passing(entry.text)
        ),
        refresh,
    )


def show_copy(visit: Visit) -> Response:
    """Answer with the bench's own copy."""
    view = actions.job_view(visit.desk.bench, visit.number)
    book, row = view.on_file.book, view.row
    page = CopyPage(
        row.number,
        row.name,
        tuple(machine_words(view.job or Job(), book)),
        state_of(row),
        tuple((state_in_words(each.state, each.waiting_for), each.initials, each.at) for each in view.states),
        log_rows(view, visit.settings.currency)[::-1],
        tuple((photo.hash, photo.title) for photo in view.photos if not photo.is_private),
        look_back(view, book, visit.now),
    )
    return show(visit, "copy", page)


def _found(view: JobView, log: Sequence[Entry], book: Book) -> Sequence[str]:
    """Return the owner's sentence for each fault that a repair was done for, once.

    Of the faults that a repair cures the one is meant that most of the looks at its place before it had shown, of
    several the commonest.  Where no look had shown any they are the ones that were suspected most just before, as many
    as make up half of what it cures, and are told as likely only; where they were hardly suspected at all, as after a
    repair that had cured them already, only if no other repair has found anything.  A repair for what no look had
    shown, after which the machine came no further than before, has not found anything.
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


def _righted(log: Sequence[Entry], book: Book, spoken: Book) -> Iterable[str]:
    """Yield what a look had found not fine that no repair was done for, and the last look there found fine.

    A step of a check had put it right, as a plug that was taken off and put back, or the look was wrong.
    """
    odd: dict[str, Inspect] = {}
    last: dict[str, str] = {}
    for entry in log:
        if isinstance(entry, Inspect):
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


def _proved(log: tuple[Entry, ...], book: Book) -> Iterable[str]:
    """Yield the runs after the last repair that were watched to the end and held."""
    last = max((n for n, entry in enumerate(log) if isinstance(entry, RepairDone)), default=-1)
    held: dict[str, int] = {}
    for entry in log[last + 1 :]:
        if isinstance(entry, Run) and entry.seen.stayed and entry.on == "owner":
            load = book.loads[entry.conditions.load].title if entry.conditions.load != "idle" else say("proof.start")
            if entry.conditions.cold:
                load = say("proof.cold")
            held[load] = held.get(load, 0) + entry.of
    for title, many in held.items():
        yield say("proof.times", title=title, many=many)


def _unproved(log: Sequence[Entry], proved: Sequence[str], left: Sequence[str]) -> str:
    """Return why it is not proven that a machine holds, in words, or ""."""
    if left:
        return say("collection.unproved_left", fault=left[0])
    is_mended = any(isinstance(entry, RepairDone) for entry in log)
    return say("collection.unproved_mended" if is_mended else "collection.unproved") if not proved else ""


def _cautions(log: Iterable[Entry], book: Book) -> Iterable[str]:
    done = [book.repairs[entry.do] for entry in log if isinstance(entry, RepairDone)]
    yield say("collection.mains")
    if any(repair.at in ("settings", "cell", "firmware", "board") for repair in done):
        yield say("collection.settings")
    if any(isinstance(entry, Run) and entry.output for entry in log) or any(each.at in PICTURE_JOINTS for each in done):
        yield say("collection.output")
