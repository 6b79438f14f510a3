"""``halfsplit backup``: a copy of the bench while it is in use."""

from pathlib import Path

from halfsplit.cli.serve import bench_folder
from halfsplit.store.backup import back_up
from halfsplit.store.opening import KEY


def make_backup(folder: Path | None, into: Path) -> None:
    """Copy a bench, and say what was not copied.

    Args:
        folder: where it is kept; None = ``bench_folder()``.
        into: the folder that the copy goes into.

    Raises:
        StoreError: see ``back_up``.
    """
    bench = folder or bench_folder()
    back_up(bench, into)
    print(f"{bench} is copied into {into}.")
    print(f"The key ({KEY}) is not: persons and private photos open by it alone. Keep a copy of it somewhere else.")
