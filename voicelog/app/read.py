"""Hear a file and keep nothing of it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from voicelog.app.derive import Derivation, derive
from voicelog.app.open_file import IntakeOptions, open_file

__all__ = ["ReadFile", "read_file"]


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
