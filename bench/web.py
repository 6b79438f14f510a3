"""How long a tap takes, alone and beside a ranking, how long the advice after it, and what both processes hold.

./dev bench web

A bench is served on a folder of its own; a tap is a form sent, entered, and the new page read.  In the first row the
process that ranks stands still, in the second it runs; the CPU time that both took is told beside, for on a busy
machine the taps wait for others.  Processes are read as Linux shows them.
"""

import contextlib
import http.client
import os
import re
import signal
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from urllib.parse import urlencode

from quantile import p95

TAPS = 40
ADVICES = 8
PAUSE_SECONDS = 0.1
POLL_SECONDS = 0.05
MOST_SECONDS = 300.0
PLACES = ("outlet", "supply_exhaust", "case", "mains_lead")
NEW_CARD, NOTHING_MORE = '<article class="card"', 'data-refresh=""'
"""What stands on the page when the advice is there (a card that is only likely next is dashed), and when all is."""

SERVE = "import sys; from halfsplit.cli import main; sys.exit(main(sys.argv[1:]))"
FORM = "application/x-www-form-urlencoded"


class Tablet:
    """A tablet at the bench: one connection, its cookie, and the job that it is at."""

    def __init__(self, address):
        self._connection = http.client.HTTPConnection(address)
        self._cookie = ""
        self.job = 0
        self.turn = 0
        self.job = int(re.search(r'href="/jobs/(\d+)"', self.get("/"))[1])
        self._token = re.search(r'name="token" value="([^"]+)"', self.get(f"/jobs/{self.job}"))[1]

    def get(self, path):
        return self._ask("GET", path, None)[1]

    def tap(self):
        """Send an answer, follow where it leads, and return the ms until that page was there."""
        entry = f"- inspect: {{at: {PLACES[self.turn % len(PLACES)]}, seen: fine}}"
        self.turn += 1
        began = time.perf_counter()
        to, _ = self._ask("POST", f"/jobs/{self.job}/enter", urlencode({"token": self._token, "entry": entry}))
        page = self.get(to.partition("#")[0])
        assert 'id="live"' in page
        return 1000.0 * (time.perf_counter() - began)

    def wait(self, for_what=NOTHING_MORE):
        """Wait until something stands in what follows a tap, and return the ms that it took."""
        began = time.perf_counter()
        while for_what not in self.get(f"/jobs/{self.job}/next"):
            assert time.perf_counter() < began + MOST_SECONDS
            time.sleep(POLL_SECONDS)
        return 1000.0 * (time.perf_counter() - began)

    def _ask(self, method, path, body):
        headers = {"Cookie": self._cookie, "Content-Type": FORM} if body else {"Cookie": self._cookie}
        self._connection.request(method, path, body, headers)
        answer = self._connection.getresponse()
        text = answer.read().decode()
        assert answer.status in (200, 303), text
        self._cookie = (answer.getheader("Set-Cookie") or self._cookie).partition(";")[0]
        return answer.getheader("Location", ""), text


@contextlib.contextmanager
def served():
    """Give the address of a bench with the demo's jobs, and the number of its process."""
    with tempfile.TemporaryDirectory() as folder:
        words = ["serve", "--demo", "--port", "0", "--folder", folder]
        with subprocess.Popen([sys.executable, "-c", SERVE, *words], stdout=subprocess.PIPE, text=True) as serving:
            try:
                yield re.search(r"http://([\d.]+:\d+)/", serving.stdout.readline())[1], serving.pid
            finally:
                serving.terminate()


def ranker_of(pid):
    """Return the number of the process that ranks now; one that held too much has made way for another."""
    return next(int(each) for task in Path(f"/proc/{pid}/task").glob("*/children") for each in task.read_text().split())


def cpu_seconds(pid, *, of_ended=False):
    """Return the CPU time that a process took, or that those took which it started and which ended."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return sum(int(each) for each in (fields[13:15] if of_ended else fields[11:13])) / os.sysconf("SC_CLK_TCK")


def ranking_seconds(pid):
    return cpu_seconds(ranker_of(pid)) + cpu_seconds(pid, of_ended=True)


def resident_mb(pid):
    return int(re.search(r"VmRSS:\s+(\d+)", Path(f"/proc/{pid}/status").read_text())[1]) / 1024


class Taps:
    """Some taps, one after the other."""

    def __init__(self, tablet, pid):
        before, busy, began = cpu_seconds(pid), ranking_seconds(pid), time.perf_counter()
        self.ms = []
        for _ in range(TAPS):
            self.ms.append(tablet.tap())
            time.sleep(PAUSE_SECONDS)
        self.cpu_ms = 1000.0 * (cpu_seconds(pid) - before) / TAPS
        self.busy = (ranking_seconds(pid) - busy) / (time.perf_counter() - began)

    def tell(self, what):
        print(
            f"{what:<32} median {statistics.median(self.ms):6.0f}   p95 {p95(self.ms):6.0f} ms   of {TAPS}; "
            f"CPU {self.cpu_ms:.0f} ms each, the ranking {self.busy:.0%} of the time"
        )


def main():
    with served() as (address, pid):
        tablet = Tablet(address)
        tablet.wait()
        ranker = ranker_of(pid)
        os.kill(ranker, signal.SIGSTOP)
        alone = Taps(tablet, pid)
        os.kill(ranker, signal.SIGCONT)
        beside = Taps(tablet, pid)
        tablet.wait()
        advices, held = [], []
        for _ in range(ADVICES):
            tablet.tap()
            advices.append(tablet.wait(NEW_CARD))
            tablet.wait()
            held.append((resident_mb(pid), resident_mb(ranker_of(pid))))
        pages_mb, ranker_mb = max(held, key=sum)
    alone.tell("a tap, nothing ranked beside it")
    beside.tell("a tap beside a ranking")
    print(f"{'from there to the new advice':<32} median {statistics.median(advices):6.0f}   p95 {p95(advices):6.0f} ms")
    print(f"{'resident, at most':<32} pages {pages_mb:.0f} MB, ranking {ranker_mb:.0f} MB")
    print(
        f"figure: tap_p95_ms={p95(alone.ms):.0f} tap_beside_p95_ms={p95(beside.ms):.0f} "
        f"advice_p95_ms={p95(advices):.0f} resident_mb={pages_mb + ranker_mb:.0f}"
    )


if __name__ == "__main__":
    main()
