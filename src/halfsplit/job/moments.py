"""The log walked once, without a probability: what was together at each entry, and what was changed before it.

Parts put in for one run (``with:``) stay where they are until an entry needs them elsewhere; at the end of the
log they are put back.
"""

from collections.abc import Hashable, Iterable, Sequence
from copy import copy

from halfsplit.errors import Mistake
from halfsplit.job.changes import Change, Course, LeadOut, Mated, Moment, Opened, Powered, Repaired
from halfsplit.job.machine import facts_of
from halfsplit.job.openings import BOARD_OUT, OpeningsOf
from halfsplit.job.setups import RIDES_ON, SetupChanger, Setups, intake_setups
from halfsplit.job.units import OWNER, Foothold, Gatherer, Pair, Together, kind_of, number_of
from halfsplit.model.bench import LEAVES_OFF, REPLACES, Repair
from halfsplit.model.book import Book
from halfsplit.model.job import ChangeSetup, Entry, Inspect, Job, Measure, RepairDone, Run
from halfsplit.model.machine import Setup

MAINS_PATH = ("mains_lead", "outlet")
"""Outside parts that cannot be changed without taking the power away."""


def walk_log(job: Job, log: Sequence[Entry], book: Book, gatherer: Gatherer, mistakes: list[Mistake]) -> Course:
    """Walk the corrected log of a job.

    Args:
        job: the job, for its parts.
        log: its entries, corrected.
        book: the fault book.
        gatherer: says what is together.
        mistakes: HS203 to HS205 and HS208 go here.
    """
    walker = Walker(job, book, gatherer, mistakes)
    moments = [walker.step(2 * number, entry) for number, entry in enumerate(log, 1)]
    moments.append(walker.put_back(2 * len(log) + 2))
    return Course(walker.intake, tuple(moments), walker.standing)


class Walker:
    """The state of the bench between two entries.

    Attributes:
        standing: the setups as they were left; lent parts are back.
        open: the openings that were made since the last power-up.
        made: the openings that were made since the intake.
    """

    def __init__(self, job: Job, book: Book, gatherer: Gatherer, mistakes: list[Mistake]) -> None:
        self.book = book
        self.gatherer = gatherer
        self.mistakes = mistakes
        self.intake = self.standing = self.physical = intake_setups(job, book)
        self.changer = SetupChanger(book, self.intake, mistakes)
        self.openings = OpeningsOf(book, facts_of(job, book, []))
        self.mated: set[Pair] = set()
        self.last_at: dict[str, Pair] = {}
        for setup in self.intake.values():
            self._note_mated(gatherer.together(setup).pairs)
        self.open: set[str] = set()
        self.made: set[str] = set()
        self.first_after: set[str] = set()
        self.lead_is_out: set[str] = set()
        self.worked: dict[str, int] = {}
        self.changes: list[Change] = []

    def aside(self) -> "Walker":
        """Return the same state of the bench, to try something in; its mistakes are its own."""
        other = copy(self)
        other.mistakes = []
        other.changer = self.changer.aside(other.mistakes)
        other.mated, other.last_at = set(self.mated), dict(self.last_at)
        other.open, other.made, other.first_after = set(self.open), set(self.made), set(self.first_after)
        other.lead_is_out, other.worked = set(self.lead_is_out), dict(self.worked)
        return other

    def state(self) -> Hashable:
        """Return what decides what any further entry does, but for the facts of the machine; equal for equal states."""
        setups = (self.intake, self.standing, self.physical)
        return (
            tuple(id(self.gatherer.together(setup)) for each in setups for setup in each.values()),
            frozenset(self.mated),
            frozenset(self.last_at.items()),
            frozenset(self.open),
            frozenset(self.first_after),
            frozenset(self.lead_is_out),
            frozenset(self.worked.items()),
            self.changer.unpacked,
        )

    def step(self, time: int, entry: Entry) -> Moment:
        """Apply one entry."""
        self.changes = []
        place = entry.place or entry.id
        match entry:
            case Run():
                return self._run(time, entry, place)
            case ChangeSetup():
                self._set_output(entry.on, entry.output)
                self.standing = self.changer.change(
                    self.standing, entry.on, entry.swaps, output=entry.output, case=entry.case, place=place
                )
                self._go_to(self.standing)
            case RepairDone():
                self._repair(entry, place)
            case Inspect():
                return self._look(time, entry, self.book.inspections[entry.what.partition(".")[0]].at, place)
            case Measure():
                return self._look(time, entry, self.book.measurements[entry.what.partition(".")[0]].at, place)
            case _:
                pass
        return Moment(time, entry, self._now(OWNER), tuple(self.changes))

    def put_back(self, time: int) -> Moment:
        """Put back what was lent for the last run only."""
        self.changes = []
        self._go_to(self.standing)
        return Moment(time, None, self._now(OWNER), tuple(self.changes))

    def _now(self, host: str, outputs: tuple[str, ...] = ()) -> Together:
        return self.gatherer.together(self.physical[host], outputs)

    def _run(self, time: int, run: Run, place: str) -> Moment:
        self._set_output(run.on, run.output)
        self.standing = self.changer.change(self.standing, run.on, {}, output=run.output, case=run.case, place=place)
        self._go_to(self.changer.change(self.standing, run.on, run.swaps, place=place) if run.swaps else self.standing)
        if run.conditions.lead_out_minutes:
            self._take_lead_out(run.on)
        asked = tuple(output for output in run.seen.picture if output in self.book.outputs)
        together = self._now(run.on, tuple(dict.fromkeys((*asked, *([run.output] if run.output else [])))))
        self._check_host(run, together, place)
        self.changes.append(Powered(together, run.of))
        moment = Moment(
            time,
            run,
            together,
            tuple(self.changes),
            run.on in self.lead_is_out,
            frozenset(self.first_after) if run.on == OWNER and run.of == 1 else frozenset(),
        )
        self.open.clear()
        self.lead_is_out.discard(run.on)
        if run.on == OWNER:
            self.first_after.clear()
        return moment

    def _look(self, time: int, entry: Inspect | Measure, at: str, place: str) -> Moment:
        self._go_to(self.standing)
        names = self.book.inspections if isinstance(entry, Inspect) else self.book.measurements
        what, number = entry.what.partition(".")[0], number_of(entry.what)
        if entry.on == OWNER:
            self._open(self.openings.chain(names[what].opening), self._now(OWNER).footholds, at, number)
        together = self._now(entry.on)
        looked_at = self._looked_at(at, number, together)
        if not looked_at:
            so = f"this is at '{at}{number}', but the machine has none"
            do = "Tell under 'machine' that it is there, or correct the place"
            self.mistakes.append(Mistake(place, "HS205", so, "a look or a number is of something that is there", do))
        stretch = self.worked.get(at + number, 0) + (self.worked.get(at, 0) if number else 0)
        return Moment(time, entry, together, tuple(self.changes), stretch=stretch, looked_at=looked_at)

    def _looked_at(self, at: str, number: str, together: Together) -> frozenset[str | Pair]:
        """Return the units or pairs at a place; what was taken out is looked at where it lies."""
        if at in self.book.joints:
            found = {pair for pair in together.pairs if pair.joint == at and number in ("", pair.number)}
            last = {pair for name, pair in self.last_at.items() if name == at + number or pair.joint == at}
            return frozenset(found or {pair for pair in last if number in ("", pair.number)} or self._unjoined(at))
        sitting = {slot: unit for slot, unit in together.setup.slots.items() if _is_at(slot, at, number)}
        intake = {slot: unit for slot, unit in self.intake[OWNER].slots.items() if _is_at(slot, at, number)}
        return frozenset((sitting or intake).values())

    def _unjoined(self, at: str) -> set[str]:
        """Return the units that would meet at a joint which no fault of the book is at."""
        kinds = self.book.joints[at].between
        slots = self.standing[OWNER].slots
        units = {unit for slot, unit in slots.items() if kind_of(slot) in kinds}
        return units if all(any(kind_of(slot) == kind for slot in slots) for kind in kinds) else set()

    def _repair(self, done: RepairDone, place: str) -> None:
        self._go_to(self.standing)
        repair, number = self.book.repairs[done.do], number_of(done.to)
        before = self._now(OWNER)
        self._open(self.openings.chain(repair.opening), before.footholds, repair.at, number)
        if repair.opening:
            self._take_lead_out(OWNER)
        taken_out = self._swap_out(done, repair, number, place)
        self.changes.append(Repaired(done.id, repair, number, before, taken_out))
        self.first_after.add(repair.id)
        self._count_work(repair.at + number)
        self._go_to(self.standing, repair=repair.id)

    def _swap_out(self, done: RepairDone, repair: Repair, number: str, place: str) -> frozenset[str]:
        """Take out what a repair replaces or leaves off, and return it."""
        if repair.at not in self.book.kinds or repair.does not in (REPLACES, LEAVES_OFF):
            return frozenset()
        sitting = {name: unit for name, unit in self.standing[OWNER].slots.items() if _is_at(name, repair.at, number)}
        if len(sitting) > 1:
            so = f"'{repair.id}' is done to '{repair.at}', but there are {len(sitting)} of them"
            do = f"Write which one, as in at: {next(iter(sitting))}"
            self.mistakes.append(Mistake(place, "HS208", so, "one part is taken out at a time", do))
        slot = next(iter(sitting), repair.at + (number or (".1" if self.book.kinds[repair.at].many else "")))
        if repair.does == REPLACES:
            self.standing = self.changer.fit(self.standing, slot, done.fitted, place)
        else:
            self.standing = self.changer.change(self.standing, OWNER, {slot: "out"}, place=place)
        return frozenset(list(sitting.values())[:1])

    def _check_host(self, run: Run, together: Together, place: str) -> None:
        own = self.book.hosts[run.on].own
        lent = any(not unit.startswith(f"{run.on}.") for unit in together.setup.slots.values())
        whole = all(kind.outside or not kind.default or kind.id in own for kind in self.book.kinds.values())
        if run.on != OWNER and not lent and not whole:
            so = f"a run is on '{run.on}', but nothing was put there"
            do = f"Write what was on it, as in with: {{{_missing(own, self.book)}: owner}}"
            self.mistakes.append(Mistake(place, "HS204", so, "what is tried on a host is put there", do))

    def _set_output(self, host: str, output: str) -> None:
        """Note that the monitor was put on an output where nobody had said so before: the cable was plugged anew."""
        if output and host == OWNER and not self.standing[host].output:
            together = self._now(host)
            if together.used == (output,):
                sockets = [pair for pair in together.pairs if self.gatherer.is_socket(pair.joint)]
                self.changes += [Mated(pair, again=True) for pair in sorted(sockets, key=str)]

    def _go_to(self, wanted: Setups, *, repair: str = "") -> None:
        """Change the setups that there are into the wanted ones, and note what that does."""
        if wanted is self.physical or wanted == self.physical:
            return
        fresh: list[Pair] = []
        changed: dict[str, set[str]] = {}
        for host, setup in wanted.items():
            was = self.physical[host]
            if setup != was:
                changed[host] = _changed_kinds(was, setup)
                if any(not self.book.kinds[kind].outside or kind in MAINS_PATH for kind in changed[host]):
                    self._take_lead_out(host)
                new = self.gatherer.together(setup).pairs - self.gatherer.together(was).pairs
                fresh += sorted(new, key=str)
        kinds = sorted(changed.get(OWNER, ()))
        openings = tuple(dict.fromkeys(name for kind in kinds for name in self.openings.of_kind(kind)))
        before, after = self._now(OWNER).footholds, self.gatherer.together(wanted[OWNER]).footholds
        apart = {foothold for foothold in before ^ after if isinstance(foothold, Pair)}
        moved_case = BOARD_OUT if wanted[OWNER].in_case != self.physical[OWNER].in_case else ""
        self._open((*self.openings.chain(moved_case), *openings), (before | after) - apart)
        self.first_after |= {self.openings.replacing[kind] for kind in kinds if kind in self.openings.replacing}
        self.changes += [
            Mated(pair, pair in self.mated, openings, repair, self.gatherer.is_socket(pair.joint)) for pair in fresh
        ]
        self._note_mated(fresh)
        for pair in fresh:
            self._count_work(pair.name)
            for slot, _ in pair.ends:
                self._count_work(slot)
        self.physical = wanted

    def _open(self, openings: Sequence[str], reaches: frozenset[Foothold], at: str = "", number: str = "") -> None:
        new = tuple(dict.fromkeys(name for name in openings if name not in self.open))
        self.open |= set(new)
        self.made |= set(new)
        self.first_after |= set(new)
        if new:
            self.changes.append(Opened(new, reaches, at, number))

    def _take_lead_out(self, host: str) -> None:
        if host not in self.lead_is_out:
            self.lead_is_out.add(host)
            self.changes.append(LeadOut(self._now(host)))

    def _note_mated(self, pairs: Iterable[Pair]) -> None:
        for pair in pairs:
            self.mated.add(pair)
            if any(unit.startswith("owner.") for unit in pair.units):
                self.last_at[pair.name] = pair

    def _count_work(self, place: str) -> None:
        self.worked[place] = self.worked.get(place, 0) + 1
        if "." in place:
            self.worked[kind_of(place)] = self.worked.get(kind_of(place), 0) + 1


def _changed_kinds(was: Setup, now: Setup) -> set[str]:
    """Return the kinds of part that hands changed; what rides on another part goes by itself."""
    slots = was.slots.keys() | now.slots.keys()
    return {kind_of(slot) for slot in slots if was.slots.get(slot) != now.slots.get(slot)} - RIDES_ON.keys()


def _is_at(slot: str, kind: str, number: str) -> bool:
    return kind_of(slot) == kind and number in ("", number_of(slot))


def _missing(own: Sequence[str], book: Book) -> str:
    return next(kind.id for kind in book.kinds.values() if kind.id not in own and kind.default)
