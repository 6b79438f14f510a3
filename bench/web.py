"""How long a tap takes, on an empty machine and while a ranking runs beside it: form sent, entered, new page drawn.

./dev bench web
"""

import re
import statistics
import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path

from starlette.testclient import TestClient

from halfsplit.web import make_app, open_desk
from halfsplit.web.demo import stock_demo
from halfsplit.web.serve import SWITCH_SECONDS

TAPS = 40
PLACES = ("outlet", "supply_exhaust", "case", "mains_lead")
JOB = 4


def tap(client, token, turn):
    began = time.perf_counter()
    entry = f"- inspect: {{at: {PLACES[turn % len(PLACES)]}, seen: fine}}"
    answer = client.post(f"/jobs/{JOB}/enter", data={"token": token, "entry": entry})
    assert answer.status_code == 200
    return 1000.0 * (time.perf_counter() - began)


def tell(what, taps_ms):
    p95 = statistics.quantiles(taps_ms, n=20)[-1]
    print(f"{what:<34} median {statistics.median(taps_ms):6.0f} ms   p95 {p95:6.0f} ms   of {len(taps_ms)}")


def main():
    with tempfile.TemporaryDirectory() as folder:
        desk = open_desk(Path(folder))
        stock_demo(desk.bench, datetime.now(UTC))
        client = TestClient(make_app(desk), base_url="http://localhost")
        token = re.search(r'name="token" value="([^"]+)"', client.get(f"/jobs/{JOB}").text)[1]
        tap(client, token, 0)
        tell("a tap, nothing beside it", [tap(client, token, turn) for turn in range(TAPS)])
        began = time.perf_counter()
        desk.weigher.work_off()
        print(f"{'suspicions and advice, one job':<34} {time.perf_counter() - began:6.1f} s")
        sys.setswitchinterval(SWITCH_SECONDS)
        desk.weigher.start()
        tell("a tap while another is weighed", [tap(client, token, turn) for turn in range(TAPS)])
        desk.close()


if __name__ == "__main__":
    main()
