"""What a person types as a note, wherever it is typed: in a file, on the page, in the terminal.

Sure is what is a note as it stands, or with short forms of one meaning written out. All else is
left to a person, with what lies near on offer; a name is never guessed. Until that person has read
it, it stands for no more than lies in the text: no press and no sign is put in that was not typed.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from rapidfuzz import process
from rapidfuzz.distance import OSA

from voicelog.grammar.abbreviations import MAX_EXPANSIONS, expansions, typed_pieces
from voicelog.grammar.completion import completions
from voicelog.grammar.fuzzy_match import fuzzy_matches
from voicelog.grammar.grammar import Grammar, normalize
from voicelog.grammar.typed_presses import presses_are_typed
from voicelog.grammar.within_text import PLACES, NoteWithin, notes_within
from voicelog.model.phrases import phrase_meaning

__all__ = [
    "TypedNote",
    "UnknownWord",
    "near_typed",
    "note_of",
    "read_typed_note",
    "unknown_words",
    "written_out",
]

_LIKE = 0.7
"""How like a word of the grammar must be to one that is none, to be proposed (0 to 1)."""
_SHORTEST = 3
"""Letters of the shortest word for which another is proposed."""
LOOKED_AT = 400
"""Letters of a text that are looked at for what lies near."""
_MOST_TEXTS = 16
"""Ways to write out its short forms in which notes are looked for."""
_MOST_OFFERS = 4
_MAY_BE_ELLIPTIC = frozenset({"condition", "equipment", "cue"})
"""Kinds of phrase in which a short form of several meanings is sure, where only one makes a note.
What tells of a press, a sign or an outcome is asked about all the same."""


class TypedNote(NamedTuple):
    """What was typed, as the grammar writes it.

    words: the text with its short forms written out, where they have one meaning.
    sure: whether that is a note.
    offers: where it is none, the notes that may be meant, likeliest first.
    near: the first of those where all of it was typed: it may stand until a person has read it.
    """

    words: str
    sure: bool
    offers: tuple[str, ...] = ()
    near: str | None = None


class UnknownWord(NamedTuple):
    """A typed word that the grammar does not have, and the likest one that it has, if any."""

    word: str
    meant: str | None


def read_typed_note(grammar: Grammar, text: str) -> TypedNote:
    """What a typed text is by a grammar. `text` may be of any form; its first 400 characters are
    looked at for offers."""
    if (only := note_of(grammar, text)) is not None:
        return TypedNote(only, sure=True)
    as_typed, whole = grammar.verbalize(text), written_out(grammar, text)
    words = whole[0] if len(whole) == 1 else as_typed
    meant = list(_one_wording(grammar, whole))
    if meant:
        return TypedNote(words, sure=False, offers=tuple(meant), near=meant[0])
    near = _near(grammar, whole)
    offers = dict.fromkeys([] if near is None else [near])
    if near is None or len(near.split()) != len(words.split()):  # else each slip has its one word
        offers |= dict.fromkeys(one.words for one in fuzzy_matches(grammar, words[:LOOKED_AT]))
    if near is None:
        offers |= dict.fromkeys(
            one.words
            for text in whole[:_MOST_TEXTS]
            for one in _within(grammar, text, known_too=True)
        )
    if not offers:
        offers |= dict.fromkeys(
            one.words for one in completions(grammar, text[:LOOKED_AT]) if one.typed
        )
    fit = [one for one in offers if presses_are_typed(grammar, (as_typed, *whole), one)]
    return TypedNote(words, sure=False, offers=tuple(fit)[:_MOST_OFFERS], near=near)


def near_typed(grammar: Grammar, text: str, notes: Iterable[str]) -> tuple[str, ...]:
    """Those of `notes` that may be offered for a typed text: none has a level or a press of which
    nothing was typed."""
    texts = (text, *written_out(grammar, text))
    return tuple(one for one in notes if presses_are_typed(grammar, texts, one))


def note_of(grammar: Grammar, text: str) -> str | None:
    """The note that a text surely is by `grammar`, as it stands or with its short forms written
    out; None where it is none."""
    as_typed = grammar.verbalize(text)
    return as_typed if grammar.interpret(as_typed) is not None else _only_note(grammar, text)


def unknown_words(grammar: Grammar, text: str) -> tuple[UnknownWord, ...]:
    """The words of a text that the grammar, its names and its short forms do not have, each once,
    with the likest word. A name is never proposed, and nothing for an everyday word of
    place, such as "left", which is no slip of "lift"."""
    known = grammar.words
    names = (*(dog.name for dog in grammar.roster.dogs), *grammar.roster.handlers)
    of_names = {word for name in names for word in normalize(name).split()}
    unknown = {
        word
        for text in written_out(grammar, text)
        for word in text.split()
        if word not in known and not any(letter.isdigit() for letter in word)
    }
    proposed = sorted(known - of_names)
    return tuple(
        UnknownWord(word, _likest(word, proposed))
        for word in dict.fromkeys(normalize(text).split())
        if word in unknown
    )


def _only_note(grammar: Grammar, text: str) -> str | None:
    """The one note that a text with short forms can be; None where there is none, where there may
    be others, and where a form of several meanings would tell of more than what holds."""
    pieces = typed_pieces(grammar.abbreviations, grammar.words, normalize(text))
    ways = expansions(pieces)
    written = {grammar.verbalize(" ".join(way)): way for way in ways}
    notes = {words: written[words] for words in _one_wording(grammar, written)}
    if len(notes) != 1 or len(ways) == MAX_EXPANSIONS:
        return None
    ((words, way),) = notes.items()
    chosen = [
        meant
        for meant, (piece, meanings) in zip(way, pieces, strict=True)
        if len(meanings) > 1 and meant != piece
    ]
    phrases = grammar.interpret(words) or ()
    told = [one.words for one in phrases if one.kind not in _MAY_BE_ELLIPTIC]
    return None if any(f" {one} " in f" {words} " for one in chosen for words in told) else words


def _one_wording(grammar: Grammar, texts: Iterable[str]) -> tuple[str, ...]:
    """Those of `texts` that are notes; of two that say the same ("nick four", "momentary four"),
    the first."""
    found: dict[object, str] = {}
    for text in texts:
        if (phrases := grammar.interpret(text)) is not None:
            found.setdefault(phrase_meaning(phrases), text)
    return tuple(found.values())


def written_out(grammar: Grammar, text: str) -> tuple[str, ...]:
    """The texts that a typed text may stand for by `grammar`, its short forms written out."""
    found = expansions(typed_pieces(grammar.abbreviations, grammar.words, normalize(text)))
    return tuple(dict.fromkeys(grammar.verbalize(" ".join(way)) for way in found))


def _near(grammar: Grammar, texts: Sequence[str]) -> str | None:
    """The one note that lies nearest in the texts that something may stand for; None where there is
    none, or two lie as near."""
    found = [one for text in texts[:_MOST_TEXTS] for one in _within(grammar, text)]
    least = min((one.cost for one in found), default=0.0)
    nearest = [one.words for one in found if one.cost == least]
    meanings = {phrase_meaning(grammar.interpret(words) or ()) for words in nearest}
    return nearest[0] if len(meanings) == 1 else None


def _within(grammar: Grammar, text: str, *, known_too: bool = False) -> tuple[NoteWithin, ...]:
    return notes_within(grammar, text[:LOOKED_AT], known_too=known_too)


def _likest(word: str, proposed: list[str]) -> str | None:
    if len(word) < _SHORTEST or word in PLACES:
        return None
    found = process.extractOne(word, proposed, scorer=OSA.normalized_similarity, score_cutoff=_LIKE)
    return None if found is None else str(found[0])
