"""How far the owner's machine gets as it stands, by the newest run that shows it: what to ask of it, and what not."""

from halfsplit.job.columns import run_column
from halfsplit.job.complaints import CLASSES
from halfsplit.job.corrections import apply_corrections
from halfsplit.job.done import is_work
from halfsplit.job.findings import Finding, RunSeen
from halfsplit.job.pictures import STAGES, is_picture
from halfsplit.job.units import OWNER, kind_of
from halfsplit.job.weighed import NOT_REACHED, STOPPED
from halfsplit.model.book import Book
from halfsplit.model.job import Job, Run, Seen

ITS_OWN = ("owner", "in")
"""What a run may put into a slot and still be a run of the machine as it came."""

STARTED_FROM = ("drive", "system", "stick")
"""What a machine starts from once its self-test is done: up to there another one makes no difference."""

SELF_TEST = "self_test"


class Reached:
    """How far the owner's machine is known to get since the last work on it.

    A run counts in which it was the machine as it stands: the bench's own parts outside the case make no difference,
    parts lent or taken out inside do, but for what it starts from as long as it has not started from it.  Where only
    some of several starts failed, it gets there.  Before any such run the class of complaint tells, until work is done.

    Args:
        job: the job.
        book: the fault book.
    """

    def __init__(self, job: Job, book: Book) -> None:
        self._book = book
        _, log = apply_corrections(job, [])
        work = [place for place, entry in enumerate(log) if is_work(entry)]
        self._complaint = "" if work else job.complaint
        since = log[work[-1] + 1 :] if work else log
        self._may: dict[str, bool] = {}
        self._runs = tuple(entry for entry in reversed(since) if isinstance(entry, Run) and entry.on == OWNER)

    def may_get_to(self, rung: str) -> bool:
        """Return whether nothing shows that the machine does not get to a rung; "" is reached by every machine."""
        if rung not in self._may:
            self._may[rung] = not rung or self._is_open(rung)
        return self._may[rung]

    def _is_open(self, rung: str) -> bool:
        newest, of_any_start = self._newest(rung), self._newest(SELF_TEST)
        if of_any_start is None:
            return self._book.ladder.place(rung) < self._missed_by_class(self._complaint)
        if newest is not of_any_start and not self._got_to(of_any_start, SELF_TEST):
            return False
        return newest is None or self._got_to(newest, rung)

    def gets_to(self, told: Finding, rung: str) -> bool:
        """Return whether a start that would show this gets to a rung, as far as can be seen."""
        if not isinstance(told, RunSeen):
            return False
        outputs = {name.split(":")[1] for name, _ in told.signs if is_picture(name)}
        return self._got_to(Run("again", seen=told.as_seen(sorted(outputs))), rung)

    def _got_to(self, run: Run, rung: str) -> bool:
        """Return whether nothing shows that a run did not get to a rung, and could be watched there."""
        place = self._book.ladder.place(rung)
        is_missed = run_column(run, self._book).marks[place] in (STOPPED, NOT_REACHED)
        return run.failed < run.of or not (is_missed or self._is_dark(run.seen, place))

    def _newest(self, rung: str) -> Run | None:
        """Return the newest run of the machine as it stands, as far as a rung is concerned."""
        is_low = self._book.ladder.place(rung) <= self._book.ladder.place(SELF_TEST)
        return next((run for run in self._runs if self._is_as_it_stands(run, is_low=is_low)), None)

    def _is_as_it_stands(self, run: Run, *, is_low: bool) -> bool:
        return all(self._is_the_same(kind_of(slot), put, is_low=is_low) for slot, put in run.swaps.items())

    def _is_the_same(self, kind: str, put: str, *, is_low: bool) -> bool:
        """Return whether it is the same machine with another part of a kind, or with none, in its place."""
        if put in ITS_OWN:
            return True
        if kind in STARTED_FROM:
            return is_low or (kind, put) == ("stick", "out")
        return kind in self._book.kinds and self._book.kinds[kind].outside

    def _is_dark(self, seen: Seen, place: int) -> bool:
        """Return whether no socket had a picture at the last stage, up to a rung, that was looked at.

        A socket that had one at another stage, and of which nothing is said at this one, may have had it there too.
        """
        sockets = seen.picture.values()
        for stage, rung in reversed(STAGES.items()):
            if self._book.ladder.place(rung) <= place and any(stage in stages for stages in sockets):
                return not any(stages.get(stage, any(stages.values())) for stages in sockets)
        return False

    def _missed_by_class(self, complaint: str) -> int:
        """Return the place of the lowest rung that a class of complaint says is not reached."""
        ladder = self._book.ladder
        if complaint not in CLASSES:
            return len(ladder.rungs)
        told = CLASSES[complaint]
        if not told.reached:
            return 0
        missed = ladder.place(told.missed) if told.missed else len(ladder.rungs)
        return missed if told.lit else min(missed, ladder.place(STAGES["self_test"]))
