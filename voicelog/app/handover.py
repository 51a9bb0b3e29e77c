"""What another handler has to know of a dog before a session, from what the papers rest on."""

from __future__ import annotations

from datetime import date

from voicelog.analysis.collar_use import uses_collar
from voicelog.analysis.dog_ceiling import dog_ceiling
from voicelog.app.dog_history import dog_history
from voicelog.app.session_catalog import SessionCatalog
from voicelog.app.session_choice import sessions_of_dog
from voicelog.app.summary import summary_of
from voicelog.report import handover_paper
from voicelog.report.paper import Paper
from voicelog.report.summary import Summary

__all__ = ["dog_handover"]


def dog_handover(catalog: SessionCatalog, name: str, today: date) -> Paper:
    """A dog's open matters, its ceiling and its last session; a new dog has to be on the roster.

    Args:
        catalog: that of the log, refreshed.
        name: the dog, without regard to letter case.
        today: the day as of which it is said.

    Raises:
        NoSessionsError: the log knows no such dog.
        SettingsError: a line of the settings is not good.
    """
    found = dog_history(catalog, name, today, may_be_new=True)
    ceiling = dog_ceiling(found.digests, found.dog, found.rules, matters=found.matters)
    rows = sessions_of_dog(catalog, name)
    last: Summary | None = None
    if rows:
        newest = rows[-1]
        page, kept = catalog.page(newest.key), catalog.log.recording(newest.recording)
        assert page is not None  # it was just listed
        assert kept is not None
        line = catalog.line(kept.id)
        last = summary_of(kept, line, page, catalog.before(newest), found.matters, found.plan)
    return handover_paper.build(
        found.dog,
        found.matters,
        ceiling,
        last,
        found.plan,
        today,
        collar=uses_collar(found.digests, found.dog),
    )
