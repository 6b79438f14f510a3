"""The page for collection, in the owner's words, and the bench's own copy."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from starlette.responses import Response

from halfsplit import actions
from halfsplit.actions import JobView
from halfsplit.job.corrections import apply_corrections
from halfsplit.job.weighed import Weighed, by_p
from halfsplit.model.book import Book
from halfsplit.model.job import Entry, Job, Remark, RepairDone, Run
from halfsplit.store.states import COLLECTED
from halfsplit.web.job_page import state_in_words, state_of
from halfsplit.web.log_rows import LogRow, entry_in_words, log_rows
from halfsplit.web.lookback import LookBack, look_back
from halfsplit.web.machine_words import machine_words
from halfsplit.web.owner_words import found_in_words, righted_in_words
from halfsplit.web.passing import DECIDE, is_passing
from halfsplit.web.rebuild_page import still_to_rebuild
from halfsplit.web.screen import day_of, show
from halfsplit.web.texts import say
from halfsplit.web.visit import Visit

LIKELY = 0.5
"""A fault that is still suspected so far is told to the owner as likely left in."""

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
        came: the day when it came.
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
    came: str
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
            *dict.fromkeys(found_in_words(view, log, book) or [each.owner_says for each in normal if each.owner_says]),
            *righted_in_words(log, book, view.spoken),
        ),
        tuple(dict.fromkeys(entry_in_words(entry, view.spoken) for entry in log if isinstance(entry, RepairDone))),
        proved,
        _unproved(log, proved, left),
        still_to_rebuild(view.job or Job(), view.course, book),
        tuple(left),
        tuple(_cautions(log, book)),
        weighed is not None,
        row.state == COLLECTED,
        day_of(row.opened_at),
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
