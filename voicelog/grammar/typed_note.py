"""What a person types as a note, wherever it is typed: in a file, on the page, in the terminal.

Sure is what is a note as it stands, or with short forms of one meaning written out. All else is
left to a person, with what lies near on offer; a name is never guessed. Until that person has read
it, it stands for no more than lies in the text: no press and no sign is put in that was not typed.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache
from itertools import zip_longest
from typing import NamedTuple

from rapidfuzz import process
from rapidfuzz.distance import OSA

from voicelog.grammar.abbreviations import MAX_EXPANSIONS, expansions, typed_pieces
from voicelog.grammar.completion import completions
from voicelog.grammar.faithful_offer import keeps_what_was_typed
from voicelog.grammar.fuzzy_match import fuzzy_matches
from voicelog.grammar.grammar import Grammar, normalize
from voicelog.grammar.typed_doubt import called_or_pressed, doubted_parts
from voicelog.grammar.typed_names import names_are_typed, spoken_names_in
from voicelog.grammar.typed_parts import parted_line
from voicelog.grammar.typed_presses import presses_are_typed
from voicelog.grammar.typed_slips import PLACES, is_english, is_slip
from voicelog.grammar.within_text import (
    FILLING,
    NoteWithin,
    may_be,
    may_be_left_out,
    notes_within,
)
from voicelog.model.phrases import phrase_meaning

__all__ = [
    "TypedNote",
    "UnknownWord",
    "UnreadPart",
    "near_typed",
    "note_of",
    "read_typed_note",
    "unknown_words",
    "unread_parts",
    "unread_words",
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
_EMPTY = FILLING | {"gave", "good", "her", "his"}
"""Words of the grammar that tell of nothing alone."""
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


class UnreadPart(NamedTuple):
    """A part of a typed line that is no note, as it was typed, and what it may be, if anything."""

    part: str
    meant: str | None


class UnknownWord(NamedTuple):
    """A typed word that the grammar does not have, and the likest one that it has, if any."""

    word: str
    meant: str | None


def read_typed_note(grammar: Grammar, text: str) -> TypedNote:
    """What a typed text is by a grammar. `text` may be of any form; its first 400 characters are
    looked at for offers."""
    only = note_of(grammar, text)
    ways = () if only is None else called_or_pressed(grammar, text, only)
    if only is not None and not ways and not doubted_parts(text):
        return TypedNote(only, sure=True)
    as_typed, whole = grammar.verbalize(text), written_out(grammar, text)
    words = whole[0] if len(whole) == 1 else as_typed
    if ways:
        return TypedNote(words, sure=False, offers=ways)
    meant = _one_wording(grammar, whole) or _one_wording(grammar, _parted(grammar, text))
    if meant:
        return TypedNote(words, sure=False, offers=meant, near=meant[0])
    near = _near(grammar, whole) or _beside_talk(grammar, text)
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
    if not offers:
        offers |= dict.fromkeys(_mended(grammar, text))
    fit = near_typed(grammar, text, offers)[:_MOST_OFFERS]
    return TypedNote(words, sure=False, offers=fit, near=near if near in fit else None)


def unread_parts(grammar: Grammar, text: str) -> tuple[UnreadPart, ...]:
    """The parts of a text that is no note by `grammar` that are none, with the likeliest note or
    word for each; the whole of it where no part is one."""
    meant = {one.word: one.meant for one in unknown_words(grammar, text)}
    return tuple(
        UnreadPart(part, meant.get(part) or _meant_by(grammar, part))
        for part, kept in parted_line(grammar, text[:LOOKED_AT])
        if not kept
    )


def unread_words(grammar: Grammar, text: str) -> tuple[str, ...]:
    """Those parts as they were typed; none where the whole text is one."""
    parts = tuple(one.part for one in unread_parts(grammar, text))
    return () if parts == (normalize(text[:LOOKED_AT]),) else parts


def near_typed(grammar: Grammar, text: str, notes: Iterable[str]) -> tuple[str, ...]:
    """Those of `notes` that may be offered for a typed text: none has a level or a press of which
    nothing was typed, or drops or adds a word that matters."""
    texts = (text, *written_out(grammar, text), *_parted(grammar, text))
    again = called_or_pressed(grammar, text, note_of(grammar, text) or "")
    return tuple(
        one
        for one in notes
        if one in again
        or (presses_are_typed(grammar, texts, one) and keeps_what_was_typed(grammar, texts, one))
    )


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
        UnknownWord(word, _likest(grammar, word, proposed))
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


def _beside_talk(grammar: Grammar, text: str) -> str | None:
    """The note that is left of a text without the parts that tell of nothing the log knows, such as
    "gave her a" or "good girl"; None where there is none. A part with a number, a word that turns
    the meaning, or a word (or a slip of one) that tells of more than a reward is not left out."""
    told = [
        (word, kept)
        for part, kept in parted_line(grammar, text[:LOOKED_AT])
        for word in part.split()
    ]
    kept = [word for word, is_kept in told if is_kept]
    gone = [
        (word, after)
        for (word, is_kept), (after, _) in zip_longest(told, told[1:], fillvalue=("", False))
        if not is_kept
    ]
    telling = _telling_words(grammar)
    if not 0 < len(gone) <= len(kept) or not all(
        (word in FILLING or may_be_left_out(grammar, word, after))
        and word not in telling
        and (word in grammar.words or not any(is_slip(word, one) for one in telling))
        for word, after in gone
    ):
        return None
    notes = _one_wording(grammar, written_out(grammar, " ".join(kept)))
    return notes[0] if len(notes) == 1 and names_are_typed(grammar, text, notes[0]) else None


@lru_cache(maxsize=16)
def _telling_words(grammar: Grammar) -> frozenset[str]:
    """The words that tell of more than a reward, names too."""
    names = {
        word
        for form in grammar.forms
        for name in spoken_names_in(form.slots)
        for word in name.split()
    }
    words = {
        part
        for form in grammar.forms
        if form.kind != "reward"
        for part in form.parts
        if isinstance(part, str)
    }
    return frozenset((words | names) - _EMPTY)


def _mended(grammar: Grammar, text: str) -> tuple[str, ...]:
    """What a text may be with each part that is no note as what that part may be."""
    parts = parted_line(grammar, text[:LOOKED_AT])
    if not any(part.kept for part in parts):
        meant = _meant_by(grammar, text[:LOOKED_AT])
        return () if meant is None else (meant,)
    mended = [part.words if part.kept else _meant_by(grammar, part.words) for part in parts]
    if None in mended:
        return ()
    return _one_wording(grammar, written_out(grammar, " ".join(filter(None, mended))))


def _meant_by(grammar: Grammar, part: str) -> str | None:
    """The one note that lies near in the letters of a part and keeps what it says; None where there
    is none or there are several."""
    found = near_typed(grammar, part, [one.words for one in fuzzy_matches(grammar, part)])
    return found[0] if len(found) == 1 and names_are_typed(grammar, part, found[0]) else None


def _within(grammar: Grammar, text: str, *, known_too: bool = False) -> tuple[NoteWithin, ...]:
    return notes_within(grammar, text[:LOOKED_AT], known_too=known_too)


def _likest(grammar: Grammar, word: str, proposed: list[str]) -> str | None:
    """The word of the grammar that a word may be a slip of; two, where it is those written as
    one."""
    if len(word) < _SHORTEST or word in PLACES:
        return None
    if (parted := _parted(grammar, word)) and parted != (word,):
        return parted[0]
    if is_english(word):
        return next((one for one in proposed if may_be(grammar, word, one)), None)
    found = process.extractOne(word, proposed, scorer=OSA.normalized_similarity, score_cutoff=_LIKE)
    return None if found is None else str(found[0])


def _parted(grammar: Grammar, text: str) -> tuple[str, ...]:
    """The text with two words of the grammar that were written as one ("nobutton") as two; nothing
    where there are none."""
    words = normalize(text).split()
    parts = [_two_words(grammar, word) for word in words]
    return () if parts == words else written_out(grammar, " ".join(parts))


def _two_words(grammar: Grammar, word: str) -> str:
    """A word as the two that it is made of, where it is none itself and there is one way."""
    if word in grammar.words or word in grammar.abbreviations or is_english(word):
        return word
    ways = [
        f"{word[:at]} {word[at:]}"
        for at in range(2, len(word) - 1)
        if word[:at] in grammar.words and word[at:] in grammar.words
    ]
    return ways[0] if len(ways) == 1 else word
