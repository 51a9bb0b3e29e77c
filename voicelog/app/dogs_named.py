"""Which dogs a recording names as the one worked, beside the one that was given with it.

The wrong file, the wrong option or a dog that nobody put on the roster: whoever adds the recording
is told at once, since all that follows would be kept for the wrong dog, or waits.
"""

from __future__ import annotations

from collections.abc import Sequence

from voicelog.grammar.grammar import Grammar
from voicelog.model import Event
from voicelog.model.adding import NamedDog
from voicelog.model.names import name_key
from voicelog.model.phrases import SessionDogPhrase
from voicelog.recognition.name_verification import spelled
from voicelog.session.entries import fold

__all__ = ["dogs_named"]


def dogs_named(
    events: Sequence[Event], grammar: Grammar, given: str | None
) -> tuple[NamedDog, ...]:
    """The dogs that are not surely the one given, each once, in order of time.

    Args:
        events: those of the recording.
        grammar: what its words are read with.
        given: the name of the dog that came with it, None where none did. Then only names that may
            not be on the roster are told.
    """
    found: dict[tuple[str, str], NamedDog] = {}
    for entry in fold(events, grammar.interpret):
        for phrase in entry.phrases:
            if not isinstance(phrase, SessionDogPhrase):
                continue
            sound = spelled(entry.stranger) if entry.stranger else ""
            other = given is not None and name_key(phrase.dog) != name_key(given)
            if sound or (other and entry.status == "accepted"):
                found.setdefault((phrase.dog, sound), NamedDog(entry.start_s, phrase.dog, sound))
    return tuple(found.values())
