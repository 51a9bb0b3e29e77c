"""Hear a file and keep nothing of it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from voicelog.app.derive import Derivation, derive
from voicelog.app.open_file import IntakeOptions, open_file
from voicelog.app.session_entries import entries_of
from voicelog.app.typed_lines import TYPED
from voicelog.report.summary import Summary, summarise
from voicelog.safety.settings import Settings

__all__ = ["ReadFile", "read_file", "summaries_of"]


@dataclass(frozen=True, slots=True)
class ReadFile:
    """What a file says, and what the user must know of its sound or of who heard it, else None."""

    derivation: Derivation
    note: str | None


def read_file(options: IntakeOptions, path: Path) -> ReadFile:
    """Hear one file, or read it where it is typed. Raises as `open_file` and its source do."""
    intake = open_file(path, options)
    for _ in intake:
        pass
    derivation = derive(intake.recording, intake.events, options.grammar)
    return ReadFile(derivation, intake.note)


def summaries_of(derivation: Derivation, settings: Settings) -> list[Summary]:
    """The summary of each session of a file of which nothing is kept, so without one before it.
    `settings` are those it was derived with."""
    line = derivation.line
    return [
        summarise(
            session,
            line.findings,
            entries_of(line, session.id),
            line.started_at,
            settings=settings,
            typed=line.listeners == (TYPED,),
        )
        for session in derivation.sessions
    ]
