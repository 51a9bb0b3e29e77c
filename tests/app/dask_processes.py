"""A scheduler and workers of dask as real processes on the loopback, with TLS.

A worker loads `WORKER` first: there a file named "kills..." ends the process that begins to hear
it, and one named "once..." does so the first time.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from tests.store.log_cases import CHILD
from voicelog.web import self_signed

__all__ = ["tls_settings", "workers"]

WORKER = """
import os, signal
from pathlib import Path
from voicelog.app import heard_elsewhere
real, seen = getattr(heard_elsewhere, "real", heard_elsewhere._heard), Path({seen!r})
def heard(task):
    name = task.path.name
    before = seen.read_text() if seen.exists() else ""
    if name.startswith("kills") or name.startswith("once") and name not in before:
        with seen.open("a") as file:
            print(name, file=file)
        os.kill(os.getpid(), signal.SIGKILL)
    return real(task)
heard_elsewhere.real, heard_elsewhere._heard = real, heard  # dask may load this twice
"""


def tls_settings(folder: Path) -> dict[str, Any]:
    """Dask's settings for one certificate that all of them have and trust."""
    certificate, key = folder / "cluster.pem", folder / "cluster-key.pem"
    now = datetime.now(UTC)
    if not certificate.exists():
        self_signed.make(certificate, key, ["127.0.0.1"], now, now + timedelta(days=1))
    found: dict[str, Any] = {"distributed.comm.tls.ca-file": str(certificate)}
    for role in ("client", "scheduler", "worker"):
        found[f"distributed.comm.tls.{role}.cert"] = str(certificate)
        found[f"distributed.comm.tls.{role}.key"] = str(key)
    return found


@contextmanager
def workers(
    folder: Path, count: int = 2, *, nanny: bool = False, environment: dict[str, str] | None = None
) -> Iterator[str]:
    """The address of a scheduler with that many workers, a process each; they end with the context.

    nanny: a worker that dies is started again.
    environment: more variables, for the workers.
    """
    settings = {
        f"DASK_{name.upper().replace('.', '__').replace('-', '_')}": value
        for name, value in tls_settings(folder).items()
    }
    common = CHILD | settings | {"DASK_DISTRIBUTED__WORKER__DAEMON": "False"}
    (folder / "worker.py").write_text(WORKER.format(seen=str(folder / "seen")))
    address_file = folder / "scheduler.json"
    scheduler = _start(
        folder,
        common | {"DASK_DISTRIBUTED__SCHEDULER__ALLOWED_FAILURES": "1"},
        "scheduler",
        *("--protocol", "tls", "--host", "127.0.0.1", "--port", "0", "--no-dashboard"),
        *("--scheduler-file", str(address_file)),
    )
    started = [scheduler]
    try:
        for _ in range(count):
            started.append(
                _start(
                    folder,
                    common | (environment or {}),
                    "worker",
                    *("--scheduler-file", str(address_file), "--nthreads", "1"),
                    *("--no-dashboard", "--nanny" if nanny else "--no-nanny"),
                    *("--preload", str(folder / "worker.py"), "--local-directory", str(folder)),
                )
            )
        log = folder / "scheduler.log"
        patience = time.monotonic() + 150
        while log.read_text().count("Register worker") < count:
            assert time.monotonic() < patience, log.read_text()
            time.sleep(0.1)
        where = address_file.read_text("utf-8")
        yield where.partition('"address": "')[2].partition('"')[0]
    finally:
        for process in reversed(started):
            process.terminate()
        for process in started:
            try:
                process.wait(60)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()


def _start(
    folder: Path, environment: dict[str, str], what: str, *options: str
) -> subprocess.Popen[bytes]:
    program = f"from distributed.cli.dask_{what} import main; main()"
    with (folder / f"{what}.log").open("ab") as log:
        return subprocess.Popen(
            [sys.executable, "-c", program, *options],
            env=environment,
            stdout=log,
            stderr=log,
            cwd=os.fspath(folder),
        )
