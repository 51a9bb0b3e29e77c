"""Which words are too alike, and which have no sure pronunciation.

A pair of words matters most where putting one for the other makes another note ("collar
slipped", "collar stripped"): then a slip of the ear is a wrong record that looks right.
Names and cues can be chosen, so for those a better one is proposed; for words of the
grammar, another way to say the same, where there is one.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import combinations

from voicelog.grammar.grammar import Grammar, normalize
from voicelog.grammar.pronunciation import (
    NoPronunciationError,
    Origin,
    Phones,
    Pronouncer,
    sound_similarity,
)
from voicelog.grammar.sample_phrases import meaning, phrases
from voicelog.grammar.sound_alikes import ALIKE, near
from voicelog.grammar.suggested_names import SUGGESTED_NAMES, NameRole
from voicelog.model import Phrase
from voicelog.model.domain import RECALL_WORDS
from voicelog.model.phrases import named_level

__all__ = [
    "ConfusablePair",
    "DerivedPronunciation",
    "confusable_names",
    "confusable_words",
    "derived",
    "phrases_without_word",
    "safer_than",
    "safer_words",
    "speakable",
]

UNLIKE = 0.6
"""Likeness (0 to 1) to anything else below which a word is worth proposing; our own choice."""
BETTER = 3
"""Words proposed, at most."""
_DEFAULT_CUE = "here"


@dataclass(frozen=True, slots=True)
class ConfusablePair:
    """Two things that may be said and sound alike, or a name that is a word as well.

    notes: a note with the first, and the other note that the second makes of it; None where
        the one never stands in place of the other.
    better: what could be said instead of the first.
    """

    said: str
    role: NameRole | None
    other: str
    likeness: float
    notes: tuple[str, str] | None
    better: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class DerivedPronunciation:
    """A word that no dictionary has: where its pronunciation comes from, and the likeliest
    one; None where it cannot be pronounced."""

    word: str
    origin: Origin | None
    phones: Phones | None


# --- alike ------------------------------------------------------------------------------


def confusable_names(grammar: Grammar) -> tuple[ConfusablePair, ...]:
    """Names and cues of the grammar's roster that sound like something else, in its order.

    Those that cannot be pronounced are left out: `derived` has them.
    """
    return tuple(_alike_names(grammar))


def _alike_names(grammar: Grammar) -> Iterator[ConfusablePair]:
    names = list(_names(grammar))
    met: set[frozenset[str]] = set()
    for said, role in names:
        if said != _DEFAULT_CUE and _is_a_word(grammar, said):
            yield ConfusablePair(said, role, said, 1.0, None, safer_words(grammar, role, said))
        others = dict.fromkeys([*(other for other, _ in names), *_words(grammar)])
        for other in others:
            pair = frozenset((said, other))
            if len(pair) == 1 or pair in met or set(said.split()) & set(other.split()):
                continue
            likeness = sound_similarity(said, other)
            if likeness < ALIKE and not near(said, other):
                continue
            notes = _exchanged(grammar, said, other)
            if notes is None and (likeness < ALIKE or said == _DEFAULT_CUE):
                continue
            met.add(pair)
            yield ConfusablePair(
                said, role, other, likeness, notes, safer_words(grammar, role, said)
            )


def _is_a_word(grammar: Grammar, name: str) -> bool:
    """Whether a name is said in some phrase that does not mean the name."""
    for words, place in phrases(grammar):
        slots = grammar.forms[place].slots
        names = {normalize(str(slots[slot])) for slot in ("dog", "handler", "cue") if slot in slots}
        if f" {name} " in f" {words} " and name not in names:
            return True
    return False


def confusable_words(grammar: Grammar, top_level: int | None = None) -> tuple[ConfusablePair, ...]:
    """Words of the grammar, not of its roster, that make another note of each other.

    Levels above `top_level` cannot be spoken and are left out. Most alike first.
    """
    named = {word for name, _ in _names(grammar) for word in name.split()}
    found: dict[frozenset[str], ConfusablePair] = {}
    unlike: set[frozenset[str]] = set()
    for notes in _minimal_pairs(grammar):
        said, other = next(
            (a, b) for a, b in zip(*map(str.split, notes), strict=True) if a != b
        )  # fmt: skip
        pair = frozenset((said, other))
        if pair in found or pair in unlike or not named.isdisjoint(pair):
            continue
        likeness = _likeness(said, other)
        if likeness < ALIKE and not near(said, other):
            unlike.add(pair)
            continue
        meant, mistaken = (grammar.interpret(note) or () for note in notes)
        if meaning(meant) == meaning(mistaken):
            continue
        if top_level is not None and max(_level(meant), _level(mistaken)) > top_level:
            continue
        found[pair] = ConfusablePair(said, None, other, likeness, notes, ())
    doubtful = {word for pair in found for word in pair}
    pairs = (replace(one, better=_safer_notes(grammar, one, doubtful)) for one in found.values())
    return tuple(sorted(pairs, key=lambda one: -one.likeness))


def _safer_notes(grammar: Grammar, pair: ConfusablePair, doubtful: set[str]) -> tuple[str, ...]:
    """Other ways to say the first note of a pair, without a word that is in any pair itself."""
    assert pair.notes is not None
    kept = doubtful & set(pair.notes[0].split()) - {pair.said}
    free = (
        words
        for words in _synonyms(grammar, pair.notes[0])
        if not (doubtful - kept).intersection(words.split())
    )
    return tuple(free)[:BETTER]


def _minimal_pairs(grammar: Grammar) -> Iterator[tuple[str, str]]:
    """Every two phrases that differ in one word, the shortest first."""
    around: dict[tuple[tuple[str, ...], tuple[str, ...]], list[str]] = {}
    for note in _notes(grammar):
        words = tuple(note.split())
        for place in range(len(words)):
            around.setdefault((words[:place], words[place + 1 :]), []).append(note)
    for notes in around.values():
        yield from combinations(notes, 2)


def safer_words(grammar: Grammar, role: NameRole, said: str) -> tuple[str, ...]:
    """Words for that role that sound like nothing else, those with `said`'s first letter first."""
    taken = dict.fromkeys([*(name for name, _ in _names(grammar)), *_words(grammar)])
    return safer_than(said, role, tuple(taken))


def safer_than(said: str, role: NameRole, taken: tuple[str, ...]) -> tuple[str, ...]:
    """Words for that role that sound like none that is `taken`, all of which can be pronounced;
    those with `said`'s first letter first. The cues known here all call a dog in, so none is for a
    cue that is not known to do that: a dog that is stopped by a word is not to be called by it."""
    if role == "cue" and normalize(said) not in RECALL_WORDS.union(SUGGESTED_NAMES["cue"]):
        return ()
    unlike = _unlike(taken, role)
    first = [word for word in unlike if word[0].casefold() == said[0].casefold()]
    return tuple(dict.fromkeys((*first, *unlike)))[:BETTER]


@lru_cache(maxsize=16)
def _unlike(taken: tuple[str, ...], role: NameRole) -> tuple[str, ...]:
    """The candidates that sound like nothing else, the safest first."""
    worst = {
        word: max(sound_similarity(normalize(word), other) for other in taken)
        for word in SUGGESTED_NAMES[role]
    }
    fit = [word for word in worst if worst[word] < UNLIKE]
    return tuple(sorted(fit, key=lambda word: worst[word]))


def _names(grammar: Grammar) -> Iterator[tuple[str, NameRole]]:
    """Every name and cue as it is spoken, with its role."""
    roster = grammar.roster
    spoken: list[tuple[str, NameRole]] = [
        *((dog.name, "dog") for dog in roster.dogs),
        *((name, "handler") for name in roster.handlers),
        *((cue, "cue") for cue in roster.cues),
    ]
    for name, role in spoken:
        words = normalize(name)
        if words and all(speakable(word) for word in words.split()):
            yield words, role


def _likeness(a: str, b: str) -> float:
    return sound_similarity(a, b) if speakable(a) and speakable(b) else 0.0


@lru_cache(maxsize=4)
def _words(grammar: Grammar) -> tuple[str, ...]:
    """Every word that may be spoken and can be pronounced."""
    return tuple(filter(speakable, grammar.vocabulary))


def _exchanged(grammar: Grammar, said: str, other: str) -> tuple[str, str] | None:
    """The shortest note with `said` that `other` makes another note of, and that one."""
    for one, another in ((said, other), (other, said)):
        for note in _notes(grammar):
            if f" {one} " not in f" {note} ":
                continue
            changed = f" {note} ".replace(f" {one} ", f" {another} ", 1).strip()
            meant, mistaken = grammar.interpret(note), grammar.interpret(changed)
            if meant and mistaken and meaning(meant) != meaning(mistaken):
                return (note, changed) if one == said else (changed, note)
    return None


@lru_cache(maxsize=4)
def _notes(grammar: Grammar) -> tuple[str, ...]:
    """A note for each way to say a phrase, with every number that any phrase may carry first
    in "level N"; the shortest first."""
    numbers = [f"level {words}" for words in grammar.numbers("numbers.level").values()]
    notes = dict.fromkeys([*(words for words, _ in phrases(grammar)), *numbers])
    return tuple(sorted(notes, key=lambda note: (len(note.split()), note)))


def _synonyms(grammar: Grammar, note: str) -> tuple[str, ...]:
    """Other ways to say what a phrase says."""
    meant = meaning(grammar.interpret(note) or (), but="word")
    return tuple(
        dict.fromkeys(
            words
            for words, _ in phrases(grammar)
            if words != note and meaning(grammar.interpret(words) or (), but="word") == meant
        )
    )


def phrases_without_word(grammar: Grammar, word: str) -> tuple[str, ...]:
    """Phrases that say, without `word`, what the first phrase with it says."""
    for words, _ in phrases(grammar):
        if word in words.split():
            same = _synonyms(grammar, words)
            return tuple(other for other in same if word not in other.split())[:BETTER]
    return ()


def _level(phrases: Sequence[Phrase]) -> int:
    return max((named_level(phrase) or 0 for phrase in phrases), default=0)


# --- pronounced -------------------------------------------------------------------------


def derived(grammar: Grammar) -> tuple[DerivedPronunciation, ...]:
    """The words of the grammar that the dictionary does not have, sorted."""
    say = Pronouncer()
    found: list[DerivedPronunciation] = []
    for word in grammar.vocabulary:
        try:
            if say.origin(word) != "dictionary":
                found.append(DerivedPronunciation(word, say.origin(word), say.variants(word)[0]))
        except NoPronunciationError:
            found.append(DerivedPronunciation(word, None, None))
    return tuple(found)


def speakable(word: str) -> bool:
    """Whether a word can be pronounced."""
    try:
        return bool(_PRONOUNCER.variants(word))
    except NoPronunciationError:
        return False


_PRONOUNCER = Pronouncer()
