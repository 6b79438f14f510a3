"""The bench comes up where it is told to, prints its address, and says so where it cannot."""

import re
import socket
import subprocess
import sys
import urllib.request
from pathlib import Path

import pytest

from halfsplit.errors import WebError
from halfsplit.web import serve
from halfsplit.web.routes import ROUTES

DOCUMENT = Path(__file__).parents[2] / "docs" / "web.md"


def test_an_address_that_is_in_use_is_told_with_its_code(tmp_path):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        with pytest.raises(WebError) as refused:
            serve(tmp_path / "bench", port=taken.getsockname()[1])
    assert [mistake.code for mistake in refused.value.mistakes] == ["HS804"]
    assert not (tmp_path / "bench").exists()


def test_the_demo_comes_up_and_prints_its_address(tmp_path):
    command = "import sys; from halfsplit.cli import main; sys.exit(main(sys.argv[1:]))"
    words = ["serve", "--demo", "--port", "0", "--folder", str(tmp_path / "bench")]
    with subprocess.Popen([sys.executable, "-c", command, *words], stdout=subprocess.PIPE, text=True) as serving:
        assert serving.stdout is not None
        found = re.search(r"http://127\.0\.0\.1:\d+/", serving.stdout.readline())
        try:
            assert found is not None
            with urllib.request.urlopen(found[0], timeout=60) as answer:
                page = answer.read().decode()
        finally:
            serving.terminate()
    assert "the tower from the music school" in page


def test_every_page_is_documented():
    text = DOCUMENT.read_text(encoding="utf-8")
    pages = {address for method, address, _ in ROUTES if method == "GET"}
    named = {address.replace("{number:int}", "N").replace("{entry}", "ID") for address in pages}
    pieces = ("/jobs/N/next", "/jobs/N/photos/{hash}", "/book/{section}/ID")  # of pages that are named
    assert {address for address in named if f"`{address}`" not in text} == set(pieces)
