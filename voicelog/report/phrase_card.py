"""The phrase card: all that may be said on one page, with the dogs' own words, from the grammar.

Phrases that go on alike are put together ("distraction none/low/medium/high [birds/dogs]"), and
nothing else is: what can be read off the card is exactly what the grammar lists.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from voicelog.grammar.grammar import Grammar
from voicelog.model import Dog
from voicelog.report.words import clean

__all__ = ["phrase_card", "shortened"]

Words = tuple[str, ...]

_TITLES = {
    "session": "Which dog, by whom, and when the log listens",
    "equipment": "Equipment",
    "condition": "What holds until you say otherwise",
    "cue": "The dog was asked: the clock starts",
    "stimulus": "What the thumb did",
    "turned": "The dog turned",
    "outcome": "How it ended",
    "sign": "What you saw",
    "reward": "Reward",
    "edit": "Correct what you said",
    "ask": "Ask and answer in the field",
}


def phrase_card(grammar: Grammar, dogs: Sequence[Dog] = ()) -> str:
    """The card as Markdown, ending with a newline.

    Args:
        grammar: what may be said, with the dogs, cue words and handlers of its roster.
        dogs: those whose cues have a meaning in their trainer's words.
    """
    by_kind: dict[str, dict[Words, None]] = {}
    for form in grammar.forms:
        words = tuple(part if isinstance(part, str) else "N" for part in form.parts)
        by_kind.setdefault(form.kind, {})[words] = None
    kinds = sorted(by_kind, key=lambda kind: [*_TITLES, kind].index(kind))
    lines = ["a/b: say one of them. [a]: you can leave it out. N: a number.", ""]
    for kind in kinds:
        told = "; ".join(map(clean, shortened(by_kind[kind])))
        lines += [f"**{_TITLES.get(kind, kind)}:** {told}.", ""]
    for dog in dogs:
        told = ", ".join(f"{one.cue}: {one.meaning}" for one in dog.cue_meanings)
        if told:
            lines += [f"**What {clean(dog.name)}'s cues ask for:** {clean(told)}.", ""]
    return "\n".join(lines).rstrip("\n") + "\n"


def shortened(phrases: Iterable[Words]) -> tuple[str, ...]:
    """Phrases as few expressions that mean just these, in the order in which they begin.

    Args:
        phrases: each the words of one.
    """
    return tuple(_alternatives(tuple(dict.fromkeys(phrases))))


def _alternatives(phrases: tuple[Words, ...]) -> Iterator[str]:
    """What may be said: each expression begins with words after which the same may follow."""
    rests: dict[str, dict[Words, None]] = {}
    for words in phrases:
        if words:
            rests.setdefault(words[0], {})[words[1:]] = None
    together: dict[frozenset[Words], list[str]] = {}
    for first, rest in rests.items():
        together.setdefault(frozenset(rest), []).append(first)
    for firsts in together.values():
        yield "/".join(firsts) + _rest(tuple(rests[firsts[0]]))


def _rest(phrases: tuple[Words, ...]) -> str:
    """What follows a word, with the space before it; nothing where nothing does."""
    found = list(_alternatives(phrases))
    if not found:
        return ""
    told = found[0] if len(found) == 1 else " | ".join(found)
    if () in phrases:
        return f" [{told}]"
    return f" {told}" if len(found) == 1 else f" ({told})"
