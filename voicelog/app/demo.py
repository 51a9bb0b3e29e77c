"""The demo: which recordings it has, how they are heard. Dogs, people and voices are invented."""

from __future__ import annotations

from pathlib import Path

from voicelog.app.open_file import IntakeOptions
from voicelog.grammar.data_folders import data_folder
from voicelog.model import Dog, Roster, Transmitter
from voicelog.safety.settings import Settings

__all__ = ["demo_options", "demo_recordings"]

_FIRST_HEARD = "day2-wren"
"""The one whose summary has most to show."""


def demo_recordings() -> list[Path]:
    """The demo's recordings by name, but first the one whose summary has most to show."""
    found = data_folder("demo_audio").glob("*/*.opus")
    return sorted(found, key=lambda path: (path.stem != _FIRST_HEARD, path.stem))


def demo_options() -> IntakeOptions:
    """How they are heard: with their own dogs, whatever the log's roster has."""
    unit = Transmitter(top=20)
    dogs = tuple(Dog(name=name, transmitter=unit) for name in ("Bracken", "Wren"))
    return IntakeOptions(roster=Roster(dogs=dogs), settings=Settings())
