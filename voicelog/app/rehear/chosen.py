"""Which kept recordings are heard again."""

from __future__ import annotations

from datetime import date

from voicelog.app.session_catalog import SessionCatalog
from voicelog.model import VoicelogError
from voicelog.model.names import name_key
from voicelog.report.words import date_words
from voicelog.store import Log, SessionFilter, StoredRecording

__all__ = ["recordings_to_rehear"]


def recordings_to_rehear(
    log: Log, catalog: SessionCatalog, dog: str | None = None, day: date | None = None
) -> list[StoredRecording]:
    """The complete recordings of a dog and a day (None: of any), oldest first, without those
    that are set aside. `catalog` is that of `log`, refreshed.

    Raises:
        VoicelogError: there is none.
    """
    out = catalog.asides()
    kept = [one for one in log.recordings() if one.complete and one.id not in out]
    if dog is not None:
        known = (*catalog.dogs(), *(one.dog for one in kept if one.dog))
        name = next((one for one in known if name_key(one) == name_key(dog)), None)
        if name is None:
            have = ", ".join(dict.fromkeys(filter(None, known))) or "none yet"
            raise VoicelogError(
                f"Found no recording of '{dog}' in the log, wanted a dog that has one ({have}); "
                "correct the name or add a recording."
            )
        of_dog = {row.recording for row in catalog.headings(SessionFilter(dog=name)).rows}
        kept = [one for one in kept if one.dog == name or one.id in of_dog]
    if day is not None:
        kept = [one for one in kept if (one.started_at or one.added_at).date() == day]
    if not kept:
        raise VoicelogError(
            f"Found no recording{f' on {date_words(day)}' if day else ''} to hear again, wanted at "
            "least one; see 'voicelog summary --all'."
        )
    return sorted(kept, key=lambda one: (one.started_at or one.added_at).replace(tzinfo=None))
