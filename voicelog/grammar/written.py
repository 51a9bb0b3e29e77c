"""Between notes as they are spoken and notes as a person would write them down.

A listener that was taught on written text gives "Here, level 7, came." for "here level seven
came", may spell a word like another of the same sound ("hear"), and judges a reading best
when it is shown it in that dress.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from functools import lru_cache
from itertools import islice, product

from voicelog.grammar.grammar import Grammar
from voicelog.grammar.pronounce import Phones, UnspeakableError, shipped_pronouncer

__all__ = ["beginning", "example", "holds_note", "spoken", "written"]

MOST_TRIED = 64
"""Spellings of one text that are tried."""
LONGEST_HELD = 6
"""Words in a row of a text that are looked at for a note in it."""
MOST_NAMES = 8
"""Names that a listener is led on with."""
_REP = ("cue", "stimulus", "outcome", "sign")
"""Kinds of which one phrase each makes a rep in one breath."""


def written(grammar: Grammar, words: str) -> str:
    """A note as it would be written: its phrases parted by commas, numbers in digits.

    "here level seven came" becomes "Here, level 7, came."; words that are no note are only
    given a capital and a full stop.
    """
    phrases = grammar.interpret(words)
    parts = [phrase.words for phrase in phrases] if phrases else [words]
    return _sentence(", ".join(_with_digits(grammar, part) for part in parts))


def spoken(grammar: Grammar, text: str) -> tuple[str, ...]:
    """The notes that a written text may stand for, the one nearest to its letters first.

    Empty when it is none, however words that sound the same are spelled.
    """
    options = _options(grammar, text)
    return _notes(grammar, _said_once(options)) if all(options) else ()


def holds_note(grammar: Grammar, text: str) -> bool:
    """Whether some words in a row of a written text may stand for a note."""
    options = _options(grammar, text)
    for start in range(len(options)):
        for stop in range(start + 1, min(start + LONGEST_HELD, len(options)) + 1):
            if not options[stop - 1]:
                break
            if _notes(grammar, options[start:stop]):
                return True
    return False


def _options(grammar: Grammar, text: str) -> list[tuple[str, ...]]:
    """What each word of a written text may stand for in the grammar; nothing, for most."""
    text = re.sub(r"(\d)(?=[a-z])", r"\1 ", re.sub(r"(?<=\w)-(?=\w)", " ", text.casefold()))
    return [_same_sounding(grammar, word) for word in grammar.words_of(text).split()]


def _notes(grammar: Grammar, options: Sequence[tuple[str, ...]]) -> tuple[str, ...]:
    if not options:
        return ()
    tried = (" ".join(chosen) for chosen in islice(product(*options), MOST_TRIED))
    return tuple(one for one in dict.fromkeys(tried) if grammar.interpret(one) is not None)


def _said_once(options: list[tuple[str, ...]]) -> list[tuple[str, ...]]:
    """What is left when the whole says one thing three times or more: saying it once.

    A listener that writes text falls into such loops.
    """
    for length in range(1, len(options) // 3 + 1):
        times, rest = divmod(len(options), length)
        if options[:length] * times == options[: len(options) - rest] and (
            options[len(options) - rest :] == options[:rest]
        ):
            return options[:length]
    return options


def example(grammar: Grammar) -> str:
    """A few notes of the grammar as they would be written, with the names on its roster."""
    first = _first_forms(grammar)
    rep = ", ".join(first[kind] for kind in _REP if kind in first)
    notes = [first[kind] for kind in ("session", "equipment", "condition") if kind in first]
    return " ".join(_sentence(note) for note in (_names(grammar), rep, *notes) if note)


def beginning(grammar: Grammar) -> str:
    """The names on the roster, as they would be written; empty when there are none."""
    names = _names(grammar)
    return _sentence(names) if names else ""


def _sentence(note: str) -> str:
    return f"{note[:1].upper()}{note[1:]}."


def _names(grammar: Grammar) -> str:
    return ", ".join(dog.name for dog in grammar.roster.dogs[:MOST_NAMES])


@lru_cache(maxsize=8)
def _first_forms(grammar: Grammar) -> dict[str, str]:
    """The first wording of each kind; of a stimulus, the first with a number in it."""
    first: dict[str, str] = {}
    for form in grammar.forms:
        numbered = any(not isinstance(part, str) for part in form.parts)
        if form.kind not in first and (numbered or form.kind != "stimulus"):
            words = " ".join(
                part if isinstance(part, str) else _a_number(grammar, part.rule)
                for part in form.parts
            )
            first[form.kind] = _with_digits(grammar, words)
    return first


def _a_number(grammar: Grammar, rule: str) -> str:
    return grammar.numbers(rule).get(3) or next(iter(grammar.numbers(rule).values()))


def _with_digits(grammar: Grammar, words: str) -> str:
    left, done = words.split(), []
    digits = _digits_of(grammar)
    longest = max((len(said.split()) for said in digits), default=0)
    while left:
        for count in range(min(longest, len(left)), 0, -1):
            number = digits.get(" ".join(left[:count]))
            if number is not None:
                done.append(number)
                del left[:count]
                break
        else:
            done.append(left.pop(0))
    return " ".join(done)


@lru_cache(maxsize=8)
def _digits_of(grammar: Grammar) -> dict[str, str]:
    return {said: number for number, said in grammar.numerals.items()}


@lru_cache(maxsize=8192)
def _same_sounding(grammar: Grammar, word: str) -> tuple[str, ...]:
    """The words of the grammar that `word` may stand for, itself first."""
    known = _vocabulary(grammar)
    same = [word] if word in known else []
    same += [other for said in _sounds(word) for other in _by_sound(grammar).get(said, ())]
    if not same:
        halves = ((word[:at], word[at:]) for at in range(2, len(word) - 1))
        same = [f"{head} {tail}" for head, tail in halves if head in known and tail in known]
    return tuple(dict.fromkeys(same))


@lru_cache(maxsize=8)
def _vocabulary(grammar: Grammar) -> frozenset[str]:
    return frozenset(grammar.vocabulary)


@lru_cache(maxsize=8)
def _by_sound(grammar: Grammar) -> dict[Phones, list[str]]:
    found: dict[Phones, list[str]] = {}
    for word in grammar.vocabulary:
        for said in _sounds(word):
            found.setdefault(said, []).append(word)
    return found


@lru_cache(maxsize=4096)
def _sounds(word: str) -> Iterable[Phones]:
    try:
        return shipped_pronouncer().variants(word)
    except UnspeakableError:
        return ()
