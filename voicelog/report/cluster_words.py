"""What is said of recordings that other processes, or a cluster's workers, hear."""

from __future__ import annotations

from pathlib import Path

from voicelog.report.words import counted

__all__ = [
    "CANNOT_START_LISTENER",
    "OPEN_CAUTION",
    "ended_words",
    "gone_words",
    "killed_words",
    "no_scheduler_words",
    "open_words",
    "other_worker_words",
    "too_long_words",
    "worker_failed_words",
    "workers_words",
]

OPEN_CAUTION = (
    "Your sound is sent unencrypted: anyone in that network can listen to it, and can run programs "
    "on the workers and on this computer."
)
CANNOT_START_LISTENER = (
    "the setting distributed.worker.daemon, by which it cannot start the careful listener (start "
    "it with DASK_DISTRIBUTED__WORKER__DAEMON=False)"
)
"""What is wrong with a worker, as `ClusterError` puts it into its sentence."""


def workers_words(number: int, address: str) -> str:
    """How many workers hear, and where."""
    return f"Hearing with {counted(number, 'worker')} of {address}."


def open_words(what: str) -> str:
    """That an address or a worker would get the sound unencrypted."""
    return (
        f"Found {what} without encryption, wanted tls://, since your sound is sent there; set up "
        "certificates as the manual says, or, in a network where nobody else can listen or take "
        "part, add --cluster-unencrypted."
    )


def no_scheduler_words(address: str, patience_s: float, *, certificates: bool) -> str:
    """Why there is no connection. `patience_s`: how long it was tried, s; `certificates`: it is
    they that are missing."""
    if certificates:
        return (
            f"Found no certificates for {address}, wanted those of dask's own settings "
            "(distributed.comm.tls); name them there, as the manual says."
        )
    return (
        f"Found no scheduler at {address}, wanted one that answers within {patience_s:.0f} s; "
        "start it, correct the address, or check that its certificates and yours come from one "
        "authority."
    )


def gone_words(address: str) -> str:
    """That nobody is left who could hear a recording."""
    return (
        f"Found the scheduler at {address}, or all its workers, gone, wanted them to go on, so "
        "this recording was left out; start them, and run the same command again."
    )


def killed_words(name: str) -> str:
    """That workers die of a recording of that name."""
    return (
        f"Found that workers died again and again while they heard '{name}', wanted it heard, so "
        "it was left out; look at the workers' memory, or hear it here without --cluster."
    )


def worker_failed_words(name: str, error: BaseException) -> str:
    """That a worker could not hear a recording of that name, for an error of the program."""
    return (
        f"Found an error in a worker that heard '{name}' ({type(error).__name__}: {error}), "
        "wanted it heard, so it was left out; hear it here without --cluster."
    )


def other_worker_words(name: str) -> str:
    """That a recording of that name was given to a worker that would hear it otherwise."""
    return (
        f"Found another voicelog, or other listeners, in the worker that was given '{name}', "
        "wanted the same as here; stop that worker, and run the same command again."
    )


def ended_words(name: str) -> str:
    """That a process of this computer ended before a recording of that name was heard."""
    return (
        f"Found a process that hears ended from outside before '{name}' was done, wanted it to go "
        "on; run the same command again, with fewer --jobs if memory is short."
    )


def too_long_words(path: Path, most_gib: int) -> str:
    """That a file is too large to be sent. `most_gib`: the most that is sent, GiB."""
    return (
        f"Found more than {most_gib} GiB in {path}, wanted a smaller file to send to a worker; "
        "hear it without --cluster."
    )
