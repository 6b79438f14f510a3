"""Hard rules: what no price overrides.  What the log raised and did not clear bars acts, or asks before them."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from halfsplit.job.advised import StopPoint
from halfsplit.job.amounts import amount
from halfsplit.job.corrections import apply_corrections
from halfsplit.job.numbers import side_of
from halfsplit.job.units import OWNER, kind_of, number_of
from halfsplit.model.bench import NEVER, REPLACES, Check, Hazard, Repair, Trigger
from halfsplit.model.book import Book
from halfsplit.model.job import YES, ChangeSetup, Entry, Inspect, Job, Measure, RepairDone, Run, Told

POWER, OWNERS_DRIVE, SUPPLY, NAMED = "power", "owners_drive", "supply", "named"
"""What a rule bars while it is raised."""

DRIVE = "drive"
IN, OUT = "in", "out"

OHMS = "ohms"
INSPECT = "inspect"
STOP = "stop"


@dataclass(frozen=True)
class _Raised:
    """A rule that is raised, and why; one that bars a supply with which: "owner", "shelf.supply_a".

    Args:
        looks: what looks have shown since: inspection -> the word.
        is_of_a_thing: whether a thing was seen to be bad that has to be mended.
    """

    rule: Hazard
    why: str
    supply: str
    looks: Mapping[str, str]
    is_of_a_thing: bool

    def stop(self) -> StopPoint:
        line = f"{self.rule.title}: {self.why}" if self.why else self.rule.title
        return StopPoint(self.rule.id, line, self.rule.caution, bars=self.rule.bars != NAMED)


class Rules:
    """The rules that are raised in a job.

    Args:
        job: the job.
        book: the fault book.
        facts: what is known of the machine.
        p_of_faults: fault -> how far it is suspected; empty before anything is weighed: what the log alone raises
            is then raised all the same.
    """

    def __init__(self, job: Job, book: Book, facts: Mapping[str, object], p_of_faults: Mapping[str, float]) -> None:
        self._book = book
        self._facts = facts
        told, log = apply_corrections(job, [])
        self._entries: tuple[Entry, ...] = (*told, *(entry for entry in log if not isinstance(entry, Told)))
        self._supplies = tuple(self._all_supplies())
        self._p = p_of_faults
        self._raised = tuple(self._all_raised())

    def whatever_comes(self) -> tuple[StopPoint, ...]:
        """Return the rules that hold whatever is done next."""
        held = {POWER: True, OWNERS_DRIVE: True, NAMED: False}
        return tuple(each.stop() for each in self._raised if held.get(each.rule.bars, each.supply == self._supply_now))

    def before_check(self, check: Check, entries: Sequence[Entry]) -> tuple[StopPoint, ...]:
        """Return what to stop at before a check; ``entries`` are what it would add to the log."""
        live = [entry for entry in entries if isinstance(entry, Run | Measure) and self._is_live(entry)]
        runs = _is_look_at_running(check)
        powers = runs or any(entry.on == OWNER or _lends(entry) for entry in live)
        starts = any(isinstance(entry, Run) and not _is_drive_out(entry) for entry in entries)
        feeds = {self._feeding(entry) for entry in live} | ({self._supply_now} if runs else set())
        bars = {POWER: powers, OWNERS_DRIVE: starts, NAMED: False}
        return self._stops(check.rules, bars, feeds)

    def before_repair(self, repair: Repair) -> tuple[StopPoint, ...]:
        """Return what to stop at before a repair."""
        return self._stops(repair.rules, {}, set())

    def to_be_seen(self, stops: Collection[StopPoint]) -> Mapping[str, tuple[str, ...]] | None:
        """Return the looks that together clear what bars something: inspection -> the words of which one is seen there.

        Args:
            stops: what it is barred by.

        Returns:
            The looks that are still missing; None where looks alone do not clear all of it.
        """
        found: dict[str, tuple[str, ...]] = {}
        barring = {stop.id for stop in stops if stop.bars}
        for each in self._raised:
            if each.rule.id in barring:
                wanted = each.rule.cleared.all_seen.items()
                if not wanted or each.is_of_a_thing:
                    return None
                found |= {what: words for what, words in wanted if each.looks.get(what) not in words}
        return found

    def _stops(self, named: Iterable[str], bars: Mapping[str, bool], feeds: Collection[str]) -> tuple[StopPoint, ...]:
        names = set(named)
        return tuple(
            each.stop()
            for each in self._raised
            if bars.get(each.rule.bars, False)
            or (each.rule.bars == NAMED and each.rule.id in names)
            or (each.rule.bars == SUPPLY and each.supply in feeds)
        )

    def _is_live(self, entry: Run | Measure) -> bool:
        """Return whether there is power while it is done: ohms are measured with the lead out."""
        return isinstance(entry, Run) or self._book.measurements[entry.what.partition(".")[0]].unit != OHMS

    def _feeding(self, entry: Run | Measure) -> str:
        """Return the supply that feeds a machine in a run or while a number is taken; "" where none of ours is fed.

        A supply that lies alone on the bench feeds nothing that could be harmed.
        """
        swaps = entry.swaps if isinstance(entry, Run) else {}
        if entry.on == OWNER:
            return _held(swaps.get(SUPPLY, self._supply_now))
        put = swaps.get(SUPPLY, IN) if SUPPLY in self._book.hosts[entry.on].own else IN
        return _held(put) if put != IN else ""

    @property
    def _supply_now(self) -> str:
        return self._supplies[-1] if self._supplies else OWNER

    def _all_supplies(self) -> Iterable[str]:
        """Yield what is left in the slot of the owner's supply after each entry."""
        supply = OWNER
        for entry in self._entries:
            match entry:
                case ChangeSetup() if entry.on == OWNER and SUPPLY in entry.swaps:
                    supply = _held(entry.swaps[SUPPLY])
                case RepairDone() if (repair := self._book.repairs[entry.do]).at == SUPPLY and repair.does == REPLACES:
                    supply = _held(entry.fitted)
                case _:
                    pass
            yield supply

    def _all_raised(self) -> Iterable[_Raised]:
        for rule in self._book.hazards.values():
            if not rule.bars or self._is_fact(rule.cleared):
                continue
            found, looks = self._raised_by_log(rule)
            suspected = self._suspected(rule, looks) if not found else None
            if suspected is not None:
                found = {(OWNER, ""): suspected}
            for supply in dict.fromkeys(supply for supply, _ in found):
                of = {thing: why for (held, thing), why in found.items() if held == supply}
                yield _Raised(rule, next(iter(of.values())), supply, looks, any(of))

    def _raised_by_log(self, rule: Hazard) -> tuple[Mapping[tuple[str, str], str], Mapping[str, str]]:
        """Return why a rule is raised, and what looks have shown since.

        It is raised for each supply that it is about, and by each thing that was seen to be bad and has to be mended;
        "" stands for no such thing.  Of a rule that is about no supply the owner's stands for all.
        """
        found = {} if rule.raised != NEVER else {(OWNER, ""): ""}
        looks: dict[str, str] = {}
        for entry, held in zip(self._entries, self._supplies, strict=True):
            supply = held if rule.bars == SUPPLY and getattr(entry, "on", OWNER) == OWNER else OWNER
            raising = self._why(rule.raised, entry)
            if isinstance(entry, Inspect) and entry.on == OWNER:
                looks[kind_of(entry.what)] = entry.seen
            if raising:
                thing = entry.what if isinstance(entry, Inspect) and kind_of(entry.what) in rule.mended else ""
                found[supply, thing] = raising
                looks.clear()
                continue
            if self._why(rule.cleared, entry) or _are_all_seen(rule.cleared, looks):
                found.pop((supply, ""), None)
            for each in [each for each in found if each[1] and self._is_mended(rule, each[1], entry)]:
                del found[each]
        return found, looks

    def _is_mended(self, rule: Hazard, thing: str, entry: Entry) -> bool:
        """Return whether an entry that does not raise a rule clears what a look raised: by its place, "card.1"."""
        look = self._book.inspections[kind_of(thing)]
        if isinstance(entry, Inspect):
            return entry.what == thing and entry.on == OWNER and entry.seen in look.seen
        if not isinstance(entry, RepairDone) or entry.do not in rule.mended[look.id]:
            return False
        numbers = {number_of(thing), number_of(entry.to)} - {""}
        return len(numbers) < 2 or self._book.repairs[entry.do].at != look.at

    def _suspected(self, rule: Hazard, looks: Mapping[str, str]) -> str | None:
        """Return the fault whose suspicion alone raises a rule, or None; what was done or seen may have cleared it."""
        if _are_all_seen(rule.cleared, looks) or any(self._why(rule.cleared, entry) for entry in self._entries):
            return None
        for fault, least in rule.raised.faults.items():
            if self._p.get(fault, 0.0) >= least:
                return self._book.faults[fault].title
        return None

    def _is_fact(self, trigger: Trigger) -> bool:
        return any(self._facts.get(fact) in values for fact, values in trigger.facts.items())

    def _why(self, trigger: Trigger, entry: Entry) -> str:
        """Return what of an entry sets off a trigger, in words; "" if nothing does."""
        book, found = self._book, ""
        match entry:
            case Told() if entry.event in trigger.told and entry.is_true:
                found = book.events[entry.event].title
            case Told() if entry.seen is not None:
                found = self._shown(trigger, entry.seen.signs)
            case Run():
                found = self._shown(trigger, entry.seen.signs)
            case Inspect():
                what = entry.what.partition(".")[0]
                if entry.seen in trigger.seen.get(what, ()):
                    found = f"{book.inspections[what].title}: {entry.seen.replace('_', ' ')}"
            case Measure():
                what = entry.what.partition(".")[0]
                point = book.measurements[what]
                side = side_of(entry.value, point)
                if side in trigger.measured.get(what, ()):
                    found = f"{point.title}: {amount(entry.value, point.unit)}"
            case RepairDone():
                found = book.repairs[entry.do].title if entry.do in trigger.repairs else ""
            case _:
                pass
        return found

    def _shown(self, trigger: Trigger, signs: Mapping[str, str]) -> str:
        return next((self._book.signs[name].title for name in trigger.shows if signs.get(name) == YES), "")


def _held(value: str) -> str:
    """Return what is in the slot of the owner's supply, by one name: "owner", "out", "new", "shelf.supply_a"."""
    return OWNER if value.partition(".")[0] in (IN, OWNER) else value


def _are_all_seen(trigger: Trigger, looks: Mapping[str, str]) -> bool:
    wanted = trigger.all_seen.items()
    return bool(wanted) and all(looks.get(what) in words for what, words in wanted)


def _is_look_at_running(check: Check) -> bool:
    """Return whether a check looks at the owner's machine while that has power.

    The book says so by the rung that it must get to, by conditions or a setup of a run, or by asking where it stops.
    """
    runs = check.needs or check.conditions or check.setup or STOP in check.asks
    return check.kind == INSPECT and check.host == OWNER and bool(runs)


def _lends(entry: Run | Measure) -> bool:
    """Return whether a part of the owner's gets power on another host; a drive does so only to be read."""
    swaps = entry.swaps if isinstance(entry, Run) else {}
    return any(kind_of(slot) != DRIVE and held.partition(".")[0] == OWNER for slot, held in swaps.items())


def _is_drive_out(run: Run) -> bool:
    return any(kind_of(slot) == DRIVE and held == OUT for slot, held in run.swaps.items()) or run.on not in (OWNER,)
