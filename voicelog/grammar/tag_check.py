"""A grammar whose tags mean nothing to us is refused when it is loaded, not when it is spoken.

Each way through a rule of a closed kind must carry tags that make a phrase of that kind
(`voicelog.model.phrases`). The ways are not listed: the network is followed once for each set
of tags that can have been passed in a state, and a kind has few tags.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from voicelog.grammar.automaton import Arc, GrammarNetwork, PhraseEnd, PhraseStart
from voicelog.grammar.jsgf import Tag
from voicelog.model import PhraseKind, Slot, VoicelogError
from voicelog.model.phrases import allowed_tags, is_open_kind, phrase_class, tag_is_known

__all__ = ["UnknownTagError", "check_tags"]


class UnknownTagError(VoicelogError):
    """A phrase of a grammar carries tags that no phrase of its kind has."""

    def __init__(self, tags: Iterable[tuple[str, Slot]], source: str, kind: PhraseKind) -> None:
        found = " ".join(f"{{{name}={value}}}" for name, value in tags)
        super().__init__(
            f"Found {f'the tags {found}' if found else 'no tags'} on a phrase in '{source}', "
            f"wanted {allowed_tags(kind)}; correct the tags, or move the rule to "
            "condition.jsgf, where any tag may stand."
        )


_Passed = tuple[tuple[str, Slot], ...]
"""The tags passed on a way, by name: each with one value that it has, `do` with its own."""


def check_tags(network: GrammarNetwork, sources: Mapping[PhraseKind, str]) -> None:
    """Raise UnknownTagError unless every phrase of `network` is one that the model knows.

    `sources` name the file of each kind, for the message.
    """
    leaving: dict[int, list[Arc]] = {}
    for arc in network.arcs:
        leaving.setdefault(arc.start, []).append(arc)
    for arc in network.arcs:
        if isinstance(arc.op, PhraseStart):
            _check_phrase(leaving, arc.end, arc.op.kind, sources[arc.op.kind])


def _check_phrase(
    leaving: Mapping[int, list[Arc]], start: int, kind: PhraseKind, source: str
) -> None:
    """Follow one public rule from its first state to its end."""
    ahead: list[tuple[int, _Passed]] = [(start, ())]
    seen: set[tuple[int, tuple[tuple[str, Slot | None], ...]]] = set()
    while ahead:
        state, passed = ahead.pop()
        for arc in leaving.get(state, ()):
            now = passed
            match arc.op:
                case PhraseEnd():
                    tags = dict(passed)
                    if phrase_class(kind, tuple(tags), tags.get("do")) is None:
                        raise UnknownTagError(passed, source, kind)
                    continue
                case Tag(str(name), value):
                    if not tag_is_known(kind, name, value):
                        raise UnknownTagError([(name, value)], source, kind)
                    if not is_open_kind(kind):
                        now = tuple(sorted({**dict(passed), name: value}.items()))
                case _:
                    pass
            key = arc.end, tuple((name, value if name == "do" else None) for name, value in now)
            if key not in seen:
                seen.add(key)
                ahead.append((arc.end, now))
