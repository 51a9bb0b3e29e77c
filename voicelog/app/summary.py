"""The summaries of sessions, each beside the session before it of the same dog."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from voicelog.analysis.open_matters import OpenMatter
from voicelog.app.session_catalog import LoggedSession, SessionCatalog
from voicelog.app.session_choice import chosen_sessions
from voicelog.model import RecordingOutput
from voicelog.report.summary import Summary, summarise
from voicelog.safety.settings import stored_settings
from voicelog.store import StoredRecording

__all__ = ["session_summaries", "summary_of"]


def session_summaries(
    catalog: SessionCatalog,
    dog: str | None = None,
    day: date | None = None,
    *,
    every: bool = False,
) -> list[Summary]:
    """The summaries of sessions chosen as `chosen_sessions` does.

    Raises:
        VoicelogError: there is no such session.
    """
    summaries = []
    matters = catalog.matters(catalog.log.now().date())
    for heading in chosen_sessions(catalog, dog, day, every=every):
        page, recording = catalog.page(heading.key), catalog.log.recording(heading.recording)
        assert page is not None  # it was just listed
        assert recording is not None
        line = catalog.line(recording.id)
        own = matters.get(page.session.dog.name, ())
        summaries.append(summary_of(recording, line, page, catalog.before(heading), own))
    return summaries


def summary_of(
    recording: StoredRecording,
    line: RecordingOutput,
    page: LoggedSession,
    before: LoggedSession | None,
    matters: Sequence[OpenMatter],
) -> Summary:
    """The summary of one session: `page`, of a recording with its derived `line`; `before` is its
    dog's session before it, `matters` its dog's list."""
    return summarise(
        page.session,
        page.findings,
        line.entries,
        line.started_at,
        before.session if before else None,
        settings=stored_settings(recording.settings),
        matters=matters,
    )
