"""Sentences on the words that may be spoken: what they become, and which are too alike."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from voicelog.grammar.ambiguity import AmbiguousWords
from voicelog.grammar.confusability import ConfusablePair
from voicelog.grammar.grammar import Grammar
from voicelog.grammar.sound_alikes import mistaken, sound_alike_readings
from voicelog.grammar.typed_note import unread_words
from voicelog.model import Phrase, Reading, Status, Utterance, Verdict
from voicelog.model.phrases import phrase_slots
from voicelog.report.roster_words import HEARD_AS
from voicelog.report.state_words import status_word
from voicelog.report.words import clock, listed

__all__ = [
    "ALIKE_NAMES",
    "ALIKE_WORDS",
    "SOUNDED_OUT",
    "TWO_MEANINGS",
    "UNPRONOUNCED",
    "many_levels_words",
    "name_line",
    "not_known_title",
    "sounded_out_line",
    "spoken_lines",
    "two_ways_line",
    "typed_lines",
    "unknown_line",
    "unpronounced_line",
    "word_line",
]

ALIKE_NAMES = "Names and cues that sound like something else"
UNPRONOUNCED = "Words that cannot be pronounced, so that nothing can be heard while they are there"
SOUNDED_OUT = "Words sounded out by their letters, since no dictionary has them or their parts"
TWO_MEANINGS = "Phrases that say two things"
ALIKE_WORDS = "Words of the grammar that make another note of each other"


def not_known_title(model: str) -> str:
    """The heading of words that a listener never hears; `model` is its name."""
    return f"Words that the Vosk model '{model}' does not know, so that it never hears them"


def unpronounced_line(word: str) -> str:
    """A word that cannot be pronounced, and what to do."""
    return f"{word}: spell it as it is said, in letters"


def sounded_out_line(word: str, phones: Sequence[str]) -> str:
    """A word that was sounded out as `phones`, and what to do where that is wrong."""
    return f"{word}: {' '.join(phones)}; if it is said otherwise, spell it so"


def many_levels_words(top: int) -> str:
    """That fewer levels are heard better than those up to `top`."""
    return (
        f"Levels go up to {top} here. With fewer on the transmitter, say so (voicelog dogs put DOG "
        "--top N, or in the dog's profile on the page): what it cannot do is then not listened for."
    )


def name_line(one: ConfusablePair) -> str:
    """A name or cue that sounds like something else, and what to call it instead. `one` is of a
    name or cue."""
    how = HEARD_AS[mistaken(one.said, one.other) or "sometimes"]
    like = "is a word of the grammar too" if one.said == one.other else f"{how} {one.other}"
    taken = f', and "{one.notes[0]}" may be taken for "{one.notes[1]}"' if one.notes else ""
    instead = f"; for the log, call it {_or(one.better)}" if one.better else ""
    if one.role == "cue" and one.better:
        instead = f"; a safer cue: {_or(one.better)}"
    return f"{one.role} {one.said}: {like}{taken}{instead}"


def word_line(one: ConfusablePair) -> str:
    """Two words of the grammar that make another note of each other. `one` is of two words, with
    the notes they make."""
    assert one.notes is not None  # words are listed only where they make another note
    instead = f"; for the first, {_or(one.better)} says the same" if one.better else ""
    return f"{one.notes[0]} / {one.notes[1]}{instead}"


def unknown_line(word: str, instead: Sequence[str]) -> str:
    """A word that a listener does not know, and what says the same `instead`, if anything."""
    return f"{word}: say {_or(instead)}" if instead else f"{word}: nothing else says the same"


def two_ways_line(one: AmbiguousWords) -> str:
    """Words that say two things: as what they are taken, and what else they could be. `one` holds
    each meaning."""
    first, *others = (" | ".join(_meaning(phrase) for phrase in way) for way in one.meanings)
    return f'"{one.words}" is taken as {first}; it could be {_or(others)}'


def _or(words: Sequence[str]) -> str:
    *most, last = words
    return f"{', '.join(most)} or {last}" if most else last


def _meaning(phrase: Phrase) -> str:
    """A phrase, its kind, and of its values what the words do not say themselves."""
    told = [
        str(value) if name in ("do", "class", "cue_by", phrase.kind) else f"{name} {value}"
        for name, value in phrase_slots(phrase).items()
        if name != "word" and f" {value} ".casefold() not in f" {phrase.words} "
    ]
    return f"{phrase.words} ({': '.join(filter(None, (phrase.kind, ', '.join(told))))})"


def typed_lines(
    grammar: Grammar, status: Status, reading: str, others: Sequence[str]
) -> Iterator[str]:
    """What typed words become, line by line.

    Args:
        grammar: what they are understood by.
        status: how sure it is.
        reading: the note, or the words where it is none.
        others: other notes that they may have been.
    """
    if status == "rejected":
        parts = listed(f'"{part}"' for part in unread_words(grammar, reading))
        where = f"; what is none in it: {parts}" if parts else ""
        if not others:
            yield f'"{reading}" is no note, and no note is like it{where}.'
            return
        yield f'"{reading}" is no note; these notes are like it, on offer:'
        yield from (f'  "{other}"' for other in others)
        return
    yield f'{status_word(status)}: "{reading}"'
    if status == "doubtful":
        yield "  not a note as it stands; the nearest, to check"
    yield from _meaning_lines(grammar, reading)
    yield from (f'  or "{other}"' for other in others)
    alike = sound_alike_readings(grammar, reading, grammar.roster.top_level)
    yield from (
        f'  spoken, it sounds like "{other}", so it must be heard more clearly' for other in alike
    )


def spoken_lines(
    grammar: Grammar, heard: Iterable[tuple[Utterance, Sequence[Reading], Verdict]]
) -> Iterator[str]:
    """What spoken words become, line by line: of each utterance, what each listener heard, the
    verdict, and what it means by the grammar."""
    count = 0
    for utterance, readings, verdict in heard:
        count += 1
        said = f': "{verdict.words}"' if verdict.status != "rejected" else ""
        span = f"{clock(utterance.start_s)} to {clock(utterance.end_s)}"
        yield f"{span}  {status_word(verdict.status)}{said}"
        for reading in readings:
            words = f'"{reading.words}"' if reading.words else "nothing"
            yield f"  {reading.who} heard {words}, sure to {reading.confidence:.0%}"
        if verdict.status != "rejected":
            yield from _meaning_lines(grammar, verdict.words)
            yield from (f'  or "{other}"' for other in verdict.alternatives)
    if not count:
        yield "No speech was found in it."


def _meaning_lines(grammar: Grammar, reading: str) -> Iterator[str]:
    meanings = grammar.meanings(reading)
    for phrase in meanings[0] if meanings else ():
        yield f"  {_meaning(phrase)}"
    for other in meanings[1:]:
        yield f"  it could also be: {' | '.join(map(_meaning, other))}"
