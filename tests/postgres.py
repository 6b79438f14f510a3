"""A PostgreSQL server of the tests' own: in a temporary folder, on loopback, gone afterwards."""

import contextlib
import os
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path

INSTALL = "PostgreSQL's server is needed for these tests. Install it (on Debian: apt-get install postgresql)."
START_SECONDS = "60"


def find_program(name: str) -> str:
    """Return where a program of the server is."""
    versions = sorted(Path("/usr/lib/postgresql").glob(f"*/bin/{name}"), key=lambda path: float(path.parts[4]))
    found = shutil.which(name) or (str(versions[-1]) if versions else None)
    assert found is not None, INSTALL
    return found


def run(*words: str) -> None:
    """Run a program, as the user postgres where we are root: the server refuses to run as root."""
    change = {"user": "postgres", "group": "postgres", "extra_groups": []} if os.geteuid() == 0 else {}
    done = subprocess.run(words, capture_output=True, text=True, check=False, cwd="/", **change)
    assert done.returncode == 0, f"{' '.join(words)}: {done.stdout}{done.stderr}"


@contextlib.contextmanager
def server() -> Iterator[str]:
    """Give the address of a running server, without a database's name."""
    initdb, pg_ctl = find_program("initdb"), find_program("pg_ctl")
    with tempfile.TemporaryDirectory(prefix="halfsplit-pg-") as name:
        if os.geteuid() == 0:
            shutil.chown(name, "postgres", "postgres")
        data = f"{name}/data"
        run(initdb, "-A", "trust", "-U", "postgres", "-E", "UTF8", "--locale=C.UTF-8", "--no-sync", "-D", data)
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            port = probe.getsockname()[1]
        options = f"-p {port} -c listen_addresses=127.0.0.1 -c unix_socket_directories={name} -c fsync=off"
        run(pg_ctl, "-D", data, "-o", options, "-l", f"{name}/log", "-w", "-t", START_SECONDS, "start")
        try:
            yield f"postgresql://postgres@127.0.0.1:{port}"
        finally:
            run(pg_ctl, "-D", data, "-m", "immediate", "-w", "stop")
