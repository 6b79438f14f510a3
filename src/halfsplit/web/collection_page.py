"""The page for collection, in the owner's words, and the bench's own copy."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from starlette.responses import Response

from halfsplit import actions
from halfsplit.actions import JobView
from halfsplit.errors import InputError
from halfsplit.job.advise import fold_and_weigh
from halfsplit.job.corrections import apply_corrections
from halfsplit.job.rules import p_of_faults
from halfsplit.job.weighed import Weighed, by_p
from halfsplit.model.book import Book
from halfsplit.model.faults import Fault
from halfsplit.model.job import Entry, Inspect, Job, Remark, RepairDone, Run
from halfsplit.store.states import COLLECTED
from halfsplit.web.job_page import machine_words, state_in_words
from halfsplit.web.log_rows import LogRow, entry_in_words, log_rows
from halfsplit.web.lookback import LookBack, look_back
from halfsplit.web.screen import show
from halfsplit.web.texts import say
from halfsplit.web.visit import Visit

LIKELY = 0.5
"""A fault that is still suspected so far is told to the owner as likely left in."""


@dataclass(frozen=True)
class CollectionPage:
    """What goes home with the machine.

    Args:
        number: of the job.
        shop: what the bench is called, or "".
        name: what the job is called.
        brought: what it was brought in with.
        found: the sentences for the owner, of the faults that the repairs were for.
        done: the repairs, in order.
        proved: what was run after the last repair, and held.
        left: faults that may still be there, for the owner to sign for.
        cautions: what to mind at home.
        is_weighed: whether what may still be there is known.
        is_collected: whether it has gone home.
        opened_at: when it came.
        agreed: what was agreed on, in a few words each.
    """

    number: int
    shop: str
    name: str
    brought: str
    found: tuple[str, ...]
    done: tuple[str, ...]
    proved: tuple[str, ...]
    left: tuple[str, ...]
    cautions: tuple[str, ...]
    is_weighed: bool
    is_collected: bool
    opened_at: str
    agreed: tuple[str, ...]


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
    weighed = visit.desk.weigher.standing(view.on_file).weighed
    settings = visit.desk.settings()
    return show(visit, "collection", collection_page(view, weighed, settings.shop, settings.currency))


def collection_page(view: JobView, weighed: Weighed | None, shop: str, currency: str) -> CollectionPage:
    """Return what goes home with a machine.

    Args:
        view: its job.
        weighed: how far each fault is to be suspected now, or None as long as that is not worked out.
        shop: what the bench is called, or "".
        currency: of every sum.
    """
    book, row = view.on_file.book, view.row
    log = apply_corrections(view.job or Job(), [])[1]
    left = [fault.title for fault in by_p(weighed.faults) if fault.p >= LIKELY] if weighed is not None else []
    return CollectionPage(
        row.number,
        shop,
        row.name,
        book.complaints[row.complaint].title if row.complaint in book.complaints else "",
        tuple(dict.fromkeys(_found(view, log, book))),
        tuple(dict.fromkeys(entry_in_words(entry, book) for entry in log if isinstance(entry, RepairDone))),
        tuple(_proved(log, book)),
        tuple(left),
        tuple(_cautions(log, book)),
        weighed is not None,
        row.state == COLLECTED,
        row.opened_at,
        tuple(
            entry_in_words(entry, book, currency)
            for entry in log
            if isinstance(entry, Remark) and entry.kind == "agree"
        ),
    )


def show_copy(visit: Visit) -> Response:
    """Answer with the bench's own copy."""
    view = actions.job_view(visit.desk.bench, visit.number)
    book, row = view.on_file.book, view.row
    page = CopyPage(
        row.number,
        row.name,
        tuple(machine_words(view.job or Job(), book)),
        state_in_words(row.state, row.waiting_for),
        tuple((state_in_words(each.state, each.waiting_for), each.initials, each.at) for each in view.states),
        log_rows(view, book, visit.desk.settings().currency)[::-1],
        tuple((photo.hash, photo.title) for photo in view.photos if not photo.is_private),
        look_back(view, book, visit.now),
    )
    return show(visit, "copy", page)


def _found(view: JobView, log: Sequence[Entry], book: Book) -> Iterable[str]:
    """Yield the owner's sentence for each fault that a repair was done for, once.

    A repair after which the first run still failed has not found anything.  Of the faults that a repair cures the one
    is meant that most of the looks before it had shown, of several the commonest.  Where no look had shown any it is
    the only one there is, or the one that was suspected most just before, and told as likely only.
    """
    looks: set[tuple[str, str]] = set()
    for place, entry in enumerate(log):
        if isinstance(entry, Inspect):
            looks.add((entry.what.partition(".")[0], entry.seen))
        if isinstance(entry, RepairDone) and not _failed_after(log[place + 1 :]):
            cured = [
                fault
                for fault in book.faults.values()
                if fault.owner_says and any(cure.repair == entry.do for cure in fault.cures)
            ]
            best = max(cured, key=lambda fault: (len(_shows(fault) & looks), fault.base.p, fault.id), default=None)
            if best is not None and (_shows(best) & looks or len(cured) == 1):
                yield best.owner_says
            elif best is not None:
                p = _suspected_before(view, entry.id, book)
                best = max(cured, key=lambda fault: (p.get(fault.id, 0.0), fault.base.p, fault.id))
                yield say("collection.likely", sentence=best.owner_says)


def _suspected_before(view: JobView, repair: str, book: Book) -> Mapping[str, float]:
    """Return fault -> how far it was suspected just before a repair; nothing where that cannot be worked out."""
    job = view.job or Job()
    place = next(number for number, entry in enumerate(job.log) if entry.id == repair)
    before = replace(job, log=job.log[:place])

    def work_out() -> Mapping[str, float]:
        try:
            return p_of_faults(*fold_and_weigh(before, book))
        except InputError:
            return {}

    on_file = view.on_file
    return on_file.bench.memory.get(("suspected before", *on_file.key, repair), work_out)


def _failed_after(later: Iterable[Entry]) -> bool:
    """Return whether the first run after a repair, and before the next one, still failed."""
    first = next((entry for entry in later if isinstance(entry, Run | RepairDone)), None)
    return isinstance(first, Run) and first.failed > 0 and (first.seen.not_reached != "" or first.seen.stop is not None)


def _shows(fault: Fault) -> set[tuple[str, str]]:
    return {(look.inspection, look.word) for pattern in fault.patterns for look in pattern.looks}


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
        yield say("proof.once", title=title) if many == 1 else say("proof.times", title=title, many=str(many))


def _cautions(log: Iterable[Entry], book: Book) -> Iterable[str]:
    done = [book.repairs[entry.do] for entry in log if isinstance(entry, RepairDone)]
    yield say("collection.mains")
    if any(repair.at in ("settings", "cell", "firmware", "board") for repair in done):
        yield say("collection.settings")
    if any(isinstance(entry, Run) and entry.output for entry in log):
        yield say("collection.output")
