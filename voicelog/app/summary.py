"""The summaries of sessions, each beside the session before it of the same dog."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date

from voicelog.analysis.open_matters import OpenMatter
from voicelog.analysis.plan import Plan
from voicelog.app.dog_history import dog_history
from voicelog.app.session_catalog import LoggedSession, SessionCatalog
from voicelog.app.session_choice import chosen_sessions
from voicelog.app.session_entries import entries_of
from voicelog.app.typed_lines import TYPED
from voicelog.model import RecordingOutput
from voicelog.report.summary import Summary, summarise
from voicelog.report.words import Face
from voicelog.safety.settings import stored_settings
from voicelog.store import StoredRecording

__all__ = ["session_summaries", "summary_of"]


def session_summaries(
    catalog: SessionCatalog,
    dog: str | None = None,
    day: date | None = None,
    *,
    every: bool = False,
) -> Iterator[Summary]:
    """The summaries of sessions chosen as `chosen_sessions` does, each made when it is asked for.

    Raises:
        VoicelogError: there is no such session, or a line of the settings is not good.
    """
    today = catalog.log.now().date()
    dog_known: tuple[str, Sequence[OpenMatter], Plan | None] | None = None
    for heading in chosen_sessions(catalog, dog, day, every=every):
        page, recording = catalog.page(heading.key), catalog.log.recording(heading.recording)
        assert page is not None  # it was just listed
        assert recording is not None
        line = catalog.line(recording.id)
        name = page.session.dog.name
        if dog_known is None or dog_known[0] != name:  # they come dog by dog
            own = dog_history(catalog, name, today, planned=True)
            dog_known = name, own.matters, own.plan
        _, matters, planned = dog_known
        yield summary_of(recording, line, page, catalog.before(heading), matters, planned)


def summary_of(
    recording: StoredRecording,
    line: RecordingOutput,
    page: LoggedSession,
    before: LoggedSession | None,
    matters: Sequence[OpenMatter],
    planned: Plan | None = None,
    face: Face = "terminal",
) -> Summary:
    """The summary of one session: `page`, of a recording with its derived `line`; `before` is its
    dog's session before it, `matters` its dog's list, `planned` its plan where a limit of a
    level is to be named, `face` where it is read."""
    return summarise(
        page.session,
        page.findings,
        entries_of(line, page.session.id),
        line.started_at,
        before.session if before else None,
        settings=stored_settings(recording.settings),
        typed=line.listeners == (TYPED,),
        matters=matters,
        planned=planned,
        face=face,
    )
