"""Who listens on this machine, and how its models stand, a line each."""

from __future__ import annotations

from collections.abc import Iterator

from voicelog.recognition import model_check, recognizers
from voicelog.recognition.vosk_models import model_folders, vosk_models

__all__ = ["listener_lines", "model_lines"]


def listener_lines() -> Iterator[str]:
    """The listeners that are there, those in use first, what cannot be used, where models lie."""
    for engine in recognizers.available_recognizers("en"):
        yield f"{'in use' if engine.used else 'there'}: {engine.name}"
    for problem in vosk_models().broken:
        yield f"not usable: {problem}"
    yield f"Models lie in {', or '.join(map(str, model_folders()))}."


def model_lines() -> Iterator[tuple[str, bool]]:
    """Each installed model, every file of it looked through: a line, and whether it is whole."""
    checked = model_check.check_vosk_models()
    if not checked:
        yield "No model is installed. PocketSphinx brings its own.", True
    for one in checked:
        if one.problem is None:
            known = "hashes kept from now on" if one.first_seen else "as first seen"
            yield f"{one.folder.name}: whole, {known}.", True
        else:
            yield str(one.problem), False
