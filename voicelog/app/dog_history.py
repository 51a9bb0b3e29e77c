"""What the papers on a dog rest on: its sessions in short, profile, thresholds and open matters.

All papers take it from here, so that none of them knows more, or less, than another.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from pathlib import Path

from voicelog.analysis.open_matters import OpenMatter
from voicelog.analysis.plan import Plan, plan
from voicelog.analysis.session_digest import SessionDigest
from voicelog.app.matters import dog_matters
from voicelog.app.open_log import settings_in_force
from voicelog.app.session_catalog import SessionCatalog
from voicelog.app.session_choice import logged_dog, no_sessions
from voicelog.model import Dog
from voicelog.safety.settings import Thresholds

__all__ = ["DogHistory", "dog_history"]


@dataclass(frozen=True)
class DogHistory:
    """What the papers on a dog rest on."""

    digests: Sequence[SessionDigest]
    """Its sessions in short, oldest first; empty for a dog of the roster that has none yet."""
    dog: Dog
    """Its profile of today, or, where it has none, one with the transmitter last used."""
    rules: Thresholds
    """The thresholds in force for it."""
    matters: Sequence[OpenMatter]
    """Its list of open matters."""
    today: date
    """The day as of which it is said."""

    @cached_property
    def plan(self) -> Plan:
        """Its plan, the same on every paper."""
        return plan(self.digests, self.dog, self.rules, self.today, matters=self.matters)


def dog_history(
    catalog: SessionCatalog,
    name: str,
    today: date,
    settings: Path | None = None,
    *,
    may_be_new: bool = False,
    planned: bool = False,
) -> DogHistory:
    """What the log knows of a dog.

    Args:
        name: the dog, without regard to letter case.
        settings: the settings file; None: the log's own, or the defaults.
        may_be_new: a dog of the roster without a session will do.
        planned: of its sessions those that its plan is made from will do.

    Raises:
        NoSessionsError: the log has no session of it.
        SettingsError: a line of the settings is not good.
    """
    profile, logged = catalog.log.roster().dog(name), logged_dog(catalog, name)
    if logged is None and not (may_be_new and profile is not None):
        raise no_sessions(catalog, name)
    digests: Sequence[SessionDigest] = ()
    if logged is not None:
        every = catalog.session_digests
        digests = catalog.planned(logged).get(logged, ()) if planned else every(logged)
    dog = profile or Dog(name=logged or name, transmitter=digests[-1].transmitter)
    rules = settings_in_force(catalog.log, settings).for_dog(dog.name)
    return DogHistory(digests, dog, rules, dog_matters(catalog, dog.name, today), today)
