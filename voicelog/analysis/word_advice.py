"""What could be done about a confusion: another word, where one is to be had.

Names and cues can be chosen, so for those a word is proposed that sounds like nothing else that
may be said; for a word of the grammar, another way to say the same. Numbers have neither.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from shlex import quote

from voicelog.analysis.accuracy import Confusion
from voicelog.grammar.confusability import phrases_without_word, safer_words
from voicelog.grammar.grammar import Grammar, normalize
from voicelog.grammar.suggested_names import NameRole
from voicelog.model import FrozenModel, Roster

__all__ = ["OFTEN", "Advice", "advise"]

OFTEN = 3
"""Utterances from which on a confusion is more than a slip; our own choice."""


class Advice(FrozenModel):
    """What could be said in place of `said`, which was heard as `heard`, and how to see to it.

    `role` is that of a name or cue, None for words of the grammar. `instead` is empty where
    nothing else can be said. `command` puts the first of them on the roster; "" where that is
    not all there is to it.
    """

    said: str
    heard: str
    count: int
    of: int
    role: NameRole | None = None
    instead: tuple[str, ...] = ()
    command: str = ""


def advise(confusions: Sequence[Confusion], grammar: Grammar) -> tuple[Advice, ...]:
    """For every word that is often taken for another, one advice, in order of frequency.

    `grammar` has today's roster.
    """
    return tuple(_advise(confusions, grammar))


def _advise(confusions: Sequence[Confusion], grammar: Grammar) -> Iterator[Advice]:
    met: set[str] = set()
    for one in confusions:
        if one.count < OFTEN or not one.heard or one.said in met:
            continue
        met.add(one.said)
        role, name = _role(one.said, grammar.roster)
        instead = _instead(one.said, role, grammar)
        yield Advice(
            said=one.said,
            heard=one.heard,
            count=one.count,
            of=one.of,
            role=role,
            instead=instead,
            command=_command(grammar.roster, role, name, instead),
        )


def _role(said: str, roster: Roster) -> tuple[NameRole | None, str]:
    """Whether words are a name or a cue of the roster, and how that is spelled there."""
    named: list[tuple[NameRole, str]] = [
        *(("cue", cue) for cue in roster.cues),
        *(("dog", dog.name) for dog in roster.dogs),
        *(("handler", name) for name in roster.handlers),
    ]
    return next(((role, name) for role, name in named if normalize(name) == said), (None, ""))


def _instead(said: str, role: NameRole | None, grammar: Grammar) -> tuple[str, ...]:
    if role is not None:
        return safer_words(grammar, role, said)
    return phrases_without_word(grammar, said) if len(said.split()) == 1 else ()


def _command(roster: Roster, role: NameRole | None, name: str, instead: Sequence[str]) -> str:
    """What puts it on the roster; a dog is not to be named anew, its sessions go by the name."""
    if role == "handler" and instead:
        return f"voicelog dogs handler {quote(instead[0])}"
    dog = next((dog for dog in roster.dogs if name in dog.cues), None)
    if role != "cue" or dog is None or not instead:
        return ""
    cues = " ".join(f"--cue {quote(one)}" for one in (*dog.cues, instead[0]))
    return f"voicelog dogs put {quote(dog.name)} {cues}"
