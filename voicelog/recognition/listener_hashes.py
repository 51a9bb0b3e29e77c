"""What hearing depends on in an installation, as hashes: two that have the same hear the same.

Beside the version of the program these are the files of the models that listen, our own weights,
and the libraries that read and work on sound. Another processor can still differ in the last
digits.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from voicelog.recognition.model_check import sha256_of_file
from voicelog.recognition.recognizers import RecognizerChoice, careful_model
from voicelog.recognition.silero_network import DETECTOR_FOLDER
from voicelog.recognition.trained_artifact import ARTIFACT_FOLDER
from voicelog.recognition.vosk_models import vosk_model_for

__all__ = ["listener_hashes", "program_hash"]

_LIBRARIES = ("av", "ctranslate2", "faster-whisper", "numpy", "pocketsphinx", "soxr", "vosk")


def listener_hashes(language: str, listener: RecognizerChoice | None = None) -> dict[str, str]:
    """What would listen here to a language: each model by its name with a hash of its files, each
    library with its version ("none" where it is not installed).

    Args:
        language: as a grammar names it.
        listener: which recognizers were asked for; None: those that are there.

    Raises:
        ModelError: a model is damaged.
    """
    found = {name: _version(name) for name in _LIBRARIES}
    for name, folder in _models(language, listener):
        found[name] = _hash_of(folder)
    return found


@cache
def program_hash() -> str:
    """One hash of all modules of this program, since two copies of one version can differ."""
    whole = hashlib.sha256()
    package = Path(__file__).parents[1]
    for path in sorted(package.rglob("*.py")):
        if "_shipped" in path.parts:
            continue  # a wheel's own copy of what lies beside the package elsewhere
        whole.update(path.relative_to(package).as_posix().encode() + b"\0")
        whole.update(path.read_bytes().replace(b"\r\n", b"\n"))
    return whole.hexdigest()


def _models(language: str, listener: RecognizerChoice | None) -> Iterator[tuple[str, Path]]:
    yield "voicelog's own weights", ARTIFACT_FOLDER
    yield "voice detector", DETECTOR_FOLDER
    if listener != "quick" and (whisper := careful_model(language)) is not None:
        yield f"whisper {whisper.name}", whisper.folder
    if listener == "careful":
        return
    if (model := vosk_model_for(language)) is not None:
        yield f"vosk {model.name}", model.folder
    elif language == "en":
        # Only who compares installations needs this library for it.
        from pocketsphinx import get_model_path

        yield "pocketsphinx en-us", Path(get_model_path("en-us"))


@cache
def _hash_of(folder: Path) -> str:
    """One hash of the names and bytes of all files in a folder; what Python compiled left out."""
    whole = hashlib.sha256()
    for path in sorted(path for path in folder.rglob("*") if path.is_file()):
        if "__pycache__" not in path.parts and path.suffix not in (".py", ".pyc"):
            whole.update(path.relative_to(folder).as_posix().encode() + b"\0")
            whole.update(sha256_of_file(path).encode())
    return whole.hexdigest()


def _version(package: str) -> str:
    try:
        return version(package)
    except PackageNotFoundError:
        return "none"
