"""Recordings heard by the workers of a cluster that is there: one of dask.distributed, by address.

Only hearing is handed out (`voicelog.app.heard_elsewhere`). Before any work every worker says what
it would hear with, and one that differs from here is refused, since it would hear other words.
Where a worker dies, dask gives its recording to another; how many may die of one is the scheduler's
setting `allowed-failures`.
Whoever reaches the scheduler can run programs on its workers and here: dask carries pickled Python.
So the connections are to be encrypted and have certificates (TLS), except within this machine.
"""

from __future__ import annotations

import ipaddress
import logging
import multiprocessing
import time
import warnings
from collections.abc import Iterator, Mapping
from concurrent.futures import CancelledError
from contextlib import contextmanager
from dataclasses import dataclass
from importlib.util import find_spec
from typing import Any
from urllib.parse import urlsplit

from voicelog.app.heard_elsewhere import (
    HeardWith,
    HearingOutcome,
    HearingTask,
    NotHeard,
    hear_task,
    hearing_identity,
)
from voicelog.app.hearing_workers import HearingWorkers
from voicelog.model import UsageError, VoicelogError
from voicelog.report.cluster_words import (
    CANNOT_START_LISTENER,
    gone_words,
    killed_words,
    no_scheduler_words,
    open_words,
    worker_failed_words,
)

__all__ = ["ClusterAddress", "ClusterError", "cluster_workers"]

_PATIENCE_S = 60.0
"""So long (s) it is waited for a worker where all are gone; one that died is started in less."""
_CONNECT_S = 20.0


class ClusterError(VoicelogError):
    """A cluster cannot be used, or not for this."""


@dataclass(frozen=True, slots=True)
class ClusterAddress:
    """Where a scheduler is: scheme "tls" or "tcp", host and port."""

    scheme: str
    host: str
    port: int

    @classmethod
    def read(cls, text: str, *, unencrypted: bool = False) -> ClusterAddress:
        """An address as it was typed.

        Args:
            text: such as "tls://kennel.lan:8786".
            unencrypted: sound may be sent unencrypted to other machines.

        Raises:
            UsageError: it is none, or it leads to another machine, not encrypted, and that was not
                said to be wanted.
        """
        parts = urlsplit(text)
        try:
            host, port = parts.hostname, parts.port
        except ValueError:
            host, port = None, None
        if parts.scheme not in ("tls", "tcp") or not host or not port or parts.path.strip("/"):
            raise UsageError(
                f"Found '{text}' for --cluster, wanted the address of a scheduler, such as "
                "tls://192.168.1.5:8786; it is shown where the scheduler was started."
            )
        found = cls(parts.scheme, host, port)
        if not (found.private or unencrypted):
            raise UsageError(open_words(f"the address {text}"))
        return found

    @property
    def private(self) -> bool:
        """Whether what is sent there is encrypted, or does not leave this machine."""
        return self.scheme == "tls" or _is_here(self.host)

    def __str__(self) -> str:
        host = f"[{self.host}]" if ":" in self.host else self.host
        return f"{self.scheme}://{host}:{self.port}"


def _is_here(host: str) -> bool:
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


@contextmanager
def cluster_workers(
    address: ClusterAddress, heard_with: HeardWith, *, unencrypted: bool = False
) -> Iterator[HearingWorkers]:
    """The workers of the scheduler there, as long as the context lasts.

    Args:
        address: where the scheduler is.
        heard_with: what the first recordings are heard with; by this the workers are compared with
            this installation.
        unencrypted: sound may be sent unencrypted to other machines.

    Raises:
        ClusterError: dask is not installed here, the scheduler does not answer, or has no workers.
        UsageError: a worker would get the sound unencrypted.
        VoicelogError: what would hear here is damaged or missing.
    """
    if find_spec("distributed") is None:
        raise ClusterError(
            "Found no library for clusters (dask.distributed), wanted it for --cluster; install it "
            "with: pip install 'voicelog[cluster]'"
        )
    # An extra, and more than a second to load; nothing else needs it.
    import dask
    from distributed import Client, KilledWorker

    logging.getLogger("distributed").setLevel(logging.CRITICAL)  # what is wrong is said here
    quiet = {"distributed.admin.large-graph-warning-threshold": "2GiB"}  # recordings are large
    connect: Any = Client  # its functions have no types
    with dask.config.set(quiet), warnings.catch_warnings():
        warnings.simplefilter("ignore")  # other versions are told by the comparison below
        try:
            client = connect(str(address), timeout=_CONNECT_S, set_as_default=False)
        except (OSError, ValueError, TypeError, RuntimeError) as error:
            missing = isinstance(error, TypeError)  # so dask says that it has no certificates
            said = no_scheduler_words(str(address), _CONNECT_S, certificates=missing)
            raise ClusterError(said) from error
        cluster = _Cluster(client, address)
        try:
            cluster.check(heard_with, unencrypted)
            yield HearingWorkers(
                client.get_executor(pure=False),
                cluster.width,
                cluster.failed,
                sends=True,
                killed=(KilledWorker,),
                lost=cluster.lost,
                hear=_hear_in_worker,
            )
        finally:
            client.close(timeout=_CONNECT_S)


@dataclass(slots=True)
class _Cluster:
    """The connection to a scheduler, and since when it has no workers."""

    client: Any
    address: ClusterAddress
    known: int = 0
    alone_since: float | None = None

    def check(self, heard_with: HeardWith, unencrypted: bool) -> None:
        """Refuse workers that would hear otherwise than this installation, or unencrypted."""
        workers = self._workers()
        if not workers:
            raise ClusterError(
                f"Found no workers at {self.address}, wanted at least one; start one with: "
                f"dask worker {self.address} --nthreads 1"
            )
        for name in workers:
            worker = urlsplit(name)
            private = worker.scheme == "tls" or _is_here(worker.hostname or "")
            if not (private or unencrypted):
                raise UsageError(open_words(f"the worker {name}"))
        wanted = hearing_identity(heard_with)
        answers = self.client.run(_worker_identity, heard_with, on_error="return")
        for name, answer in answers.items():
            refused = _difference(wanted, answer)
            if refused is not None:
                raise ClusterError(
                    f"Found the worker {name} with {refused}, wanted it as on this computer, or it "
                    "would hear other words; set it up like this computer, or stop it."
                )
        self.known = len(workers)

    def width(self) -> int:
        """How many workers there are; as last known where the scheduler does not say."""
        workers = self._workers()
        if workers:
            self.known, self.alone_since = len(workers), None
        return self.known

    def lost(self) -> str | None:
        """One sentence once there has been no scheduler, or no worker, for a minute."""
        if self.client.status == "running" and self._workers():
            self.alone_since = None
            return None
        now = time.monotonic()
        self.alone_since = self.alone_since or now
        if self.client.status != "closed" and now - self.alone_since < _PATIENCE_S:
            return None
        return gone_words(str(self.address))

    def failed(self, error: BaseException, name: str) -> str:
        """What to say of a recording of that name that was not heard."""
        # As above: loaded by now.
        from distributed import KilledWorker

        if isinstance(error, KilledWorker):
            return killed_words(name)
        if isinstance(error, CancelledError) or self.client.status != "running":
            return gone_words(str(self.address))
        return worker_failed_words(name, error)

    def _workers(self) -> Mapping[str, Any]:
        try:
            found: Mapping[str, Any] = self.client.scheduler_info()["workers"]
        except Exception:  # whatever it raises where the connection is gone
            return {}
        return found


def _hear_in_worker(task: HearingTask) -> HearingOutcome:
    """`hear_task`, but any error comes back in words: some cannot be sent, and then dask never says
    that the task has ended."""
    try:
        return hear_task(task)
    except Exception as error:
        return NotHeard(worker_failed_words(task.name, error))


def _worker_identity(heard_with: HeardWith) -> dict[str, str] | str:
    """What hears in this worker, or why nothing can."""
    try:
        found = hearing_identity(heard_with)
    except VoicelogError as error:
        return f"listeners that cannot be used ({str(error).rstrip('.')})"
    careful = any(name.startswith("whisper ") for name in found)
    alone = multiprocessing.current_process().daemon
    return CANNOT_START_LISTENER if careful and alone else found


def _difference(wanted: Mapping[str, str], answer: object) -> str | None:
    """What a worker has that differs from here, in words; None where nothing does."""
    if isinstance(answer, str):
        return answer
    if not isinstance(answer, Mapping):
        return f"no voicelog that knows of clusters ({type(answer).__name__}: {answer})"
    differs = [
        f"another {name}" if name in answer else f"no {name}"
        for name in wanted
        if answer.get(name) != wanted[name]
    ]
    differs += [f"a {name}" for name in answer if name not in wanted]
    return ", ".join(differs) or None
