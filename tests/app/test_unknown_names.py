"""Names that were heard and that the log does not know are one where they sound alike."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest

from tests.web.evening import NOW, keep
from voicelog.app.session_catalog import SessionCatalog
from voicelog.app.unknown_names import answer_name, strange_names
from voicelog.model import Dog, Roster, UsageError, Verdict
from voicelog.store import Log

ROSTER = Roster(dogs=(Dog(name="Bracken"), Dog(name="Wren")), handlers=("Anna",))
FERN, NEARLY, TED = "F ER N", "F R N", "T EH D"


@pytest.fixture
def log(tmp_path: Path) -> Iterator[Log]:
    with Log.open(tmp_path, now=lambda: NOW) as log:
        for dog in ROSTER.dogs:
            log.put_dog(dog)
        yield log


def named(log: Log, name: str, day: int, *sounds: str) -> str:
    """A recording with a session begun for each of these names, all of them read as Wren."""
    lines = [line for _ in sounds for line in ("start session wren", "here no button came")]
    kept = keep(log, lines, name, at=datetime(2026, 4, day, 7, 30), roster=ROSTER)
    begun = [one for one in log.events(kept) if isinstance(one, Verdict)][::2]
    doubt = {"status": "doubtful", "confidence": 0.5}
    log.append(
        [
            one.model_copy(update={"id": f"{one.id}!", "stranger": sound, **doubt})
            for one, sound in zip(begun, sounds, strict=True)
        ]
    )
    return kept


def test_a_name_said_aloud_is_asked_about_once_and_answered_in_one_step(log: Log) -> None:
    first, second = named(log, "first", 1, FERN, TED), named(log, "second", 2, NEARLY)
    catalog = SessionCatalog(log)
    catalog.refresh()
    asked = strange_names(catalog)
    assert [(one.name, one.kind, len(one.places)) for one in asked] == [
        ("fern", "dog", 2),
        ("ted", "dog", 1),
    ]
    assert [place.recording for place in asked[0].places] == [first, second]

    with pytest.raises(UsageError, match="There is no dog 'Fern' on the roster"):
        answer_name(catalog, "fern", "Fern", "Anna", lambda: NOW)
    log.put_dog(Dog(name="Fern", cues=("here",)))  # a new dog: first the roster, then the answer
    told = answer_name(catalog, "fern", "Fern", "Anna", lambda: NOW)
    assert len(told) == 2
    assert [one.name for one in strange_names(catalog)] == ["ted"]
    dogs = [session.dog for kept in (first, second) for session in catalog.line(kept).sessions]
    assert dogs == ["Fern", "Wren", "Fern"]
    answer_name(catalog, "ted", "Wren", "Anna", lambda: NOW)
    assert strange_names(catalog) == ()
