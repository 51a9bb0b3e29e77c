"""Readings with another number in place of one: what a number is soonest mistaken for.

One more, one less, and ten times as much: whoever would accept a number must see that it
beats these. Words that sound alike are in sound_alikes.py.
"""

from __future__ import annotations

from voicelog.grammar.grammar import Grammar

__all__ = ["number_confusions"]


def number_confusions(grammar: Grammar, words: str) -> tuple[str, ...]:
    """The readings of the grammar that differ from `words` by a near number."""
    value_of = {said: int(digits) for digits, said in grammar.numerals.items()}
    longest = max((len(said.split()) for said in value_of), default=0)
    spoken = words.split()
    found: list[str] = []
    place = 0
    while place < len(spoken):
        for count in range(min(longest, len(spoken) - place), 0, -1):
            value = value_of.get(" ".join(spoken[place : place + count]))
            if value is not None:
                before, after = spoken[:place], spoken[place + count :]
                for other in dict.fromkeys((value - 1, value + 1, value * 10)):
                    said = grammar.numerals.get(str(other))
                    if said is not None and other != value:
                        found.append(" ".join((*before, said, *after)))
                place += count
                break
        else:
            place += 1
    return tuple(one for one in found if grammar.interpret(one) is not None)
