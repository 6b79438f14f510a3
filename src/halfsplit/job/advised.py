"""What is advised: everything that can be done next with its cost and value, and why; as data, to show or to send."""

from dataclasses import dataclass

from halfsplit.model.bench import Minutes
from halfsplit.model.job import Entry

CHECK, REPAIR, END = "check", "repair", "end"

FIRST = "counter_run"
"""What comes first at every job: the counter run."""

PROVING = (FIRST, "load_all", "as_the_owner_uses_it")
"""The checks by which a mended machine is proved; a fault that shows in none of them comes back."""

PROVE = "prove"
"""The id of proving that the machine holds, as it is now."""

Json = str | float | int | bool | None | list["Json"] | dict[str, "Json"]


@dataclass(frozen=True)
class Leading:
    """A fault and how likely it is."""

    fault: str
    title: str
    p: float


@dataclass(frozen=True)
class Outcome:
    """One result of a check, and what it would mean.

    Args:
        line: the result in words.
        p: the chance of it.
        leading: the likeliest faults after it.
        first: what would come first after it.
        entries: the entries that record it, with this result.
    """

    line: str
    p: float
    leading: tuple[Leading, ...]
    first: str
    entries: tuple[Entry, ...]


@dataclass(frozen=True)
class StopPoint:
    """A place to stop and ask first.

    Args:
        id: the rule or hazard.
        line: what is so.
        do: what to do about it.
        bars: whether it cannot be done at all before that is cleared; else it may, once the question is answered.
    """

    id: str
    line: str
    do: str
    bars: bool = False


@dataclass(frozen=True)
class Proposal:
    """One thing that can be done next.

    Args:
        id: the check or repair, with the number of the part where there are several.
        kind: CHECK, REPAIR or END.
        title: as the trade says it.
        at: the part or joint that a repair is done to, or "".
        cents: what it costs, with getting there, waiting, parts and expected damage.
        total: the least expected cost from here on when it comes first, in cents.
        value: what it saves against doing without it, in cents.
        minutes: hands-on minutes, place and days, with those of the openings.
        risk: expected damage, in cents.
        price: money for parts, in cents.
        openings: what is taken off or out for it, the outermost first.
        p: for a repair the chance that it cures something.
        outcomes: for a check its likely results, likeliest first.
        stop_points: what to stop and ask at before it.
        parts: the checks or repairs that it is made of, in order; the outcomes are those of the first.
        muddles: titles of suspected faults that the work for it may cure or bring in by itself, likeliest first: what
            its run shows can then not be told apart from them until what was changed is put back.
    """

    id: str
    kind: str
    title: str
    at: str
    cents: float
    total: float
    value: float
    minutes: Minutes
    risk: float = 0.0
    price: float = 0.0
    openings: tuple[str, ...] = ()
    p: float = 0.0
    outcomes: tuple[Outcome, ...] = ()
    stop_points: tuple[StopPoint, ...] = ()
    parts: tuple[str, ...] = ()
    muddles: tuple[str, ...] = ()


@dataclass(frozen=True)
class Doubt:
    """A cheaper check that could still change what is about to be paid for.

    Args:
        check: its id.
        p_change: the chance that something else would come first after it.
        saves: what it saves on average against going ahead, in cents.
    """

    check: str
    p_change: float
    saves: float


@dataclass(frozen=True)
class Advice:
    """What to do next.

    Args:
        proposals: everything that can be done, best first.
        top: the one to show first; it changes only for a gain that is worth it.
        kept: whether the top is the one shown before although another one is a little cheaper.
        leading: the likeliest faults.
        to_go: the least expected cost from here on, in cents.
        spent: what the job has cost so far, in cents.
        worth: what the machine is worth, in cents.
        stop_points: what to stop and ask at, whatever comes next.
        alone: proposals that can run by themselves now.
        step_back: entries that do not fit the others, or ().
        doubts: before a top that commits money, the cheaper checks that could still change it.
    """

    proposals: tuple[Proposal, ...]
    top: str
    kept: bool
    leading: tuple[Leading, ...]
    to_go: float
    spent: float
    worth: float
    stop_points: tuple[StopPoint, ...] = ()
    alone: tuple[str, ...] = ()
    step_back: tuple[str, ...] = ()
    doubts: tuple[Doubt, ...] = ()

    def proposal(self, name: str) -> Proposal | None:
        """Return the proposal with this id, or None."""
        return next((each for each in self.proposals if each.id == name), None)

    def to_json(self) -> dict[str, Json]:
        """Return the advice as plain data, best first, money in whole units; keys are documented in docs/advice.md."""
        return {
            "top": self.top,
            "advice": [_proposal_json(each) for each in self.proposals],
            "kept": self.kept,
            "leading": [{"fault": lead.fault, "p": lead.p} for lead in self.leading],
            "to_go": _money(self.to_go),
            "spent": _money(self.spent),
            "worth": _money(self.worth),
            "stop_points": [_stop_json(each) for each in self.stop_points],
            "alone": list(self.alone),
            "step_back": list(self.step_back),
            "doubts": [
                {"check": doubt.check, "p_change": doubt.p_change, "saves": _money(doubt.saves)}
                for doubt in self.doubts
            ],
        }


def _proposal_json(each: Proposal) -> Json:
    return {
        "id": each.id,
        "kind": each.kind,
        "title": each.title,
        "at": each.at,
        "cost": _money(each.cents),
        "total": _money(each.total),
        "value": _money(each.value),
        "minutes": {"hands_on": each.minutes.hands_on, "place": each.minutes.place, "days": each.minutes.days},
        "risk": _money(each.risk),
        "price": _money(each.price),
        "openings": list(each.openings),
        "parts": list(each.parts),
        "muddles": list(each.muddles),
        "p": each.p,
        "outcomes": [
            {
                "line": outcome.line,
                "p": outcome.p,
                "first": outcome.first,
                "leading": [{"fault": lead.fault, "p": lead.p} for lead in outcome.leading],
            }
            for outcome in each.outcomes
        ],
        "stop_points": [_stop_json(stop) for stop in each.stop_points],
    }


def _stop_json(stop: StopPoint) -> Json:
    return {"id": stop.id, "line": stop.line, "do": stop.do, "bars": stop.bars}


def _money(cents: float) -> float:
    return round(cents / 100.0, 2)
