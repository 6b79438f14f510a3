"""``halfsplit demo``: the demo's machines, and one job played by itself."""

import tempfile
from pathlib import Path

from halfsplit.actions import Bench
from halfsplit.book import shipped_book
from halfsplit.store import open_store
from halfsplit.web.demo import JOBS, STORIES
from halfsplit.web.demo.play import play_demo


def show_play() -> None:
    """Play one job from intake to collection on a bench of its own, which is gone afterwards.

    Raises:
        BookError: the shipped book has mistakes.
    """
    with tempfile.TemporaryDirectory() as folder:
        bench = Bench(open_store(Path(folder)), shipped_book())
        try:
            for line in play_demo(bench):
                print(line, flush=True)
        finally:
            bench.store.close()


def show_demo_jobs() -> None:
    """List the job files of the demo, each with what it is."""
    for story in STORIES:
        path = JOBS / f"{story.file}.yaml"
        lines = path.read_text(encoding="utf-8").splitlines()
        about = " ".join(line.removeprefix("# ") for line in lines if line.startswith("#"))
        print(f"{path}\n  {about}")
