"""What comes of a file that is added, as numbers and codes."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import count
from pathlib import Path

import pytest

from tests.cli.run import typed_file
from voicelog.app.add import add_file, is_begun
from voicelog.app.grammars import grammar_of
from voicelog.app.open_file import IntakeOptions, named_dogs
from voicelog.model import Dog, Roster, UsageError
from voicelog.model.adding import AddedFile, Dating, HeardFile, NamedDog
from voicelog.report.added_words import added_words
from voicelog.safety.settings import Settings
from voicelog.session.entries import fold
from voicelog.session.variants import assemble
from voicelog.store import Log

BRACKEN = Roster(dogs=(Dog(name="Bracken"),), handlers=("Anna",))
TYPED = IntakeOptions(BRACKEN, Settings(), dog="Bracken", typed=True)
MORNING = datetime(2026, 4, 18, 7, 30)
NOON = datetime(2026, 4, 18, 12)


def opened(folder: Path) -> Log:
    seconds = count()
    return Log.open(
        folder / "log",
        now=lambda: datetime(2026, 5, 1, tzinfo=UTC) + timedelta(seconds=next(seconds)),
    )


def test_a_new_file_is_counted_by_how_sure_its_utterances_are(tmp_path: Path) -> None:
    path = typed_file(tmp_path, "start session bracken", "level three caem", "good girl then")
    with opened(tmp_path) as log:
        assert not is_begun(log, path)
        note = (
            "Line 2: 'caem' (did you mean 'came'?) is not a note as typed; to check as "
            "'level three came'.\nLine 3: 'good girl then' is not a note as typed; the whole line "
            "is left as not understood.\n'voicelog words card' shows all that can be "
            "written. Begin a remark of your own with '#' on a line of its own: it stays in "
            "the file alone."
        )
        assert add_file(log, path, TYPED) == AddedFile(HeardFile(1, 1, 1, note, dated=False))
        (kept,) = log.recordings()
        assert kept.complete
        assert kept.duration_s == 10.0


def test_the_date_of_one_that_is_there_is_set_where_that_is_clear(tmp_path: Path) -> None:
    path = typed_file(tmp_path, "start session bracken")
    at_seven, at_noon = replace(TYPED, at=MORNING), replace(TYPED, at=NOON)
    with opened(tmp_path) as log:
        add_file(log, path, TYPED)

        def dating(options: IntakeOptions, *, redate: bool = False) -> Dating | None:
            added = add_file(log, path, options, redate=redate)
            assert added.heard is None
            return added.dating

        assert dating(TYPED) == Dating("left", None, None)
        assert dating(at_seven) == Dating("set", None, MORNING)
        assert dating(at_seven) == Dating("left", MORNING, MORNING)
        assert dating(at_noon) == Dating("other", MORNING, NOON)
        assert dating(at_noon, redate=True) == Dating("set", MORNING, NOON)
        assert dating(TYPED) == Dating("left", NOON, None)


def test_a_file_without_an_utterance_takes_no_date(tmp_path: Path) -> None:
    path = typed_file(tmp_path)
    with opened(tmp_path) as log:
        add_file(log, path, TYPED)
        added = add_file(log, path, replace(TYPED, at=MORNING))
    assert added.dating == Dating("no utterance", None, MORNING)


def test_only_dogs_of_the_roster_are_named_unless_strangers_are_welcome() -> None:
    assert named_dogs(BRACKEN, (), strangers=False) == BRACKEN
    assert named_dogs(BRACKEN, ("Bracken",), strangers=False) == BRACKEN
    both = named_dogs(BRACKEN, ("Wren", "Bracken"), strangers=True)
    assert [dog.name for dog in both.dogs] == ["Bracken", "Wren"]
    assert both.handlers == ("Anna",)
    # a dog that is not the one named may be named in the sound all the same
    assert named_dogs(both, ("Wren",), strangers=False) == both
    with pytest.raises(UsageError, match="There is no dog 'Wren' on the roster"):
        named_dogs(BRACKEN, ("Wren",), strangers=False)


def test_a_dog_named_that_was_not_given_is_told_and_has_what_follows(tmp_path: Path) -> None:
    path = typed_file(tmp_path, "ss wren", "here nb c", "ss bracken", "here nb c")
    roster = Roster(dogs=(*BRACKEN.dogs, Dog(name="Wren")))
    with opened(tmp_path) as log:
        added = add_file(log, path, replace(TYPED, roster=roster))
        (kept,) = log.recordings()
        sessions = assemble(fold(log.events(kept.id), grammar_of(kept).interpret), roster)
    assert added.heard is not None
    assert added.heard.named == (NamedDog(0.0, "Wren"),)
    assert "At 0:00 Wren is named: what follows is Wren's." in added_words(added)
    assert [(one.dog.name, len(one.reps)) for one in sessions] == [("Wren", 1), ("Bracken", 1)]


def test_a_guess_at_typed_words_adds_no_press_sign_or_stop(tmp_path: Path) -> None:
    """What was read nearest to these lines were presses; none of it was typed."""
    lines = ("ss bracken", "here nb c", "skin red left side", "here nb", "stood c")
    path = typed_file(tmp_path, *lines)
    with opened(tmp_path) as log:
        add_file(log, path, TYPED)
        (kept,) = log.recordings()
        entries = fold(log.events(kept.id), grammar_of(kept).interpret)
    assert [(one.status, one.reading) for one in entries[2:]] == [
        ("doubtful", "skin red"),
        ("accepted", "here no button"),
        ("rejected", "stood came"),
    ]
    (session,) = assemble(entries, kept.roster)
    assert all(not rep.levels for rep in session.reps)
    assert "missed" in session.reps[-1].doubts  # that line may have said how it ended
