"""What has the jobs behind the pages weighed: the job that was asked for last first.

A page never waits for it.  It shows what is there, and asks again.  The weighing itself is done by a ranker, in a
process of its own; here is one thread that waits for it.  When nothing else is to be done it has the job of the page
that was looked at last advised on as each answer of its card would leave it: see ``early``.
"""

import logging
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from threading import Condition, Thread

from halfsplit.actions import Bench, job_view, keep_summary
from halfsplit.actions.onfile import OnFile, read_on_file
from halfsplit.errors import InputError, Mistake
from halfsplit.job.advised import Advice
from halfsplit.job.weighed import Weighed
from halfsplit.model.rates import Rates
from halfsplit.ranking import REST_SECONDS, BrokenOffError, RankerDiedError, Ranks
from halfsplit.web.early import Early, EarlyJobs, cases_of
from halfsplit.web.standing import Standing

MOST_DEATHS = 2
"""A job on which the ranker died so often is not tried again until something else is entered in it."""

QUIET_SECONDS = 1.0
"""What no page waits for is not worked out until nobody has asked for anything for so long: taps may come one upon the
other."""

Key = tuple[object, ...]

_log = logging.getLogger(__name__)


class Weigher:
    """Has jobs weighed and advised on, one after the other.

    Args:
        bench: where the jobs are.
        rates: what says what time and mishaps cost now.
        ranker: what ranks.
    """

    def __init__(self, bench: Bench, rates: Callable[[], Rates], ranker: Ranks) -> None:
        self._bench = bench
        self._rates = rates
        self._ranker = ranker
        self._condition = Condition()
        self._waiting: list[int] = []
        self._asked = 0  # the job that a page asked for last, since one was taken up
        self._standings: dict[int, tuple[Key, Standing]] = {}
        self._looked_at = 0  # the job that a page asked for last
        self._last_asked = -QUIET_SECONDS  # when somebody last asked for something
        self._waited_for: set[int] = set()  # the jobs whose advice pages wait for
        self._early = EarlyJobs()
        self._thread: Thread | None = None
        self._rests_until = 0.0
        self._under_way = 0  # the job of which something is worked out now
        self._may_be_left = False  # whether that is less wanted than any advice
        self._news = 0
        self._is_closed = False

    def standing(self, on_file: OnFile) -> Standing:
        """Return how far the weighing of a job is, and see to it that it goes on."""
        number, key = on_file.row.number, self._key(on_file)
        with self._condition:
            self._looked_at, self._last_asked = number, time.monotonic()
            standing = self._at_hand(on_file, key, self._taken_up(number, key))
            if not standing.is_done:
                self._ask(number)
                if standing.advice is None and (self._may_be_left or self._under_way not in (0, *self._waited_for)):
                    self._may_be_left = False  # all that no page waits for makes way for an advice, of whichever job
                    self._ranker.break_off()
            return standing

    def make_way(self, number: int, *, is_entry: bool) -> None:
        """Let somebody's tap go first.

        Args:
            number: of the job that it is on, 0 = another page.
            is_entry: whether it enters something: what is worked out of the job now is then out of date.
        """
        with self._condition:
            self._last_asked = time.monotonic()
            is_of_it = self._under_way == number
            if self._under_way and (is_entry or not is_of_it):
                self._rests_until = time.monotonic() + REST_SECONDS
                self._ranker.rest()
                if is_of_it:
                    self._ranker.break_off()

    @property
    def news(self) -> int:
        """How often something new came to be known of any job."""
        with self._condition:
            return self._news

    def wait_for_news(self, since: int, most_seconds: float) -> None:
        """Wait until something new is known of any job, but not for ever.

        Args:
            since: what ``news`` was when all that is known was looked at.
            most_seconds: so long at most.
        """
        with self._condition:
            self._condition.wait_for(lambda: self._is_closed or self._news != since, most_seconds)

    def known(self, on_file: Iterable[OnFile]) -> dict[int, Standing]:
        """Return number -> what is known of jobs as they stand; that it goes on is not asked for."""
        rates, found = self._rates(), dict[int, Standing]()
        for each in on_file:
            with self._condition:
                known, standing = self._standings.get(each.row.number, ((), Standing()))
            found[each.row.number] = standing if known == (*each.key, rates) else Standing()
        return found

    def ask(self, number: int) -> None:
        """See to it that a job is weighed some time."""
        with self._condition:
            if number not in self._waiting:
                self._waiting.insert(0, number)
                self._wake()

    def expect(self, number: int, proposal: str) -> None:
        """Note what the advice that was on the page said would come first after the answer that was just given.

        It is of the job as that answer left it, and of no other.
        """
        key = self._key(self._read(number))
        standing = self._taken_up(number, key)
        with self._condition:
            self._standings[number] = key, replace(standing, likely=proposal)

    def work_off(self) -> None:
        """Weigh all that waits, here and now."""
        while (number := self._next()) is not None:
            self._work(number)

    def think_ahead(self) -> None:
        """Advise on all that the job that was looked at last may be next, here and now."""
        while self._has_more():
            self._think_ahead()

    def close(self) -> None:
        """Stop, and with it the ranker, whatever it is doing."""
        with self._condition:
            self._is_closed = True
            self._waiting.clear()
            self._condition.notify_all()
        self._ranker.close()
        if self._thread is not None:
            self._thread.join()

    def start(self) -> None:
        """Work off what waits, and what will, in a thread; the first pages come before what nobody waits for."""
        self._last_asked = time.monotonic()
        self._thread = Thread(target=self._run, name="weigher", daemon=True)
        self._thread.start()

    def _ask(self, number: int) -> None:
        if number in self._waiting:
            self._waiting.remove(number)
        self._waiting.append(number)
        self._waited_for.add(number)
        self._asked = number
        self._wake()

    def _wake(self) -> None:
        self._condition.notify_all()

    def _next(self) -> int | None:
        with self._condition:
            self._asked = 0
            return self._waiting.pop() if self._waiting else None

    def _run(self) -> None:
        while (act := self._wait_for_work()) is not None:
            act()

    def _wait_for_work(self) -> Callable[[], None] | None:
        """Return what is to be done next, as soon as there is something; None when it is closed.

        What a page waits for comes first.  When nobody asks for anything it is what the job that was looked at last may
        be next, and then all other jobs.
        """
        with self._condition:
            while not self._is_closed:
                now = time.monotonic()
                rest, quiet = self._rests_until - now, self._last_asked + QUIET_SECONDS - now
                if rest <= 0.0 and not self._waited_for.isdisjoint(self._waiting):
                    return self._work_on_next
                has_more = self._has_more()
                if max(rest, quiet) <= 0.0 and (has_more or self._waiting):
                    return self._think_ahead if has_more else self._work_on_next
                some = has_more or self._waiting
                self._condition.wait(rest if rest > 0.0 else quiet if some else None)
        return None

    def _work_on_next(self) -> None:
        number = self._next()
        if number is not None:
            self._work(number)

    def _work(self, number: int) -> None:
        """Weigh one job as it stands now; what it is then found to be is kept under what it was worked out from."""
        key: Key = ()
        try:
            on_file = self._read(number)
            key = self._key(on_file)
            standing = self._taken_up(number, key)
            if standing.is_done:
                return
            if standing.advice is None and not standing.mistakes:
                standing = self._advised(on_file, standing)
                self._keep(number, key, standing)
                if self._key(self._read(number)) != key or self._is_overtaken(number):
                    self._put_back(number)
                    return
            weighed = self._weigh(on_file)
            keep_summary(on_file, weighed)
            self._keep(number, key, replace(standing, weighed=weighed))
        except InputError as error:
            self._give_up(number, key, error.mistakes)
        except BrokenOffError:
            self._put_back(number)
        except RankerDiedError:
            self._tell_death(number, key)
        except Exception:  # an outer door: the pages go on, and say that this one could not be weighed
            _log.exception("job %d could not be weighed", number)
            self._give_up(number, key, (_broken(number),))

    def _weigh(self, on_file: OnFile) -> Weighed:
        with self._working_on(on_file.row.number, may_be_left=True):
            return self._ranker.weigh(on_file.job(), on_file.book.shelf)

    @contextmanager
    def _working_on(self, number: int, *, may_be_left: bool) -> Iterator[None]:
        """Something is worked out of a job meanwhile; it may be left for an advice that a page waits for."""
        with self._condition:
            self._under_way, self._may_be_left = number, may_be_left
        try:
            yield
        finally:
            with self._condition:
                self._under_way, self._may_be_left = 0, False

    def _advised(self, on_file: OnFile, standing: Standing) -> Standing:
        """Return a standing with the advice, or with why there is none."""
        try:
            with self._working_on(on_file.row.number, may_be_left=False):
                advice = self._ranker.advise(on_file.job(), on_file.book.shelf, self._rates(), shown=standing.shown)
        except InputError as error:
            return replace(standing, mistakes=error.mistakes)
        return replace(standing, advice=advice)

    def _at_hand(self, on_file: OnFile, key: Key, standing: Standing) -> Standing:
        """Return a standing with the advice that was worked out early, if it was."""
        if standing.advice is not None or standing.is_done:
            return standing
        *_, rates = key
        advice = self._early.advice(on_file, rates, standing.shown)
        if advice is not None:
            standing = replace(standing, advice=advice)
            self._standings[on_file.row.number] = key, standing
        return standing

    def _has_more(self) -> bool:
        """Return whether there is something to think ahead of: the job that was looked at last is done as it stands."""
        with self._condition:
            key, standing = self._standings.get(self._looked_at, ((), Standing()))
            if standing.advice is None or not standing.is_done:
                return False
            early = self._early.of(self._looked_at, key)
            return early is None or early.next is not None

    def _think_ahead(self) -> None:
        """Advise on the job that was looked at last as one more of the answers of its card would leave it."""
        with self._condition:
            number = self._looked_at
            key, standing = self._standings.get(number, ((), Standing()))
            early = self._early.of(number, key)
        try:
            if early is None:
                self._keep_early(number, self._thought_of(number, key, standing.advice))
            elif (case := early.next) is not None:
                with self._working_on(number, may_be_left=True):
                    found = self._ranker.advise(case.job, early.shelf, early.rates, shown=case.shown)
                self._keep_early(number, early.advised(case, found))
        except BrokenOffError:
            return
        except Exception as error:  # nobody waits for it: it is worked out, and told of, when it is really so
            if not isinstance(error, InputError | RankerDiedError):
                _log.exception("job %d could not be thought ahead", number)
            self._keep_early(number, Early(key))

    def _thought_of(self, number: int, key: Key, advice: Advice | None) -> Early:
        """Return what a job may be next; nothing where it has gone on since."""
        view, rates = job_view(self._bench, number), self._rates()
        on_file = view.on_file
        if advice is None or view.job is None or (*on_file.key, rates) != key:
            return Early(key)
        return Early(key, on_file.book_key, rates, on_file.book.shelf, cases_of(view, on_file.job(), advice))

    def _keep_early(self, number: int, early: Early) -> None:
        with self._condition:
            self._early.keep(number, early)

    def _give_up(self, number: int, key: Key, mistakes: tuple[Mistake, ...]) -> None:
        self._keep(number, key, replace(self._kept(number, key), mistakes=mistakes, is_given_up=True))

    def _is_overtaken(self, number: int) -> bool:
        """Return whether a page has asked for another job since this one was taken up."""
        with self._condition:
            return self._asked not in (0, number)

    def _put_back(self, number: int) -> None:
        """See to it that a job goes on right after the one that was asked for last."""
        with self._condition:
            if number not in self._waiting:
                self._waiting.insert(max(0, len(self._waiting) - 1), number)

    def _tell_death(self, number: int, key: Key) -> None:
        """Note that the ranker died on a job, and try once more; where it was stopped on purpose nothing is noted."""
        with self._condition:
            if self._is_closed:
                return
        _log.error("the ranker died on job %d", number)
        standing = self._kept(number, key)
        deaths = standing.deaths + 1
        self._keep(number, key, replace(standing, deaths=deaths))
        if deaths >= MOST_DEATHS:
            self._give_up(number, key, (_deadly(number),))
        else:
            with self._condition:
                self._ask(number)

    def _read(self, number: int) -> OnFile:
        with self._bench.store.reading() as connection:
            return read_on_file(self._bench, connection, number)

    def _key(self, on_file: OnFile) -> Key:
        return (*on_file.key, self._rates())

    def _taken_up(self, number: int, key: Key) -> Standing:
        """Return how far a job is as it stands now; what was worked out of it as it stood before is put behind it."""
        with self._condition:
            known, standing = self._standings.get(number, ((), Standing()))
            if known != key:
                standing = standing.anew()
                self._standings[number] = key, standing
                self._news += 1
                self._condition.notify_all()
            return standing

    def _kept(self, number: int, key: Key) -> Standing:
        with self._condition:
            known, standing = self._standings.get(number, ((), Standing()))
            return standing if known == key else standing.anew()

    def _keep(self, number: int, key: Key, standing: Standing) -> None:
        """Keep what was worked out, unless the job has gone on since and a page has seen it so."""
        with self._condition:
            known, now = self._standings.get(number, ((), Standing()))
            if known in (key, ()):
                self._waited_for.discard(number)
                self._standings[number] = key, replace(standing, likely=now.likely)  # an answer may have come meanwhile
            elif standing.advice is not None:
                self._standings[number] = known, replace(now, before=standing.advice)
            self._news += 1
            self._condition.notify_all()


def _deadly(number: int) -> Mistake:
    so = f"the program that ranks ended by itself {MOST_DEATHS} times over it"
    should, do = "a job can be weighed", "Go on by hand; it is tried again with the next entry"
    return Mistake(f"job {number}", "HS810", so, should, do)


def _broken(number: int) -> Mistake:
    so, should = "it could not be weighed, and the fault is ours", "a job can be weighed"
    return Mistake(f"job {number}", "HS809", so, should, "Go on by hand; the program's own log says more")
