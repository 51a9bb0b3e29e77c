"""A dog's profile as it is written."""

from __future__ import annotations

from voicelog.model import CueMeaning, Dog


def test_a_profile_without_meanings_is_written_as_it_always_was() -> None:
    """Logs keep profiles by the hash of their text, and older programs read no unknown field."""
    dog = Dog(name="Wren", cues=("here", "hup"))
    assert "cue_meanings" not in dog.model_dump()
    assert "cue_meanings" not in dog.model_dump_json()
    told = dog.model_copy(update={"cue_meanings": (CueMeaning(cue="hup", meaning="sit"),)})
    assert Dog.model_validate_json(told.model_dump_json()) == told
    assert (told.meaning_of("hup"), told.meaning_of("here")) == ("sit", "")
