"""``halfsplit serve``: the bench in the browser."""

import gc
import os
from pathlib import Path


def bench_folder() -> Path:
    """Return the folder that a bench is kept in where none is told."""
    for name in ("XDG_DATA_HOME", "LOCALAPPDATA"):
        if os.environ.get(name):
            return Path(os.environ[name]) / "halfsplit"
    return Path.home() / ".local" / "share" / "halfsplit"


def serve_bench(folder: Path | None, *, url: str, host: str, port: int, demo: bool) -> None:
    """Serve a bench until it is stopped.

    Args:
        folder: where it is kept; None = ``bench_folder()``.
        url: the address of a PostgreSQL database to be used instead of the folder's.
        host: the address to listen at.
        port: the port.
        demo: whether jobs of invented machines are put on an empty bench.

    Raises:
        WebError, StoreError, BookError: the address, the bench or the book cannot be used.
    """
    gc.disable()  # nothing that is loaded now is thrown away; ``serve`` puts it on again
    from halfsplit.web import serve  # noqa: PLC0415  only this command needs it

    serve(folder or bench_folder(), url=url, host=host, port=port, is_demo=demo)
