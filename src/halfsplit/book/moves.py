"""Whether every check, sign, inspection, measurement and event can move a suspicion at all."""

from halfsplit.book.desk import Desk
from halfsplit.model.bench import Check
from halfsplit.model.book import Book
from halfsplit.model.faults import Act, Ending, Fault, When

OWNER = "owner"
IDLE = "idle"


def check_moves(desk: Desk, book: Book) -> None:
    """Note checks that move nothing (HS329), and what is seen or told but tells nothing (HS330).

    A book without faults, or with faults that could not be read in full, is left alone.
    """
    if not book.faults or any(section == "faults" for section, _ in desk.marred):
        return
    told = _Told(book)
    for check in book.checks.values():
        if ("checks", check.id) not in desk.marred and not told.is_moved_by(check):
            say_moves_nothing(desk, check)
    for section, ids, moving in (
        ("signs", book.signs, told.signs),
        ("inspections", book.inspections, told.inspections),
        ("measurements", book.measurements, told.measurements),
        ("events", book.events, told.events),
    ):
        for entry_id in ids:
            if entry_id not in moving:
                desk.say(
                    desk.place_in(section, entry_id),
                    "HS330",
                    f"no fault has to do with '{entry_id}' of '{section}'",
                    "what can be told, seen or measured tells something",
                    "Let a fault use it, or leave it out",
                )


def say_moves_nothing(desk: Desk, check: Check) -> None:
    """Note that a check moves nothing (HS329)."""
    desk.say(
        desk.place_in("checks", check.id),
        "HS329",
        f"check '{check.id}' moves nothing",
        "at least one fault shows otherwise in what it asks, or depends on it",
        "Add to 'asks', or to what a fault does, looks like or reads",
    )


class _Told:
    """What the faults of a book can be told by."""

    def __init__(self, book: Book) -> None:
        self.book = book
        faults = tuple(book.faults.values())
        patterns = [pattern for fault in faults for pattern in fault.patterns]
        endings = [ending for pattern in patterns for act in pattern.acts for ending in act.endings]
        endings += [ending for forced in book.forced for ending in forced.endings]
        self.signs = {sign for ending in endings for sign in (*ending.shows, *ending.hides)}
        self.signs |= {sign.id for sign in book.signs.values() if sign.is_on}
        self.inspections = {look.inspection for pattern in patterns for look in pattern.looks}
        self.measurements = {read.measurement for pattern in patterns for read in pattern.reads}
        self.events = {event for fault in faults for event in fault.after}
        self.events |= {event.id for event in book.events.values() if event.eases != 1.0}
        self.facts = {fact for fault in faults for fact in fault.only}
        self.stops = any(map(_stops, endings))

    def is_moved_by(self, check: Check) -> bool:
        """Return whether what a check asks can differ from fault to fault."""
        asked = set(check.asks)
        if not asked.isdisjoint(self.inspections | self.measurements):
            return True
        if check.kind == "ask":
            pictures = {word for word in asked if word == "stop" or word.split(".")[0] == "picture"}
            return bool(pictures) or not asked.isdisjoint(self.events | self.facts | self.signs)
        return check.kind == "run" and any(self._may_act(fault, check) for fault in self.book.faults.values())

    def _may_act(self, fault: Fault, check: Check) -> bool:
        """Return whether a fault may show in the run of a check, as far as the check says what it is."""
        for pattern in fault.patterns:
            held = [self._is_in(foothold, check) for foothold in pattern.at or fault.at]
            if not (all(held) if fault.together else any(held)):
                continue
            for act in pattern.acts:
                if (
                    act.q.p > 0.0
                    and self._may_be_drawn(act, check)
                    and any(self._is_seen(end, check) for end in act.endings)
                ):
                    return True
        return False

    def _is_seen(self, ending: Ending, check: Check) -> bool:
        return _stops(ending) or not set(check.asks).isdisjoint((*ending.shows, *ending.hides))

    def _may_be_drawn(self, act: Act, check: Check) -> bool:
        return (not act.of or self._is_in(act.of, check)) and self._may_hold(act.when, check)

    def _is_in(self, foothold: str, check: Check) -> bool:
        """Return whether a kind of part or a joint may be on the host of a check."""
        joint = self.book.joints.get(foothold)
        kinds = (foothold,) if joint is None or foothold in self.book.kinds else joint.between
        return all(self._is_fitted(kind, check) for kind in kinds)

    def _is_fitted(self, kind: str, check: Check) -> bool:
        put = check.setup.get(kind)
        if put is not None:
            return put != "out"
        host = self.book.hosts.get(check.host)
        return host is None or host.id == OWNER or kind in host.own

    def _may_hold(self, when: When, check: Check) -> bool:
        said = check.conditions
        load = self.book.loads.get(said.get("load", IDLE))
        stresses = () if load is None else load.stresses
        words = (
            (when.position, said.get("position")),
            (when.touched, said.get("touched")),
            (when.started_by, said.get("started_by")),
            (when.first_after, said.get("first_after")),
            (when.output, check.setup.get("output")),
            (when.host, check.host),
        )
        flags = (
            (when.cold, said.get("cold"), "no"),
            (when.lead_out, said.get("lead_out"), "no"),
            (when.in_case, check.setup.get("case"), "out"),
        )
        return (
            (not when.load or not set(when.load).isdisjoint(stresses))
            and all(not wanted or word is None or word in wanted for wanted, word in words)
            and all(wanted is None or word is None or wanted == (word != no) for wanted, word, no in flags)
            and all(self._is_fitted(slot.split(".")[0], check) for slot in when.has)
        )


def _stops(ending: Ending) -> bool:
    return bool(ending.not_reached or ending.seconds is not None or ending.dark)
