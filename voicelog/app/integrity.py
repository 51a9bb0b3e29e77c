"""Is everything in the log there, as it was, and can it all be derived?"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from voicelog.app.session_catalog import SessionCatalog, ready_catalog
from voicelog.report.share_words import aside_lines
from voicelog.store import Log, SetAsideError
from voicelog.store.backup_proof import BackupProof, prove_newest_backup
from voicelog.store.integrity import IntegrityReport, check_integrity
from voicelog.store.share.asides import ShareAside, asides
from voicelog.store.share.exchange import kept_for_later

__all__ = ["LogCheck", "check_log", "set_aside_lines"]


@dataclass(frozen=True, slots=True)
class LogCheck:
    """What a check of a whole log found."""

    stored: IntegrityReport
    backup: BackupProof | None
    """The newest backup, restored to prove it; None where none is known."""
    aside: tuple[SetAsideError, ...]
    """Recordings that count nowhere: not derived, or not readable by this program."""
    shared: tuple[ShareAside, ...] = ()
    """What came through a share and does not derive."""
    later: int = 0
    """How many things came through a share that only a later program knows."""

    @property
    def aside_lines(self) -> tuple[str, ...]:
        """What counts nowhere, a sentence each."""
        return (*map(str, self.aside), *aside_lines(self.shared, self.later))


def check_log(
    log: Log, progress: Callable[[int, int], None] = lambda done, total: None
) -> LogCheck:
    """Read the whole log, every sound to its last byte, restore the newest backup to prove it, and
    derive what is stale. `progress` is told how many recordings are read, and of how many; the
    backup comes after them.

    Raises:
        DamagedLogError: the database contradicts itself.
    """
    found = check_integrity(log, progress)
    unreadable = {one: SetAsideError(name, why) for one, (name, why) in found.unreadable.items()}
    return LogCheck(
        found,
        prove_newest_backup(log),
        tuple((ready_catalog(log).asides() | unreadable).values()),
        asides(log),
        kept_for_later(log),
    )


def set_aside_lines(catalog: SessionCatalog) -> list[str]:
    """What of a log counts nowhere, a sentence each: recordings, and what came through a share."""
    shared = aside_lines(asides(catalog.log), 0)
    return [*map(str, catalog.asides().values()), *shared]
