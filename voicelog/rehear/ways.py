"""Another way in which a word may be said, tried on kept sound, and kept with a voice. Pure.

A pronunciation is only ever added beside the usual ones, and only for the quick listener, who
has a dictionary. What it gains is what hearing the same recordings with it and without it gives.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from voicelog.grammar.pronounce import Pronouncer, distance
from voicelog.hearing.accents import ACCENTS, can_say_accents, variants
from voicelog.hearing.voice import Voice
from voicelog.model import Record, VoicelogError
from voicelog.rehear.difference import Score

__all__ = ["GAIN", "NoWayError", "Trial", "Way", "spelled", "toward", "with_way"]

GAIN = 3
"""Entries that must come out sure and right more than before; fewer is luck. Our own choice."""


class NoWayError(VoicelogError):
    """No other pronunciation of a word is known."""

    def __init__(self, word: str, why: str) -> None:
        super().__init__(
            f"Found no other way to say '{word}' ({why}), wanted one to try; spell it as it is "
            f"said, for instance: voicelog learn --try {word} --like 'nine-uh'."
        )


class Way(Record):
    """A word and the phones, parted by spaces, that it may be said with."""

    word: str
    phones: str


class Trial(Record):
    """How a hearing did on what people have read, without a way and with it."""

    way: Way
    before: Score
    after: Score

    @property
    def gains(self) -> bool:
        """Whether it is worth keeping: GAIN more are right, and no more are wrong."""
        more = self.after.right - self.before.right
        return more >= GAIN and self.after.wrong <= self.before.wrong


def spelled(word: str, like: str) -> Way:
    """The way that a spelling by ear stands for. Raises UnspeakableError, or NoWayError where
    that is how the word is said anyhow."""
    say = Pronouncer()
    phones = say.phrase("-".join(like.split()))[0]
    if phones in say.variants(word):
        raise NoWayError(word, f"'{like}' is the usual one")
    return Way(word=word, phones=" ".join(phones))


def toward(word: str, heard: str) -> Way:
    """Of the ways in which other accents say a word, the one nearest to what it was heard as.

    Raises NoWayError where there is none, or eSpeak NG is not here; UnspeakableError for a word
    that cannot be pronounced.
    """
    if not can_say_accents():
        raise NoWayError(word, "accents need voicelog[voice]")
    say = Pronouncer()
    usual = say.variants(word)
    accented = (variants(accent, [word]).get(word, ()) for accent in ACCENTS)
    found = {tuple(way.split()) for ways in accented for way in ways} - set(usual)
    if not found:
        raise NoWayError(word, "no accent has another")
    other = say.phrase(heard)[0] if heard else ()
    nearest = min(sorted(found), key=lambda way: distance(way, other))
    return Way(word=word, phones=" ".join(nearest))


def with_way(voice: Voice | None, way: Way, handler: str, others: Iterable[Voice] = ()) -> Voice:
    """A handler's voice with one more way to say a word, as a new fit of that handler.

    `others` are all voices that are kept, so that its number is its own.
    """
    voice = voice or Voice(handler=handler)
    own = [one.number for one in others if one.handler.casefold() == voice.handler.casefold()]
    ways: Mapping[str, tuple[str, ...]] = {
        **voice.variants,
        way.word: tuple(dict.fromkeys((*voice.variants.get(way.word, ()), way.phones))),
    }
    return voice.model_copy(update={"variants": ways, "number": 1 + max(own, default=0)})
