"""Who hears: this process, several of this computer (--jobs), or a cluster (--cluster)."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import typer

from voicelog.app.cluster import ClusterAddress, cluster_workers
from voicelog.app.heard_elsewhere import HeardWith
from voicelog.app.hearing_workers import HearingWorkers, local_workers
from voicelog.model import UsageError
from voicelog.report.cluster_words import OPEN_CAUTION, workers_words

__all__ = ["chosen_workers"]


@contextmanager
def chosen_workers(
    count: int, jobs: int, cluster: str | None, unencrypted: bool, heard_with: HeardWith
) -> Iterator[HearingWorkers | None]:
    """Who was chosen by a command's options, as long as the context lasts; None: this process.

    Args:
        count: how many recordings there are.
        jobs: how many processes of this computer.
        cluster: the address of a scheduler, as typed; None for none.
        unencrypted: sound may be sent to it unencrypted.
        heard_with: what the recordings are heard with.

    Raises:
        UsageError: options that do not go together, or an address that is none.
        ClusterError: the cluster cannot be used.
    """
    if cluster is None:
        if unencrypted:
            raise UsageError(
                "Found --cluster-unencrypted without --cluster, wanted the address of a scheduler; "
                "add --cluster, or leave it out."
            )
        if jobs == 1 or count == 1:
            yield None
        else:
            with local_workers(jobs) as workers:
                yield workers
        return
    if jobs != 1:
        raise UsageError(
            "Found --jobs and --cluster together, wanted one of them: a cluster hears as many at "
            "the same time as it has workers; leave --jobs out."
        )
    address = ClusterAddress.read(cluster, unencrypted=unencrypted)
    if unencrypted:
        typer.echo(f"voicelog: {OPEN_CAUTION}", err=True)
    with cluster_workers(address, heard_with, unencrypted=unencrypted) as workers:
        typer.echo(workers_words(workers.width(), str(address)), err=True)
        yield workers
