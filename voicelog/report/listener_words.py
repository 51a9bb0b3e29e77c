"""Who listens on this machine, and how its models stand, a line each."""

from __future__ import annotations

from collections.abc import Iterator

from voicelog.recognition import model_check, recognizers
from voicelog.recognition.model_install import InstalledModel
from voicelog.recognition.vosk_models import model_folders, vosk_models
from voicelog.report.words import clean

__all__ = ["installed_lines", "listener_lines", "model_lines", "model_wanted_words"]


def listener_lines() -> Iterator[str]:
    """The listeners that are there, those in use first, what cannot be used, where models lie."""
    for engine in recognizers.available_recognizers("en"):
        yield f"{'in use' if engine.used else 'there'}: {engine.name}"
    for problem in vosk_models().broken:
        yield f"not usable: {problem}"
    yield f"Models lie in {', or '.join(map(str, model_folders()))}."


def installed_lines(done: InstalledModel) -> tuple[str, str]:
    """That a model is in its place, and what is known of its files."""
    known = "as when it was first seen here" if done.seen_before else "kept from now on"
    return (
        f"{done.name} is installed in {done.folder.parent}.",
        f"SHA-256 {done.sha256}, {known}.",
    )


def model_wanted_words(found: str) -> str:
    """That what was typed (`found`) is no whole path of a model."""
    return (
        f"Found '{clean(found)}', wanted the whole path of a model's archive or folder on this "
        "computer, such as /home/anna/vosk-model-small-en-us-0.15.zip."
    )


def model_lines() -> Iterator[tuple[str, bool]]:
    """Each installed model, every file of it looked through: a line, and whether it is whole."""
    checked = model_check.check_vosk_models()
    if not checked:
        yield "No model is installed. PocketSphinx brings its own.", True
    for one in checked:
        if one.problem is None:
            known = "checksums kept from now on" if one.first_seen else "as first seen"
            yield f"{one.folder.name}: whole, {known}.", True
        else:
            yield str(one.problem), False
