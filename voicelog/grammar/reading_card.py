"""A card to read aloud once: few lines that hold every number word, outcome, sign and name.

Made from the grammar and the roster, so that it follows a grammar that was changed. The same
grammar and top level give the same card.
"""

from __future__ import annotations

from voicelog.grammar.grammar import LEVEL, Grammar

__all__ = ["LINES", "card"]

LINES = 30
"""Lines of a card, where so many are enough: more are not read with care."""
MAX_CARD_DOGS = 3


def card(grammar: Grammar, top_level: int) -> tuple[str, ...]:
    """The lines, each one note of one to some phrases, as the grammar writes them.

    They hold all words of the numbers up to `top_level`, all outcomes and signs, and the names
    of the first few dogs.
    """
    starts = _with_names(grammar)
    lines = [[level] for level in _levels(grammar, top_level)]
    lines += [[] for _ in range(LINES - len(starts) - len(lines))]
    numbered = [line for line in lines if line]
    _deal(_said(grammar, "outcome"), numbered or lines)
    _deal(_said(grammar, "sign"), sorted(lines, key=len))
    whole = [" ".join(line) for line in lines if line]
    return tuple(line for line in (*starts, *whole) if grammar.interpret(line) is not None)


def _deal(phrases: list[str], lines: list[list[str]]) -> None:
    """One more phrase to each line in turn, until all are dealt."""
    for place, phrase in enumerate(phrases):
        lines[place % len(lines)].append(phrase)


def _with_names(grammar: Grammar) -> list[str]:
    """A line for each of the first few dogs, each called to work in another way."""
    lines = []
    for place, dog in enumerate(grammar.roster.dogs[:MAX_CARD_DOGS]):
        calls = [f for f in grammar.forms if f.kind == "session" and f.slots.get("dog") == dog.name]
        if calls:
            lines.append(" ".join(map(str, calls[place % len(calls)].parts)))
    return lines


def _levels(grammar: Grammar, top_level: int) -> list[str]:
    """Notes of a level that together hold every number word up to the top."""
    form = next(
        (
            form
            for form in grammar.forms
            if form.slots == {"do": "level", "level": "#"}
            if sum(not isinstance(part, str) for part in form.parts) == 1
        ),
        None,
    )
    if form is None:
        return []
    ways = {n: said for n, said in grammar.numbers(LEVEL).items() if n <= top_level}
    missing = {word for said in ways.values() for word in said.split()}
    chosen: list[int] = []
    while missing:
        best = max(ways, key=lambda n: (len(missing & set(ways[n].split())), -len(ways[n]), -n))
        chosen.append(best)
        missing -= set(ways[best].split())
    return [
        " ".join(part if isinstance(part, str) else ways[n] for part in form.parts)
        for n in sorted(chosen)
    ]


def _said(grammar: Grammar, kind: str) -> list[str]:
    """Phrases of a kind, each with a value that none before it has."""
    chosen: list[str] = []
    seen: set[tuple[str, object]] = set()
    for form in grammar.forms:
        values = set(form.slots.items())
        if form.kind == kind and not values <= seen:
            seen |= values
            chosen.append(" ".join(map(str, form.parts)))
    return chosen
