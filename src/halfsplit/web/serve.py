"""Serving the bench: the address it is found at, and a computer's own names."""

import contextlib
import gc
import ipaddress
import signal
import socket
from pathlib import Path

import uvicorn

from halfsplit.errors import Mistake, WebError
from halfsplit.store import jobs as stored_jobs
from halfsplit.web.app import OWN_NAMES, make_app
from halfsplit.web.demo import stock_demo
from halfsplit.web.desk import open_desk

LOOPBACK = "127.0.0.1"
PORT = 8600

KEPT_SECONDS = 120
"""So long a browser may keep its connection between two taps; a new one costs a way there and back."""


def serve(folder: Path, *, url: str = "", host: str = LOOPBACK, port: int = PORT, is_demo: bool = False) -> None:
    """Serve a bench until it is stopped, by Ctrl-C or by the system; both end it in order.

    Args:
        folder: where it is kept.
        url: of a PostgreSQL database to be used instead of the folder's.
        host: the address to listen at.
        port: the port, 0 = any that is free.
        is_demo: whether jobs of invented machines are put on an empty bench.

    Raises:
        WebError: HS804 the address or the port cannot be used.
        StoreError, BookError: the bench or its book cannot be opened.
    """
    with contextlib.suppress(KeyboardInterrupt), _listen(host, port) as listening:
        desk = open_desk(folder, url=url)
        gc.freeze()  # the program and the book stay: no tap waits until they are looked through for what is gone
        gc.enable()
        try:
            if is_demo:
                stock_demo(desk.bench, desk.clock())
            with desk.bench.store.reading() as connection:
                for row in reversed(stored_jobs.list_open(connection)):
                    desk.weigher.ask(row.number)
            desk.weigher.start()
            app = make_app(desk, names=(*OWN_NAMES, host, socket.gethostname()))
            address = f"http://{_bracketed(host)}:{listening.getsockname()[1]}/"
            print(f"The bench is at {address} (stop it with Ctrl-C)", flush=True)
            if not _is_loopback(host):
                print("Whoever reaches this address can read and change everything: keep it inside the shop.")
            signal.signal(signal.SIGTERM, signal.default_int_handler)
            config = uvicorn.Config(app, log_level="warning", access_log=False, timeout_keep_alive=KEPT_SECONDS)
            uvicorn.Server(config).run([listening])
        finally:
            desk.close()


def _listen(host: str, port: int) -> socket.socket:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    # named as TCP, so that its answers go out at once: asyncio sets TCP_NODELAY only where it sees that
    listening = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((host, port))
        listening.listen()  # who comes before the pages are ready waits a moment, and is not refused
    except (OSError, OverflowError) as error:
        listening.close()
        do = "Take another with --host and --port, or stop what uses it"
        so = f"it cannot be listened at ({error})"
        raise WebError([Mistake(f"{host}:{port}", "HS804", so, "the address and port are free", do)]) from error
    return listening


def _is_loopback(host: str) -> bool:
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == OWN_NAMES[0]


def _bracketed(host: str) -> str:
    return f"[{host}]" if ":" in host else host
