"""Advice on a job: all that can be done next, ranked, with what it costs, would tell, and has to stop at."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType

import numpy as np

from halfsplit.infer import Posterior
from halfsplit.job.advised import (
    CHECK,
    END,
    FIRST,
    PROVE,
    PROVING,
    REPAIR,
    Advice,
    Doubt,
    Leading,
    Outcome,
    Proposal,
    StopPoint,
)
from halfsplit.job.amounts import counted, with_symbol
from halfsplit.job.corrections import apply_corrections
from halfsplit.job.doubted import laid_aside, weigh_folded
from halfsplit.job.findings import OTHER, Finding, RunSeen
from halfsplit.job.fold import fold_job
from halfsplit.job.folded import Folded
from halfsplit.job.foresight import Foreseen
from halfsplit.job.kept import Kept
from halfsplit.job.lines import numbered_at, result_line
from halfsplit.job.machine import age_of
from halfsplit.job.outlook import Outlook, look_out
from halfsplit.job.rules import Rules
from halfsplit.job.spent import agreed_on, finding_of, spent_on
from halfsplit.job.suspected import p_of_faults, p_of_lent
from halfsplit.job.try_first import TryFirst
from halfsplit.job.units import OWNER, kind_of
from halfsplit.job.weighed import Weighed
from halfsplit.model.arrays import Floats
from halfsplit.model.bench import Minutes
from halfsplit.model.book import Book
from halfsplit.model.job import Entry, Inspect, Job, RepairDone, Run
from halfsplit.model.rates import Rates
from halfsplit.plan import HAND_BACK, REPLACE, Ranked, firsts_after, rank_by_thumb, saves, weigh_commitment

ANSWER_PAIRS = 300_000
"""Pairs that one level may join; the ranking needs no more."""

ANSWER_TARGET = 0.03
"""The bound share to aim at."""

SAME_SHARE = 0.1
"""The top card changes only for a gain above this share of what is still to be paid ..."""

SAME_CENTS = 200.0
"""... and above this sum, in cents."""

FOUND = 0.9
"""What a repair cures so surely is found: it is mended before anything else is looked for (estimate)."""

LIKELY_MENDED = 0.5
"""Nothing that more likely than this holds goes back unproved."""

EXPLAINED = 20
"""Proposals of which the results are told, the best: what a page shows of them, and as many as were passed over."""

DOUBTED = 6
"""Checks that are thought of before money is committed, the best."""

MUDDLES = 3
"""Faults that are named of those that the work itself may change."""

BLAMED = 3
LEAST_BLAME = 1.0
"""Entries are looked at again, so many at most, that make the conflict this much smaller (natural logarithm)."""

SHOWN_OUTCOMES = 8
LEADING = 5
LEAST_OUTCOME = 0.01
LEAST_LEADING = 0.02

ALONE_PLACE_MINUTES = 45.0
"""What needs a place for so long, and hands for a tenth of it, can run by itself."""

PROVE_TITLE = "prove that it holds"
PROVE_RUNS = {
    "counter_run": "counter run",
    "load_all": "an hour of load on everything",
    "as_the_owner_uses_it": "as the owner uses it",
}
"""What the proof is called, and its runs."""

PROVED = ("holds in all of it", "a fault shows")

_END_TITLES = {HAND_BACK: "hand it back as it is", REPLACE: "replace the machine as a whole"}


def advise(
    job: Job,
    book: Book,
    rates: Rates | None = None,
    *,
    shown: str = "",
    kept: Kept | None = None,
    weighed: Weighed | None = None,
) -> Advice:
    """Return what to do next.

    Args:
        job: the job.
        book: the fault book.
        rates: what time and mishaps cost this bench; None = the defaults.
        shown: the proposal that was on top before; it stays unless another is clearly better.
        kept: what earlier advices with this book worked out; it makes this one faster, and no different.
        weighed: the same job weighed; where its readings raise an alarm, the entries that fit worst are named.

    Returns:
        The same advice for the same job, book and rates.

    Raises:
        ModelError: the job cannot be folded; with all of its mistakes.
        ImpossibleReadingsError: nothing was found that shows its readings, whatever was laid aside.
        TooManySignsError: one of its runs is told of by too many signs.
    """
    kept = kept if kept is not None and kept.book is book else Kept(book)
    folded, posterior = fold_and_weigh(job, book, kept)
    return advise_on(job, book, folded, posterior, rates or Rates(), shown=shown, kept=kept, weighed=weighed)


def fold_and_weigh(job: Job, book: Book, kept: Kept | None = None) -> tuple[Folded, Posterior]:
    """Return a job folded, and weighed as closely as what is done next needs; ``kept`` as in ``fold_job``.

    Raises:
        ModelError: the job cannot be folded; with all of its mistakes.
        ImpossibleReadingsError: nothing was found that shows its readings, whatever was laid aside.
        TooManySignsError: one of its runs is told of by too many signs.
    """
    folded = fold_job(job, book, kept)
    return folded, weigh_folded(folded, limit=ANSWER_PAIRS, target=ANSWER_TARGET).posterior


def advise_on(
    job: Job,
    book: Book,
    folded: Folded,
    posterior: Posterior,
    rates: Rates,
    *,
    shown: str = "",
    kept: Kept | None = None,
    weighed: Weighed | None = None,
) -> Advice:
    """Return what to do next on a job that is folded and weighed; see ``advise``."""
    if kept is None or kept.book is not book:
        kept = Kept(book)
    return Adviser(job, book, folded, posterior, rates, kept).advice(shown, weighed)


class Adviser:
    """All that can be done next on a job, ranked; ``advice`` puts it in words, with what each result would mean.

    Args:
        job, book, folded, posterior, rates, kept: see ``advise_on``.
    """

    def __init__(self, job: Job, book: Book, folded: Folded, posterior: Posterior, rates: Rates, kept: Kept) -> None:
        kept.pause()
        self._log = apply_corrections(job, [])[1]
        self._book = book
        self._folded = folded
        self._aside = tuple(entry for name in laid_aside(folded, posterior) for entry in folded.entries[name])
        self._rates = rates
        self._age = age_of(folded.facts)
        self._job = job
        self._suspected = p_of_faults(folded, posterior)
        self._rules = Rules(job, book, folded.facts, self._suspected)
        lent = p_of_lent(folded, posterior, book, least=rates.try_first)
        self._try_first = TryFirst(job, book, lent, rates.try_first)
        self._outlook: Outlook = look_out(job, folded, posterior, rates, kept, steps=1)
        kept.pause()
        self._thumb = self._outlook.thumb()
        self._ranking = rank_by_thumb(self._thumb)
        kept.pause()
        situation = self._outlook.situation
        self._faults = situation.faults.astype(np.float64)
        self._p_now = situation.weights @ self._faults
        self._spent = spent_on(self._log, book, rates)
        self._finding = spent_on(finding_of(self._log), book, rates)
        self._agreed = agreed_on(self._log, rates)
        self._proof = next((action.tells for action in situation.actions if action.id == PROVE), None)
        self._cures = {action.id: action.cures for action in situation.actions if action.cures is not None}
        self._titles = self._outlook.titles

    def advice(self, shown: str, weighed: Weighed | None) -> Advice:
        """Return the advice."""
        ranked = self._ranking.ranked
        proposals = tuple(map(self._proposal, ranked))
        free = [each for each in proposals if not any(stop.bars for stop in each.stop_points)]
        top, kept = self._top(proposals[0], free, shown)
        best = next((each for each in proposals if each.id == top), None)
        alone = tuple(each.id for each in free if _runs_alone(each))
        doubts = self._doubts(best) if best is not None else ()
        named = {top, shown, *alone, *(doubt.check for doubt in doubts), *(each.id for each in ranked[:EXPLAINED])}
        return Advice(
            tuple(self._explained(each, is_top=each.id == top) if each.id in named else each for each in proposals),
            top,
            kept,
            self._leading(self._p_now),
            free[0].total if free else 0.0,
            self._spent,
            self._rates.worth(self._age),
            (*self._rules.whatever_comes(), *self._money_stops(free[0].total if free else 0.0)),
            alone,
            tuple(dict.fromkeys((*self._aside, *_misfits(weighed)))),
            doubts,
        )

    def _money_stops(self, to_go: float) -> tuple[StopPoint, ...]:
        """Return what money says: the owner is called in time, and nothing goes on above what was agreed."""
        rates, agreed, found = self._rates, self._agreed, []
        if self._spent >= agreed.whole:
            found.append(self._asks_again(f"the job has cost {self._ceiling('a whole job')}"))
        elif self._finding >= rates.call_share * agreed.finding:
            share, of = _percent(rates.call_share), self._ceiling("it")
            line = f"finding the fault has cost at least {share} of {of}"
            found.append(StopPoint("call_owner", line, "Call the owner with what is known."))
        if to_go >= rates.stop_share * rates.worth(self._age):
            share, age = _percent(rates.stop_share), counted(self._age, "year")
            line = f"what is still to be paid, on average: at least {share} of what a usual machine of {age} is worth"
            found.append(StopPoint("offer_replacement", line, "Offer a replacement beside the repair."))
        return tuple(found)

    def _ceiling(self, what: str) -> str:
        """Return whose ceiling it is that money comes to: the owner's, or, where none was agreed to, the bench's."""
        return "what the owner agreed to" if self._agreed.is_owners else f"the bench's ceiling for {what}"

    def _asks_again(self, line: str) -> StopPoint:
        """Return that the owner has to say yes to more than was agreed to, or to a sum at all."""
        answer = "a new yes" if self._agreed.is_owners else "a yes to a sum"
        return StopPoint("owner_agrees", line, f"Call the owner with what is known, and get {answer}.")

    def _top(self, of_all: Proposal, free: Sequence[Proposal], shown: str) -> tuple[str, bool]:
        """Return what to show first, and whether it is kept from before; ``of_all`` is the best, barred or not.

        As long as nothing was mended, or it likely does not hold, there is nothing to prove: the next of the runs is
        then there to bring the complaint out, as a check of its own.
        """
        if not free:
            return "", False
        by_id = {each.id: each for each in free}
        name, kept = self._best(of_all, free, by_id, shown)
        if name == PROVE and not (any(isinstance(entry, RepairDone) for entry in self._log) and self._likely_holds()):
            name = next((run for run in PROVING if run in by_id), PROVE)
        return name, kept

    def _best(
        self, of_all: Proposal, free: Sequence[Proposal], by_id: Mapping[str, Proposal], shown: str
    ) -> tuple[str, bool]:
        best = free[0]
        if not any(isinstance(entry, Run) for entry in self._log) and FIRST in by_id:
            return FIRST, False
        if PROVE in by_id and self._is_to_be_proved(best):
            return PROVE, False
        clearing = self._clearing(of_all, free)
        if clearing:
            return clearing, False
        found = self._found(free)
        if found:
            return found, found == shown
        before = by_id.get(shown)
        if before is not None and before.id != best.id and self._may_stay(before) and _is_as_good(before, best):
            return before.id, True
        return best.id, False

    def _found(self, free: Sequence[Proposal]) -> str:
        """Return the repair of what is as good as found, the cheapest that takes no part; "" where there is none.

        It is paid now or later, and what is looked for after it is seen the clearer.  A look before it saves at most
        what it would cost in vain: where that is no more than the look costs, it is mended first.
        """
        best = free[0]
        if best.kind != CHECK:
            return ""
        found = [
            (each.cents, each.id)
            for each in free
            if each.kind == REPAIR
            and each.p >= FOUND
            and each.price <= 0.0
            and (1.0 - each.p) * each.cents <= best.cents
            and _is_as_good(each, best)
        ]
        return min(found)[1] if found else ""

    def _clearing(self, barred: Proposal, free: Sequence[Proposal]) -> str:
        """Return the look that helps to clear what bars the best of all, where that pays; "" where it does not.

        Looks that together clear it cost what they cost.  With the chance that they show what clears it they save what
        the barred one leaves less to pay than the repair or end that comes next without it: other looks only put that
        off.  One of those that saves more still goes first.
        """
        gain = next(each.total for each in free if each.kind != CHECK) - barred.total
        wanted = self._rules.to_be_seen(barred.stop_points) if gain > 0.0 else None
        looks, p_all = dict[str, Proposal](), 1.0
        for what, words in (wanted or {}).items():
            able = [(each.cents, each.id, each, p) for each in free if (p := self._p_seen(each, what, words)) > 0.0]
            if not able:
                return ""
            *_, look, p = min(able)
            looks[look.id] = look
            p_all *= p
        if not looks or p_all * gain <= sum(each.cents for each in looks.values()):
            return ""
        if free[0].kind == CHECK and self._saves(free[0]):
            looks[free[0].id] = free[0]
        return min(looks.values(), key=lambda each: (each.total, each.id)).id

    def _p_seen(self, each: Proposal, what: str, words: Sequence[str]) -> float:
        """Return the chance that a look shows one of some words at a place; 0 where it does not look there."""
        seen = self._outlook.foreseen.get(each.id)
        if seen is None:
            return 0.0
        place = next((n for n, entry in enumerate(seen.entries) if _looks_at(entry, what)), None)
        if place is None:
            return 0.0
        fine = [n for n, result in enumerate(seen.results) if result and result[place] in words]
        return float((self._outlook.situation.weights @ seen.tells[:, fine]).sum())

    def _may_stay(self, before: Proposal) -> bool:
        """Return whether what was on top before is still worth doing: a check that saves less than it costs is not."""
        return before.kind != CHECK or self._saves(before)

    def _saves(self, check: Proposal) -> bool:
        return saves(next(each for each in self._ranking.ranked if each.id == check.id), self._ranking.without)

    def _is_to_be_proved(self, best: Proposal) -> bool:
        """Return whether to prove it before it is handed back: where it likely holds, and that was not shown yet."""
        return best.id == HAND_BACK and self._likely_holds()

    def _likely_holds(self) -> bool:
        """Return whether a proof of the machine as it is more likely holds than not."""
        if self._proof is None:
            return False
        return float(self._outlook.situation.weights @ self._proof[:, 0]) > LIKELY_MENDED

    def _proposal(self, ranked: Ranked) -> Proposal:
        if ranked.id in _END_TITLES:
            return Proposal(ranked.id, END, _END_TITLES[ranked.id], "", ranked.cents, ranked.total, ranked.value, _NONE)
        outlook, parts = self._outlook, ranked.parts
        price, risk = (sum(table[part] for part in parts) for table in (outlook.price, outlook.risk))
        chain = tuple(dict.fromkeys(opening for part in parts for opening in outlook.chain[part]))
        mends = [outlook.mends[part] for part in parts if part in outlook.mends]
        seen = [outlook.foreseen[part] for part in parts if part in outlook.foreseen]
        titles = [title_of_action(part, outlook, self._folded.spoken) for part in parts]
        stops = [stop for each in seen for stop in self._rules.before_check(each.check, each.entries)]
        stops += [stop for each in mends for stop in self._rules.before_repair(each.repair)]
        stops += [stop for each in seen for stop in self._try_first.before_check(each)]
        stops += self._rules.whatever_comes() if PROVE in parts and not mends else ()
        stops += [*self._risky(sum(outlook.risk[each.check.id] for each in seen)), *self._dear(price)]
        return Proposal(
            ranked.id,
            REPAIR if mends else CHECK,
            ", then ".join(titles),
            ", ".join(dict.fromkeys(each.at for each in mends)),
            ranked.cents,
            ranked.total,
            ranked.value,
            self._minutes(parts, chain),
            risk,
            price,
            chain,
            self._p_cures(parts) if mends else 0.0,
            self._proved() if PROVE in parts and not seen else (),
            tuple(dict.fromkeys(stops)),
            parts,
            tuple(self._folded.roots[root].title for root in seen[0].muddles[:MUDDLES]) if seen else (),
        )

    def _explained(self, proposal: Proposal, *, is_top: bool) -> Proposal:
        """Return a proposal with what its first check may come to."""
        foreseen = self._outlook.foreseen
        seen = next((foreseen[part] for part in proposal.parts if part in foreseen), None)
        if seen is None:
            return proposal
        return replace(proposal, outcomes=self._outcomes(seen, is_top=is_top and proposal.id == seen.check.id))

    def _p_cures(self, parts: Sequence[str]) -> float:
        """Return the chance that repairs cure anything that matters."""
        situation = self._outlook.situation
        left = np.prod([1.0 - self._cures[part] for part in parts if part in self._cures], axis=0)
        columns = np.flatnonzero(left < 1.0)
        if len(columns) == 1:
            return float((1.0 - left[columns[0]]) * self._p_now[columns[0]])
        stays = np.where(situation.faults[:, columns], left[columns], 1.0).prod(axis=1)
        return max(0.0, 1.0 - float(situation.weights @ stays))

    def _minutes(self, parts: Sequence[str], chain: Sequence[str]) -> Minutes:
        own = [self._outlook.minutes[part] for part in parts]
        made = self._outlook.situation.open_now
        openings = [self._book.openings[name] for name in chain if name not in made]
        there = sum(opening.minutes_open + opening.minutes_close for opening in openings)
        hands = sum(each.hands_on for each in own) + there
        place = sum(max(each.place, each.hands_on) for each in own) + there
        return Minutes(hands, place, max((each.days for each in own), default=0.0))

    def _outcomes(self, seen: Foreseen, *, is_top: bool = False) -> tuple[Outcome, ...]:
        """Return the likely results of a check, with what each would mean; of the top with what would come next."""
        situation = self._outlook.situation
        firsts = firsts_after(self._thumb, self._ranking, seen.check.id, most=SHOWN_OUTCOMES) if is_top else ()
        found = []
        for number, result in enumerate(seen.results):
            weights = situation.weights * seen.tells[:, number]
            p = float(weights.sum())
            if p < LEAST_OUTCOME:
                continue
            after = weights @ self._faults / p
            entries = tuple(
                _recorded(entry, told, seen.used)
                for entry, told in zip(seen.entries, result, strict=True)
                if told != OTHER
            )
            first = firsts[number][1] if number < len(firsts) else ""
            if first and self._is_barred_after(first, entries):
                first = ""
            found.append(
                Outcome(result_line(seen.entries, result, self._folded.spoken), p, self._leading(after), first, entries)
            )
        found.sort(key=lambda each: -each.p)
        return tuple(found[:SHOWN_OUTCOMES])

    def _is_barred_after(self, name: str, entries: Sequence[Entry]) -> bool:
        """Return whether a stop bars something once further entries are on the log."""
        job = replace(self._job, log=(*self._job.log, *entries))
        rules = Rules(job, self._book, self._folded.facts, self._suspected)
        stops: tuple[StopPoint, ...] = ()
        if name in self._outlook.foreseen:
            seen = self._outlook.foreseen[name]
            stops = rules.before_check(seen.check, seen.entries)
        elif name in self._outlook.mends:
            stops = rules.before_repair(self._outlook.mends[name].repair)
        elif name == PROVE:
            stops = rules.whatever_comes()
        return any(stop.bars for stop in stops)

    def _proved(self) -> tuple[Outcome, ...]:
        """Return what a proof may come to: it holds, or a fault shows."""
        situation = self._outlook.situation
        if self._proof is None:
            return ()
        found = []
        for line, result in zip(PROVED, self._proof.T, strict=True):
            weights = situation.weights * result
            p = float(weights.sum())
            if p >= LEAST_OUTCOME:
                found.append(Outcome(line, p, self._leading(weights @ self._faults / p), "", ()))
        return tuple(found)

    def _leading(self, p: Floats) -> tuple[Leading, ...]:
        likely = [(-each, self._outlook.faults[n], n) for n, each in enumerate(p.tolist()) if each >= LEAST_LEADING]
        return tuple(Leading(name, self._titles[n], -each) for each, name, n in sorted(likely)[:LEADING])

    def _risky(self, risk: float) -> tuple[StopPoint, ...]:
        if risk < self._rates.risk:
            return ()
        line = "this may harm a part: the expected damage is above the bench's limit"
        return (StopPoint("risk", line, "Short check to ground first, then a scout part, never the good one."),)

    def _dear(self, price: float) -> tuple[StopPoint, ...]:
        if price <= 0.0 or self._spent + price <= self._agreed.whole:
            return ()
        return (self._asks_again(f"with this part the job costs more than {self._ceiling('a whole job')}"),)

    def _doubts(self, best: Proposal) -> tuple[Doubt, ...]:
        if best.price <= 0.0:
            return ()
        checks = [each.id for each in self._ranking.ranked if each.id in self._outlook.foreseen][:DOUBTED]
        then = {name: firsts_after(self._thumb, self._ranking, name) for name in checks}
        ranking = replace(self._ranking, then=then)
        found = weigh_commitment(self._outlook.situation, ranking, best.id, price=best.price)
        return tuple(Doubt(each.check, each.p_change, each.saves) for each in found.doubts)


_NONE = Minutes(0.0, 0.0)


def title_of_action(name: str, outlook: Outlook, book: Book) -> str:
    """Return what a check or repair of an outlook is called."""
    if name == PROVE:
        return f"{PROVE_TITLE}: {', then '.join(PROVE_RUNS[run] for run in outlook.due_runs)}"
    if name in outlook.foreseen:
        return outlook.foreseen[name].check.title
    mends = outlook.mends[name]
    return numbered_at(mends.repair.title, mends.at, book)


def _misfits(weighed: Weighed | None) -> tuple[str, ...]:
    """Return the entries that fit the others worst, where the readings disagree more than chance lets them."""
    if weighed is None or not weighed.conflict.is_alarm:
        return ()
    conflict = weighed.conflict
    return tuple(entry for entry, log_m in conflict.without if conflict.log_m - log_m >= LEAST_BLAME)[:BLAMED]


def _is_as_good(each: Proposal, best: Proposal) -> bool:
    """Return whether what a proposal leaves to pay is hardly more than what the best one does."""
    return each.total - best.total <= max(SAME_SHARE * best.total, SAME_CENTS)


def _percent(share: float) -> str:
    return with_symbol(f"{100.0 * share:.3g}", "%")


def _looks_at(entry: Entry, what: str) -> bool:
    """Return whether an entry is a look at the owner's machine at a place."""
    return isinstance(entry, Inspect) and entry.on == OWNER and kind_of(entry.what) == what


def _runs_alone(each: Proposal) -> bool:
    return (
        each.kind == CHECK
        and each.minutes.place >= ALONE_PLACE_MINUTES
        and each.minutes.hands_on <= each.minutes.place / 10.0
        and each.value > each.cents
    )


def _recorded(entry: Entry, told: Finding, used: Sequence[str]) -> Entry:
    """Return an entry with a result in it, as it is put in the log; a number is left for the technician to write."""
    if isinstance(entry, Run) and isinstance(told, RunSeen):
        return replace(entry, swaps=MappingProxyType(dict(entry.swaps)), seen=told.as_seen(used))
    if isinstance(entry, Inspect) and isinstance(told, str):
        return replace(entry, seen=told)
    return entry
