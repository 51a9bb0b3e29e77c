"""The signs of the body that the shipped grammar knows, without compiling the grammar."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from voicelog.grammar import jsgf
from voicelog.grammar.data_folders import data_folder

__all__ = ["signs"]


def signs() -> Mapping[str, str]:
    """The class of each sign ("noticed", "none", "weak", "strong"), in the order of the file."""
    found: dict[str, str] = {}
    for rule in jsgf.read(data_folder("grammars") / "en" / "sign.jsgf").rules:
        tags = list(_tags(rule.expansion))
        class_ = next((str(tag.value) for tag in tags if tag.name == "class"), "")
        found |= {str(tag.value): class_ for tag in tags if tag.name == "sign"}
    return found


def _tags(expansion: jsgf.Expansion) -> Iterator[jsgf.Tag]:
    match expansion:
        case jsgf.Tagged(item, tag):
            yield from _tags(item)
            yield tag
        case jsgf.SequenceItem(items) | jsgf.Alternatives(items):
            for item in items:
                yield from _tags(item)
        case jsgf.OptionalItem(item) | jsgf.Repeat(item):
            yield from _tags(item)
        case _:
            pass
