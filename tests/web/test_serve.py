"""The bench comes up where it is told to, prints its address, and says so where it cannot."""

import asyncio
import os
import re
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from halfsplit.errors import WebError
from halfsplit.web import serve
from halfsplit.web.routes import ROUTES
from halfsplit.web.serve import LOOPBACK, _listen

COMMAND = "import sys; from halfsplit.cli import main; sys.exit(main(sys.argv[1:]))"
DOCUMENT = Path(__file__).parents[2] / "docs" / "web.md"


def test_an_address_that_is_in_use_is_told_with_its_code(tmp_path):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        with pytest.raises(WebError) as refused:
            serve(tmp_path / "bench", port=taken.getsockname()[1])
    assert [mistake.code for mistake in refused.value.mistakes] == ["HS804"]
    assert not (tmp_path / "bench").exists()


def test_answers_go_out_at_once():
    """Nagle's wait, 40 ms with delayed acknowledgements, is off: asyncio sees to it where a socket is named as TCP."""

    async def set_on_what_comes_in(listening):
        found = asyncio.get_running_loop().create_future()

        async def answer(_reader, writer):
            own = writer.get_extra_info("socket")
            found.set_result(own.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY))
            writer.close()

        async with await asyncio.start_server(answer, sock=listening):
            _, writer = await asyncio.open_connection(*listening.getsockname()[:2])
            is_set = await found
            writer.close()
        return is_set

    # in a thread of its own: where a browser test ran before, this one has a loop already
    with _listen(LOOPBACK, 0) as listening, ThreadPoolExecutor(1) as thread:
        assert thread.submit(lambda: asyncio.run(set_on_what_comes_in(listening))).result()


def test_the_demo_comes_up_and_prints_its_address(tmp_path):
    words = ["serve", "--demo", "--port", "0", "--folder", str(tmp_path / "bench")]
    with subprocess.Popen([sys.executable, "-c", COMMAND, *words], stdout=subprocess.PIPE, text=True) as serving:
        assert serving.stdout is not None
        found = re.search(r"http://127\.0\.0\.1:\d+/", serving.stdout.readline())
        try:
            assert found is not None
            with urllib.request.urlopen(found[0], timeout=60) as answer:
                page = answer.read().decode()
        finally:
            serving.terminate()
    assert "the tower from the music school" in page


def children_of(pid):
    return [int(child) for task in Path(f"/proc/{pid}/task").glob("*/children") for child in task.read_text().split()]


@pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="who belongs to whom is read as Linux shows it")
@pytest.mark.parametrize("signal_number", [signal.SIGTERM, signal.SIGINT])
def test_stopped_it_ends_in_order_says_nothing_and_leaves_nobody_behind(tmp_path, signal_number):
    words = ["serve", "--demo", "--port", "0", "--folder", str(tmp_path / "bench")]
    pipe = subprocess.PIPE
    with subprocess.Popen([sys.executable, "-c", COMMAND, *words], stdout=pipe, stderr=pipe, text=True) as serving:
        found = re.search(r"http://\S+", serving.stdout.readline())
        with urllib.request.urlopen(found[0], timeout=60):
            pass
        until = time.monotonic() + 60.0
        while not (rankers := children_of(serving.pid)) and time.monotonic() < until:
            time.sleep(0.05)
        serving.send_signal(signal_number)
        _, said = serving.communicate(timeout=60)
    assert (serving.returncode, said) == (0, "")
    assert len(rankers) == 1
    with pytest.raises(ProcessLookupError):
        os.kill(rankers[0], 0)


def test_every_page_is_documented():
    text = DOCUMENT.read_text(encoding="utf-8")
    pages = {address for method, address, _ in ROUTES if method == "GET"}
    named = {address.replace("{number:job}", "N").replace("{entry}", "ID") for address in pages}
    pieces = ("/jobs/N/next", "/jobs/N/photos/{hash}", "/book/{section}/ID")  # of pages that are named
    assert {address for address in named if f"`{address}`" not in text} == set(pieces)
