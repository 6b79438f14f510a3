"""A bench with one drawn machine: what a policy may do, its log, and the bill."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from halfsplit.job.advised import PROVING
from halfsplit.job.asked import numbers_at, placed_entries
from halfsplit.job.done import is_failed
from halfsplit.job.findings import RunSeen
from halfsplit.job.kept import Kept
from halfsplit.job.machine import age_of, facts_of, is_offered, share_of
from halfsplit.job.openings import OpeningsOf
from halfsplit.job.outlook import ASKS, loss_of, price_of
from halfsplit.job.pictures import is_picture
from halfsplit.job.rules import POWER, Rules
from halfsplit.job.units import OWNER, kind_of
from halfsplit.model.bench import REPLACES, Check, Hazard, Minutes, Repair
from halfsplit.model.book import Book
from halfsplit.model.job import ChangeSetup, Correct, Entry, Inspect, Job, Measure, RepairDone, Run
from halfsplit.model.rates import Rates
from halfsplit.simulate.machines import Drawn
from halfsplit.simulate.numbers import number_shown
from halfsplit.simulate.worlds import Shown

PROVEN, HANDED_BACK, REPLACED = "proven", "handed back", "replaced"


@dataclass
class Bill:
    """What a job cost, in cents where nothing else is said.

    Args:
        time: hands-on minutes, place and days.
        hands: hands-on minutes.
        days: days waited.
        parts: parts bought.
        damage: what was harmed on the bench.
        end: what was left in the machine, or another in its place.
        replaced: parts bought, in number.
        needless: parts of these that replaced one with no fault.
    """

    time: float = 0.0
    hands: float = 0.0
    days: float = 0.0
    parts: float = 0.0
    damage: float = 0.0
    end: float = 0.0
    replaced: int = 0
    needless: int = 0

    @property
    def cents(self) -> float:
        """The whole."""
        return self.time + self.parts + self.damage + self.end


@dataclass(frozen=True)
class Found:
    """What a check came to.

    Args:
        check: the check.
        entries: what was entered, as it was entered.
        is_fine: whether nothing was seen of a fault that matters.
    """

    check: str
    entries: tuple[Entry, ...]
    is_fine: bool


@dataclass
class Bench:
    """A bench with one drawn machine.

    Args:
        drawn: the machine.
        rates: what time and mishaps cost.

    Attributes:
        job: the job as the bench has it.
        bill: what it cost so far.
        path: what was done, line by line.
        ended: how the job ended, or "".
        found: what each check came to, in order.
        kept: what advices worked out, for the next one.
        done: what a policy has done, for itself.
        waiting: what a policy has yet to do, for itself.
        pointed: repair with its place -> how many findings pointed at it, for a policy itself.
        withdrawn: how many entries were withdrawn.
    """

    drawn: Drawn
    rates: Rates = field(default_factory=Rates)
    bill: Bill = field(default_factory=Bill)
    path: list[str] = field(default_factory=list)
    ended: str = ""
    found: list[Found] = field(default_factory=list)
    done: set[str] = field(default_factory=set)
    waiting: list[str] = field(default_factory=list)
    pointed: dict[str, int] = field(default_factory=dict)
    withdrawn: int = 0

    def __post_init__(self) -> None:
        self.book: Book = self.drawn.book
        self.job: Job = self.drawn.job
        self.world = self.drawn.world()
        self._facts = facts_of(self.drawn.whole, self.book, [])
        self.kept = Kept(self.book)
        self._openings = OpeningsOf(self.book)
        self._open: set[str] = set()
        self._passed: set[str] = set()
        self._taps = np.random.default_rng([*self.drawn.seed, 1])
        self._number = 0
        self._age = age_of(facts_of(self.job, self.book, []))

    def entries(self, check: Check) -> tuple[Entry, ...]:
        """Return what a check would enter here; none where it cannot be done, or would show nothing new."""
        if check.kind == ASKS or not is_offered(check, self._facts, self.book):
            return ()
        placed = placed_entries(check, self.world.standing, self.book, self._facts)
        new = tuple(e for e in placed if not (isinstance(e, Inspect) and self.world.is_known(e)))
        return new if self.world.can_do(new) else ()

    def check(self, name: str, signs: Collection[str] = ()) -> Found | None:
        """Do a check; None where it cannot be done.

        The monitor goes back to where it was.  Of its run all that is unusual is entered, and of ``signs`` whether
        they were there.
        """
        check = self.book.checks[name]
        entries = self.entries(check)
        if not entries:
            return None
        self._pay(check.minutes, check.opening, powers=any(isinstance(e, Run | Measure) for e in entries))
        output = self.world.output
        found = [self._enter(check, entry, signs) for entry in entries]
        if any(isinstance(entry, Run) and is_failed(entry) for entry, _ in found):
            self._passed.discard(name)
        else:
            self._passed.add(name)
        if self.world.output != output:
            self._log(ChangeSetup(self._name(), output=output))
        self._pay_harm()
        is_fine = all(fine for _, fine in found)
        self.path.append(f"{name}: {'fine' if is_fine else 'not fine'}")
        self.found.append(Found(name, tuple(entry for entry, _ in found), is_fine))
        return self.found[-1]

    def places(self, repair: Repair) -> tuple[str, ...]:
        """Return the places at which a repair can be done on this machine as it stands."""
        if share_of(repair.only, self._facts, self.book) <= 0.0:
            return ()
        places = [repair.at + number for number in numbers_at(repair.at, self.world.standing, self.book)]
        return tuple(at for at in places if self.world.can_do([RepairDone("try", do=repair.id, to=at)]))

    def repair(self, name: str, at: str) -> Found | None:
        """Do a repair and its re-check, and return what that showed; None where there is no re-check to do."""
        repair = self.book.repairs[name]
        out = self._taken_out(repair, at)
        self._passed.clear()
        self._pay(repair.minutes, repair.opening, powers=False)
        self.bill.parts += price_of(repair, self.book) + loss_of(repair, self.book)
        if repair.does == REPLACES and repair.at in self.book.kinds:
            self.bill.replaced += 1
            self.bill.needless += not any(self.world.is_bad(unit) for unit in out)
        self._log(RepairDone(self._name(), do=name, to=at))
        self._pay_harm()
        self.path.append(f"{name} at {at}")
        return self.check(repair.recheck) if repair.recheck in self.book.checks else None

    def prove(self) -> bool:
        """Prove the machine as it is now; return whether it held, which ends the job.

        Runs that it passed since the last work on it are not done again.
        """
        for name in [name for name in PROVING if name not in self._passed]:
            found = self.check(name)
            if found is not None and not found.is_fine:
                return False
        self._end(PROVEN, self.rates.comeback if self.world.left() else 0.0)
        return True

    def hand_back(self) -> None:
        """End the job with the machine as it is."""
        cents = 0.0
        if self.world.left():
            shows = False
            for check in (self.book.checks[name] for name in PROVING):
                for entry in self.entries(check):
                    if isinstance(entry, Run):
                        shown = self.world.run(entry, check.asks)
                        shows = shows or shown.seen != shown.sound
            cents = self.rates.broken(self._age) if shows else self.rates.comeback
        self._end(HANDED_BACK, cents)

    def replace_machine(self) -> None:
        """End the job with another machine in its place."""
        self._end(REPLACED, self.rates.replacing(self._age))

    def cost(self, name: str) -> float:
        """Return what a repair costs now, in cents: time, with the openings that are not made, and parts."""
        repair = self.book.repairs[name]
        there = [self.book.openings[opening] for opening in self.chain(repair.opening)]
        hands = sum(each.minutes_open + each.minutes_close for each in there)
        own = repair.minutes
        minutes = Minutes(own.hands_on + hands, own.place + hands, own.days)
        return price_of(repair, self.book) + loss_of(repair, self.book) + self.rates.of(minutes)

    def chain(self, opening: str) -> tuple[str, ...]:
        """Return what must be opened for something and is not open, the outermost first."""
        return tuple(name for name in self._openings.chain(opening) if name not in self._open)

    @property
    def replacing(self) -> Mapping[str, str]:
        """Kind of part -> the repair that replaces it."""
        return self._openings.replacing

    def clear_power(self) -> None:
        """Do what clears the rules that keep a machine from being powered up after what its owner told."""
        for rule in self.book.hazards.values():
            if rule.bars != POWER:
                continue
            for look in (*rule.cleared.seen, *rule.cleared.all_seen):
                check = self._check_at(look) if self._is_raised(rule) else ""
                if check:
                    self.check(check)
            for name in (*self._mending(rule), *rule.cleared.repairs):
                places = self.places(self.book.repairs[name]) if self._is_raised(rule) else ()
                if places:
                    self.repair(name, places[0])

    def _mending(self, rule: Hazard) -> Iterable[str]:
        """Yield the repairs of what was seen that raises a rule."""
        for what in dict.fromkeys(kind_of(entry.what) for entry in self.job.log if isinstance(entry, Inspect)):
            yield from rule.mended.get(what, ())

    def _check_at(self, look: str) -> str:
        """Return the first check that makes a look without a power-up, "" where there is none."""
        for check in self.book.checks.values():
            entries = self.entries(check) if look in check.asks else ()
            looks = [entry.what.partition(".")[0] for entry in entries if isinstance(entry, Inspect)]
            if look in looks and not any(isinstance(entry, Run | Measure) for entry in entries):
                return check.id
        return ""

    def _is_raised(self, rule: Hazard) -> bool:
        stops = Rules(self.job, self.book, self._facts, {}).whatever_comes()
        return rule.id in [stop.id for stop in stops]

    def withdraw(self, names: Iterable[str]) -> None:
        """Withdraw entries that were laid aside, as nothing shows them with the rest."""
        for name in names:
            self.job = replace(self.job, log=(*self.job.log, Correct(self._name(), entry=name)))
            self.path.append(f"withdrawn: {name}")
            self.withdrawn += 1

    def _enter(self, check: Check, asked: Entry, signs: Collection[str]) -> tuple[Entry, bool]:
        """Do one entry of a check, and enter what it showed; return that with whether it was fine."""
        entry = replace(asked, id=self._name())
        slips = bool(self._taps.random() < self.drawn.taps)
        is_fine = True
        match entry:
            case Run():
                shown = self.world.run(entry, check.asks)
                seen, sound = (_reported(each, shown, signs) for each in (shown.seen, shown.sound))
                seen = self._slipped(seen) if slips else seen
                is_fine = seen == sound
                entry = replace(entry, seen=seen.as_seen(shown.used))
            case Inspect():
                words = self.book.inspections[entry.what.partition(".")[0]].seen
                word = self.world.look(entry)
                others = [each for each in words if each != word]
                word = str(self._taps.choice(others)) if slips else word
                is_fine = word == words[-1]
                entry = replace(entry, seen=word)
            case Measure():
                point = self.book.measurements[entry.what.partition(".")[0]]
                value, is_fine = number_shown(point, self.world.number(entry), slips=slips, rng=self._taps)
                entry = replace(entry, value=value)
            case _:
                self._log(entry)
                return entry, True
        self.job = replace(self.job, log=(*self.job.log, entry))
        return entry, is_fine

    def _log(self, entry: Entry) -> None:
        """Do what shows nothing, and enter it."""
        self.world.do(entry)
        self.job = replace(self.job, log=(*self.job.log, entry))

    def _slipped(self, seen: RunSeen) -> RunSeen:
        """Return what was seen with one sign tapped wrongly; without any sign the run is entered right."""
        if not seen.signs:
            return seen
        place = int(self._taps.integers(len(seen.signs)))
        signs = tuple((name, was != (n == place)) for n, (name, was) in enumerate(seen.signs))
        return replace(seen, signs=signs)

    def _pay(self, minutes: Minutes, opening: str, *, powers: bool) -> None:
        """Pay for time, with that of the openings not yet made; a power-up closes those that may not stay open."""
        new = [self.book.openings[name] for name in self.chain(opening)]
        there = sum(each.minutes_open + each.minutes_close for each in new)
        hands, place = minutes.hands_on + there, max(minutes.place, minutes.hands_on) + there
        self.bill.time += self.rates.of(Minutes(hands, place, minutes.days))
        self.bill.time += self.rates.paste * sum("paste" in each.uses for each in new)
        self.bill.hands += hands
        self.bill.days += minutes.days
        self._open |= {each.id for each in new}
        if powers:
            self._open = {name for name in self._open if self.book.openings[name].stays}

    def _pay_harm(self) -> None:
        for unit in self.world.harmed:
            whose, _, what = unit.partition(".")
            kind = self.book.kinds.get(self.book.shelf[what].kind if what in self.book.shelf else kind_of(what))
            if kind is not None:
                self.bill.damage += kind.worth_cents if whose == OWNER else kind.price_cents
                self.path.append(f"harmed: {unit}")
        self.world.harmed.clear()

    def _taken_out(self, repair: Repair, at: str) -> Iterable[str]:
        slots = self.world.standing.slots
        return [unit for slot, unit in slots.items() if slot == at or kind_of(slot) == at]

    def _end(self, how: str, cents: float) -> None:
        self.ended = how
        self.bill.end += cents
        self.path.append(how)

    def _name(self) -> str:
        self._number += 1
        return f"e{self._number}"


def _reported(seen: RunSeen, shown: Shown, signs: Collection[str]) -> RunSeen:
    """Return what is entered of a run: its pictures, the signs asked for, and those that no sound machine has so."""
    usual = dict(shown.sound.signs)
    odd = {name for name, was in shown.seen.signs if was != usual[name]}
    return replace(seen, signs=tuple(each for each in seen.signs if each[0] in odd or _is_asked(each[0], signs)))


def _is_asked(name: str, signs: Collection[str]) -> bool:
    return name in signs or is_picture(name)
