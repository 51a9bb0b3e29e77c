"""The grammar that a recording is read with; each is built once in a process."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from voicelog.grammar.grammar import Grammar, optional_grammars_of
from voicelog.model import Roster
from voicelog.store import StoredRecording

__all__ = ["grammar_of", "grammar_with"]


def grammar_of(recording: StoredRecording) -> Grammar:
    """The grammar that a recording is to be read with: its own roster and opt-in words."""
    return grammar_with(recording.roster, optional_grammars_of(recording.grammar))


@lru_cache(maxsize=32)
def grammar_with(
    roster: Roster, optional: tuple[str, ...] = (), folder: Path | None = None
) -> Grammar:
    """The grammar for a roster and opt-in grammars by name: the one that ships, or that of a user's
    own `folder`. Raises as `Grammar.load` does."""
    return Grammar.load(folder, roster, optional=optional)
