"""The summaries of sessions, each beside the session before it of the same dog."""

from __future__ import annotations

from datetime import date

from voicelog.app.dog_history import DogHistory, dog_history
from voicelog.app.session_catalog import LoggedSession, SessionCatalog
from voicelog.app.session_choice import chosen_sessions
from voicelog.model import RecordingOutput
from voicelog.report.summary import Summary, summarise
from voicelog.safety.settings import stored_settings
from voicelog.store import CacheHeading, StoredRecording

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
        VoicelogError: there is no such session, or a line of the settings is not good.
    """
    summaries = []
    today = catalog.log.now().date()
    dogs: dict[str, DogHistory] = {}
    for heading in chosen_sessions(catalog, dog, day, every=every):
        page, recording = catalog.page(heading.key), catalog.log.recording(heading.recording)
        assert page is not None  # it was just listed
        assert recording is not None
        line = catalog.line(recording.id)
        name = page.session.dog.name
        if name not in dogs:
            dogs[name] = dog_history(catalog, name, today)
        summaries.append(summary_of(catalog, heading, recording, line, page, dogs[name]))
    return summaries


def summary_of(
    catalog: SessionCatalog,
    heading: CacheHeading,
    recording: StoredRecording,
    line: RecordingOutput,
    page: LoggedSession,
    dog: DogHistory,
) -> Summary:
    """The summary of one session: `page`, of a recording with its derived `line`. `dog` is what
    is known of its dog."""
    before = catalog.before(heading)
    return summarise(
        page.session,
        page.findings,
        line.entries,
        line.started_at,
        before.session if before else None,
        settings=stored_settings(recording.settings),
        matters=dog.matters,
        planned=dog.plan,
    )
