"""Complete what a person begins to type: "l9 c" offers "level nine came".

Each typed piece is the beginning of a word, a number in digits, or the initials of a phrase
("nt" for "neck twitch"); words that were not typed are filled in where a phrase needs them, but
never a name of which no letter was typed. What is offered is always a note of the grammar.
Nothing is decided here: a person picks.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from typing import NamedTuple

from voicelog.grammar.grammar import Grammar, PhraseTemplate, normalize
from voicelog.grammar.typed_names import names_are_typed, spoken_names_in

__all__ = ["Completion", "completions"]

BEGUN = 0.2
"""What a word costs that was begun, not typed whole."""
FILLED = 1.0
"""What a word costs that was not typed."""
KNOWN = 0.3
"""The same for a word of the reading at hand: "9" beside "level five" is "level nine"."""
PHRASE = 0.05
MAX_TYPED_WORDS = 16
"""Pieces of what is typed that are looked at; no note is longer."""


class Completion(NamedTuple):
    """A note that a text may become."""

    words: str
    typed: bool
    """Whether every word was typed, begun or in the reading at hand, and every name typed whole."""
    whole: bool
    """Whether no word was only begun either: what is offered so may be taken with Enter, the rest
    has to be chosen, since "thumb of" may be a slip for "thumb on"."""


class _Offer(NamedTuple):
    cost: float
    words: tuple[str, ...]


def completions(
    grammar: Grammar, text: str, *, like: str = "", spoken: Collection[str] = (), limit: int = 6
) -> tuple[Completion, ...]:
    """The notes that `text` may become, the likeliest first; none when nothing fits.

    `like` is the reading that is about to be replaced: its words are filled in most readily.
    `spoken` are words said elsewhere, which are likelier than others to be meant.
    """
    pieces = re.findall(r"\d+|[^\W\d][^\s\d]*", normalize(text))[:MAX_TYPED_WORDS]
    if not pieces:
        return ()
    known = frozenset(grammar.verbalize(like).split())
    best: list[list[_Offer]] = [[] for _ in pieces] + [[_Offer(0.0, ())]]
    for start in reversed(range(len(pieces))):
        offers: dict[tuple[str, ...], float] = {}
        for form in grammar.forms:
            matched = _match(grammar, form, pieces[start:], known, spoken)
            if matched is None:
                continue
            used, cost, words = matched
            for rest in best[start + used]:
                whole = (*words, *rest.words)
                total = cost + PHRASE + rest.cost
                offers[whole] = min(total, offers.get(whole, total))
        ranked = sorted(offers.items(), key=lambda item: item[1])[: 2 * limit]
        best[start] = [_Offer(cost, words) for words, cost in ranked]
    costs = {" ".join(offer.words): offer.cost for offer in reversed(best[0])}
    as_typed = grammar.verbalize(text)
    found = dict.fromkeys((as_typed, *(" ".join(offer.words) for offer in best[0])))
    notes = [words for words in found if grammar.interpret(words) is not None]

    def completion(words: str) -> Completion:
        typed = words == as_typed or (
            costs[words] < FILLED and names_are_typed(grammar, text, words)
        )
        return Completion(words, typed, typed and set(words.split()).issuperset(as_typed.split()))

    return tuple(map(completion, notes[:limit]))


def _match(
    grammar: Grammar,
    form: PhraseTemplate,
    pieces: Sequence[str],
    known: Collection[str],
    spoken: Collection[str],
) -> tuple[int, float, tuple[str, ...]] | None:
    """How many pieces a form takes up, at what cost, and its words; None where it takes none."""
    initials = "".join(part[0] for part in form.parts if isinstance(part, str))
    if pieces[0] == initials and len(initials) == len(form.parts) > 1:
        return 1, len(initials) * BEGUN, tuple(map(str, form.parts))
    used, cost = 0, 0.0
    words: list[str] = []
    name = {word for spelled in spoken_names_in(form.slots) for word in spelled.split()}
    named = not name
    for part in form.parts:
        if not isinstance(part, str):
            number, taken = _number(grammar, part.rule, pieces[used:])
            if number is None:
                return None
            words.append(number)
            used += taken
            continue
        piece = pieces[used] if used < len(pieces) else None
        words.append(part)
        if piece is not None and part.startswith(piece):
            used += 1
            named = named or part in name
            cost += 0.0 if part == piece else BEGUN / 2 if part in spoken else BEGUN
        else:
            cost += KNOWN if part in known else FILLED
    return (used, cost, tuple(words)) if used and named else None


def _number(grammar: Grammar, rule: str, pieces: Sequence[str]) -> tuple[str | None, int]:
    """A number at the head of the pieces in the grammar's words, and how many pieces it took."""
    numbers = grammar.numbers(rule)
    if pieces and pieces[0].isdigit():
        return numbers.get(int(pieces[0])), 1
    spoken = set(numbers.values())
    for length in (4, 3, 2, 1):
        words = " ".join(pieces[:length])
        if length <= len(pieces) and words in spoken:
            return words, length
    return None, 0
