"""What a note that is offered for a typed text must keep of it.

An offer is one key away from the log. So it has no word that was not typed, and it drops none that
turns the meaning or its degree ("no yelp", "almost came"), no number, no dog's name, and none that
may tell of harm or of a press, or is a note by itself.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from itertools import pairwise

from voicelog.grammar.fuzzy_match import MAX_WORD_COST, difference
from voicelog.grammar.grammar import Grammar, normalize
from voicelog.grammar.harm_words import harm_told
from voicelog.grammar.typed_slips import is_english
from voicelog.grammar.within_text import FILLING, TURNING, may_be, may_be_left_out

__all__ = ["keeps_turns", "keeps_what_was_typed"]


def keeps_what_was_typed(grammar: Grammar, texts: Iterable[str], note: str) -> bool:
    """Whether `note` keeps, by the grammar, what one of `texts` says: what was typed, with its
    short forms written out in each way."""
    said = Counter(note.split())
    return any(_keeps(grammar, Counter(grammar.verbalize(text).split()), said) for text in texts)


def keeps_turns(text: str, note: str) -> bool:
    """Whether `note` says of each word of a text that turns the meaning what it turns: after it
    stands the word that was typed there, or one that begins with it ("no but" of "no button")."""
    typed, said = normalize(text).split(), note.split()
    return all(
        any(turned == turn and meant.startswith(after) for turned, meant in pairwise(said))
        for turn, after in pairwise(typed)
        if turn in TURNING
    )


def _keeps(grammar: Grammar, typed: Counter[str], said: Counter[str]) -> bool:
    left = list((typed - said).elements())
    for word in (said - typed).elements():
        meant = [one for one in left if _stands_for(grammar, one, word)]
        if not meant:
            return False
        left.remove(min(meant, key=lambda one: difference(one, word)))
    names = {part for dog in grammar.roster.dogs for part in normalize(dog.name).split()}
    told = " ".join(word for word in left if word not in FILLING)
    return harm_told(told) is None and all(
        word not in names and may_be_left_out(grammar, word, "") and grammar.interpret(word) is None
        for word in left
    )


def _stands_for(grammar: Grammar, typed: str, meant: str) -> bool:
    """Whether a word was typed for `meant`: a slip of it, or its beginning."""
    if typed in grammar.words:
        return False
    if is_english(typed):
        return may_be(grammar, typed, meant)
    return meant.startswith(typed) or difference(typed, meant) <= MAX_WORD_COST
