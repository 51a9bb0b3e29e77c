"""Names and cue words that a listener could mistake for something else that may be said.

A dog called Bird, or a cue "hup" beside "up", makes wrong records however well one listens;
better to hear of it when the name is entered, with others that are like nothing she says.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from voicelog.grammar.confusability import safer_than, speakable
from voicelog.grammar.grammar import Grammar, normalize
from voicelog.grammar.pronunciation import NoPronunciationError
from voicelog.grammar.sound_alikes import Mistaken, mistaken
from voicelog.grammar.suggested_names import NameRole
from voicelog.model import Dog, Roster

__all__ = ["NameConflict", "dog_name_conflicts", "handler_name_conflicts"]

EVERYBODYS_CUE = "here"


@dataclass(frozen=True, slots=True)
class NameConflict:
    """A name or cue (`said`, as it is written) that is heard as `other`, how easily that happens,
    and others for it (`better`) that are like nothing of the roster and the grammar."""

    role: NameRole
    said: str
    other: str
    how: Mistaken
    better: tuple[str, ...]


def dog_name_conflicts(
    dog: Dog, roster: Roster, grammar: Grammar | None = None
) -> tuple[NameConflict, ...]:
    """What the name of `dog`, and each of its cues, is heard as; the soonest first.

    `roster` are the others; the dog's own older profile in it does not count. A name is held
    against words, names and cues; a cue against words and names, and the dog's other cues. Raises
    NoPronunciationError for a name that cannot be spoken.
    """
    others = tuple(one for one in roster.dogs if one.name.casefold() != dog.name.casefold())
    words = {*(grammar or Grammar.load()).vocabulary}
    names = {normalize(one) for one in (*(other.name for other in others), *roster.handlers)}
    cues = {normalize(cue) for one in (dog, *others) for cue in one.cues}
    own = {normalize(dog.name), *map(normalize, dog.cues)}
    taken = words | names | cues | own
    spoken: list[tuple[NameRole, str, set[str]]] = [("dog", dog.name, words | names | cues)]
    spoken += [
        ("cue", cue, words | names | own - {normalize(cue)})
        for cue in dog.cues
        if cue != EVERYBODYS_CUE
    ]
    return tuple(found for one in spoken for found in _conflicts(*one, taken))


def handler_name_conflicts(
    name: str, roster: Roster, grammar: Grammar | None = None
) -> tuple[NameConflict, ...]:
    """The same for a handler's name, against the grammar, dogs, their cues and other handlers."""
    others = {normalize(one) for one in roster.handlers if one.casefold() != name.casefold()}
    others |= {normalize(one) for dog in roster.dogs for one in (dog.name, *dog.cues)}
    others |= {*(grammar or Grammar.load()).vocabulary}
    return tuple(_conflicts("handler", name, others, others | {normalize(name)}))


def _conflicts(
    role: NameRole, said: str, others: set[str], taken: set[str]
) -> Iterator[NameConflict]:
    word = normalize(said)
    if not word:
        raise NoPronunciationError(said)
    heard = [(how, other) for other in sorted(others) if (how := mistaken(word, other))]
    if not heard:
        return
    pronounced = tuple(one for one in sorted(taken) if one and all(map(speakable, one.split())))
    better = safer_than(said, role, pronounced)
    for how, other in sorted(heard, key=lambda one: SOONEST_FIRST.index(one[0])):
        yield NameConflict(role, said, other, how, better)


SOONEST_FIRST: tuple[Mistaken, ...] = ("same", "easily", "sometimes")
