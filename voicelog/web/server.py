"""Open the page: to this user on this machine, or on the network with a code and encryption."""

from __future__ import annotations

import contextlib
import gc
import logging
import secrets
import socket
import threading
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import uvicorn

from voicelog.app.review.errors import PortError
from voicelog.app.review.review_service import ReviewService
from voicelog.store import Log
from voicelog.store.folder import ready_folder
from voicelog.web.app import make_app
from voicelog.web.certificate import Certificate, certificate
from voicelog.web.lock_door import make_door
from voicelog.web.lock_keeper import LockKeeper
from voicelog.web.running_page import noted_page
from voicelog.web.security import OPEN, Authenticator
from voicelog.web.take_out import clear_outgoing

__all__ = [
    "PageAddress",
    "access_code",
    "bound_socket",
    "host_names",
    "serve",
    "settle_memory",
    "uvicorn_settings",
]

LOOPBACK = "127.0.0.1"
_LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"  # none that is taken for another


@dataclass(frozen=True, slots=True)
class PageAddress:
    """Where the page is, and, on the network, its code and its certificate's fingerprint."""

    address: str
    """Opens once, for one browser, since it has a secret in it."""
    others: tuple[str, ...] = ()
    code: str = ""
    fingerprint: str = ""


def serve(
    folder: Path,
    *,
    port: int,
    who: str,
    named: bool,
    budget: int,
    network: bool = False,
    opened: Callable[[PageAddress], None],
    another: Callable[[str], None],
    now: Callable[[], datetime],
) -> None:
    """Serve the log in `folder` until interrupted; `opened` is told where. `who` corrects, where a
    browser says no other; it is `named` where a person gave that name.

    Whenever a browser has used an address, `another` is told the next. Where only a passphrase
    opens the log, the page asks for it before anything else.

    Raises:
        PortError: the port is taken, or may not be used.
        LogError: the log cannot be opened.
    """
    folder = ready_folder(folder)
    with (
        bound_socket("0.0.0.0" if network else LOOPBACK, port) as own,
        noted_page(folder, own.getsockname()[1]) as note,
    ):
        port = own.getsockname()[1]
        names = ["localhost", LOOPBACK, *(host_names() if network else ())]
        code, made = "", None
        if network:
            code = access_code()
            made = certificate(folder, names, datetime.now(UTC))
        scheme = "https" if network else "http"
        addresses = [f"{scheme}://{name}:{port}" for name in names]

        def once(secret: str) -> str:
            address = f"{addresses[1]}{OPEN}{secret}"
            note.tell(address)
            return address

        lock = Authenticator(
            code or None,
            cookie=f"voicelog_pass_{port}",
            told=lambda secret: another(once(secret)),
        )

        def tell_where() -> None:
            opened(
                PageAddress(
                    address=once(lock.secret),
                    others=tuple(addresses[2:]),
                    code=code,
                    fingerprint=made.fingerprint if made else "",
                )
            )

        hosts = [f"{name.lower()}:{port}" for name in [*names, "[::1]"]]
        token = secrets.token_urlsafe(32)
        keeper, one = LockKeeper(folder), _OneServer(own, made)
        door = make_door(keeper, hosts=hosts, lock=lock, close=one.close)
        asked = keeper.closed
        if asked:
            tell_where()
            one.run(door)
            if keeper.closed:
                return
        while True:
            with Log.open(folder, now=now) as log:
                service = ReviewService(log, now)
                app = make_app(
                    service,
                    hosts=hosts,
                    token=token,
                    who=who,
                    named=named,
                    budget=budget,
                    lock=lock,
                    keeper=keeper,
                    close=one.close,
                )
                keeping = threading.Thread(
                    target=_keep_up, args=(service,), name="keep up", daemon=True
                )
                keeping.start()
                clear_outgoing(log.folder)
                app.state.hearing.wake()
                app.state.watching.wake()
                if not asked:
                    tell_where()
                asked = True
                try:
                    one.run(app)
                finally:
                    service.close()
                    app.state.clips.close()
                    app.state.hearing.close()
                    app.state.watching.close()
                    keeping.join(timeout=5.0)
            if not keeper.to_do:
                return
            one.run(door, meanwhile=keeper.make_change)


class _OneServer:
    """Serves one application after another at the same socket, where who asks between two of them
    waits for the next."""

    def __init__(self, own: socket.socket, made: Certificate | None) -> None:
        self._own, self._made = own, made
        self._server: uvicorn.Server | None = None

    def run(self, app: object, meanwhile: Callable[[], None] | None = None) -> None:
        """Serve until `close`, or until interrupted, or until what is done `meanwhile` is done."""
        server = self._server = uvicorn.Server(uvicorn_settings(app, self._made))
        if meanwhile is None:
            with self._own.dup() as own:
                server.run(sockets=[own])
            return

        def do() -> None:
            try:
                meanwhile()
            finally:
                server.should_exit = True

        work = threading.Thread(target=do, name="meanwhile")
        work.start()
        with self._own.dup() as own:
            server.run(sockets=[own])
        work.join()

    def close(self) -> None:
        """End what is served."""
        if self._server is not None:
            self._server.should_exit = True


def access_code() -> str:
    """A new code to be typed: 59 bits, in three groups of letters."""
    return "-".join("".join(secrets.choice(_LETTERS) for _ in range(4)) for _ in range(3))


def _keep_up(service: ReviewService) -> None:
    """Catch up with the log until the page is closed."""
    service.warm_up()
    settle_memory()
    service.refresh_loop()


def settle_memory() -> None:
    """Keep the collector of garbage from going through everything in the middle of a correction:
    what is loaded by now stays for good, and little of what comes after is in circles."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 100)


def uvicorn_settings(app: object, made: Certificate | None) -> uvicorn.Config:
    """How an application is served: quietly, and encrypted where a certificate was `made`."""
    logging.getLogger("uvicorn.error").setLevel(logging.WARNING)
    return uvicorn.Config(
        app,  # type: ignore[arg-type]
        access_log=False,
        log_level="warning",
        server_header=False,
        lifespan="off",
        ws="none",
        limit_concurrency=64,
        timeout_keep_alive=5,
        timeout_graceful_shutdown=2,
        h11_max_incomplete_event_size=16 * 1024,
        ssl_certfile=str(made.path) if made else None,
        ssl_keyfile=str(made.key) if made else None,
    )


def bound_socket(host: str, port: int) -> socket.socket:
    """A socket that listens at `host` and `port` (0: any that is free); raises PortError."""
    own = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        own.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        own.bind((host, port))
        own.listen(128)
    except OSError as error:
        own.close()
        raise PortError(host, port, error.strerror or str(error)) from error
    return own


def host_names() -> list[str]:
    """Names and addresses of this machine that others on the network may use for it."""
    name = socket.gethostname()
    found = [name, f"{name.partition('.')[0]}.local"]
    with contextlib.suppress(OSError):
        found += socket.gethostbyname_ex(name)[2]
    with (
        contextlib.suppress(OSError),
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking,
    ):
        asking.connect(("192.0.2.1", 9))  # nothing is sent; it tells our own address
        found.append(asking.getsockname()[0])
    return [one for one in dict.fromkeys(found) if not one.startswith("127.")]
