"""A bench that is served for tests: `halfsplit serve` in a program of its own, on a folder of its own."""

import contextlib
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

COMMAND = "import sys; from halfsplit.cli import main; sys.exit(main(sys.argv[1:]))"
STOP_SECONDS = 60


@contextlib.contextmanager
def served(folder: Path, *, is_demo: bool = False) -> Iterator[tuple[str, int]]:
    """Give the address of a served bench, without a slash at its end, and the number of its process.

    Args:
        folder: where the bench is kept.
        is_demo: whether the demo's jobs are put on it.
    """
    words = ["serve", "--port", "0", "--folder", str(folder), *(["--demo"] if is_demo else [])]
    with subprocess.Popen([sys.executable, "-c", COMMAND, *words], stdout=subprocess.PIPE, text=True) as serving:
        assert serving.stdout is not None
        try:
            line = serving.stdout.readline()
            found = re.search(r"http://[\d.]+:\d+", line)
            assert found is not None, line
            yield found[0], serving.pid
        finally:
            serving.terminate()
            serving.wait(STOP_SECONDS)
