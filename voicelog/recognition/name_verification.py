"""Whether a name that was heard is the one on the roster, or another that nobody wrote there.

The grammar holds the names of the roster alone, so a session begun with any other dog would be
given to the dog whose name is nearest. Words of the dictionary that sound nearly like that name
are therefore put before the phones as well: where one of them lies clearly better, or where the
phones are quite others, the name was not said; in loud noise none may lie nearly as well either. A
listener that tells no phones cannot know, and is never sure of a name.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache

from rapidfuzz.distance import Levenshtein
from rapidfuzz.process import extract as nearest

from voicelog.grammar.grammar import Grammar, normalize
from voicelog.grammar.pronunciation import PHONES, shipped_pronouncer
from voicelog.model import Phrase
from voicelog.model.phrases import HandlerPhrase, SessionDogPhrase

__all__ = [
    "LOUD_NOISE_DB",
    "MAX_RIVAL_MARGIN",
    "MAX_RIVAL_MARGIN_IN_NOISE",
    "MIN_NAME_SCORE",
    "MIN_OTHER_NAME_MARGIN",
    "MIN_REST_SCORE",
    "other_name_readings",
    "rival_readings",
    "session_name_spans",
    "sound_likeness",
    "spelled",
]

MAX_RIVAL_MARGIN = 2.0
"""Nats by which another word may lie better in the phones than a name that is taken for surely
said. Of 48 names of the roster by twelve tuning voices in quiet, phones told by layers that had not
heard them, 39 lay so near; of 119 that are not on the roster ten, all of them "gem" for "jem" or
"brecon" for "bracken"; the next ("deal" for "teal") was 2.4 away."""
MIN_OTHER_NAME_MARGIN = 8.0
"""Nats by which another word must lie better than a name for that to be surely another one. Between
the two margins the name is to check, and no more: whoever chose the dog is believed. Of those 48
names of the roster one lay farther away, in the tuning narrations none of 24; of the 119 that are
not on it 32 lay nearer."""
MIN_NAME_SCORE = -12.0
"""Nats behind the likeliest phones of any kind beyond which a name was not said. Of 240 names of
the roster by twelve tuning voices, in quiet and four kinds of noise, none was, and two were more
than 10; of 600 names that are not on it six lay between the two."""
MIN_REST_SCORE = -12.0
"""Nats behind the likeliest phones that the other words ("start session") may be, to have been
said: of 120 such notes of the tuning voices one was more in quiet, two in pink noise at 10 dB."""
LOUD_NOISE_DB = 20.0
"""Decibels over the noise: where speech stands less over it, what tells "rennie" from "wren" may be
drowned, and MAX_RIVAL_MARGIN_IN_NOISE holds."""
MAX_RIVAL_MARGIN_IN_NOISE = -1.0
"""MAX_RIVAL_MARGIN in loud noise: the name must lie a nat ahead of every other word. Of 188 names
of the roster by the tuning voices in wind and in recorded and pink noise 112 did. Of 264 that are
not on it and do not sound the same none did, the nearest ("deal" for "teal") was 0.1 behind; of 30
that do ("gem" for "jem", "brecon" for "bracken") eleven."""
NEAR = 2
"""Phones by which a rival differs from a name at most (Levenshtein)."""
MOST = 300
"""Rivals of a name, the nearest."""
_LIKE_A_WORD = 0.5
"""How like phones must be to a word to be called by it (0 to 1)."""
_ALIKE = 20
"""Words that sound as like, of which the shortest is taken."""
_CODE = {phone: chr(ord("A") + place) for place, phone in enumerate(sorted(PHONES))}


def rival_readings(words: str, spans: Sequence[range]) -> tuple[str, ...]:
    """The reading with each word that sounds nearly like the name in one of its `spans` instead."""
    spoken = words.split()
    return tuple(
        " ".join((*spoken[: span.start], rival, *spoken[span.stop :]))
        for span in spans
        for rival in _rivals(" ".join(spoken[span.start : span.stop]))
    )


@lru_cache(maxsize=256)
def _rivals(name: str) -> tuple[str, ...]:
    """Words of the dictionary whose phones are few away from a name's, but not its own."""
    words, sounds = _dictionary()
    found: dict[str, int] = {}
    for phones in shipped_pronouncer().phrase(name):
        near = nearest(
            _coded(phones),
            sounds,
            scorer=Levenshtein.distance,
            score_cutoff=NEAR,
            limit=2 * MOST,
        )
        for _, away, place in near:
            found[words[place]] = min(int(away), found.get(words[place], NEAR))
    ranked = sorted((away, word) for word, away in found.items() if away > 0)
    return tuple(word for _, word in ranked[:MOST])


@lru_cache(maxsize=256)
def spelled(sound: str) -> str:
    """The word of the dictionary that is likest to phones, as `ctc.phones_heard` gives them, to
    call them by; themselves, with hyphens, where none is like them."""
    words, sounds = _dictionary()
    coded = _coded(sound.split())
    found = nearest(
        coded,
        sounds,
        scorer=Levenshtein.normalized_similarity,
        score_cutoff=_LIKE_A_WORD,
        limit=_ALIKE,
    )
    if not found:
        return sound.casefold().replace(" ", "-")
    alike = [words[place] for _, likeness, place in found if likeness == found[0][1]]
    return min(alike, key=lambda word: (len(word), word))


def sound_likeness(one: str, other: str) -> float:
    """How like two rows of phones are: 1 less their Levenshtein distance over the longer length."""
    return float(Levenshtein.normalized_similarity(_coded(one.split()), _coded(other.split())))


@lru_cache(maxsize=1)
def _dictionary() -> tuple[list[str], list[str]]:
    """The words of the dictionary and how each sounds, a character for each phone."""
    listed = [one for one in shipped_pronouncer().listed() if one[0].isalpha()]
    return [word for word, _ in listed], [_coded(phones) for _, phones in listed]


def _coded(phones: Sequence[str]) -> str:
    return "".join(_CODE[phone] for phone in phones)


def session_name_spans(phrases: Sequence[Phrase]) -> tuple[range, ...]:
    """Where among a reading's words, counted from 0, a session's dog or handler is named."""
    spans: list[range] = []
    begun = 0
    for phrase in phrases:
        words = phrase.words.split()
        for said in _names(phrase):
            count = len(said)
            for at in range(len(words) - count + 1):
                if words[at : at + count] == said:
                    spans.append(range(begun + at, begun + at + count))
                    break
        begun += len(words)
    return tuple(spans)


def other_name_readings(grammar: Grammar, words: str) -> tuple[str, ...]:
    """The same reading with each other dog or handler of the roster in place of the first named."""
    phrases = grammar.interpret(words) or ()
    spans = session_name_spans(phrases)
    if not spans:
        return ()
    spoken = words.split()
    before, after = spoken[: spans[0].start], spoken[spans[0].stop :]
    is_dog = any(isinstance(phrase, SessionDogPhrase) for phrase in phrases)
    roster = grammar.roster
    names = [dog.name for dog in roster.dogs] if is_dog else roster.handlers
    readings = (" ".join((*before, normalize(name), *after)) for name in names)
    return tuple(one for one in readings if one != words and grammar.interpret(one) is not None)


def _names(phrase: Phrase) -> Iterator[list[str]]:
    match phrase:
        case SessionDogPhrase(dog=name) | HandlerPhrase(handler=name):
            yield normalize(name).split()
        case _:
            pass
