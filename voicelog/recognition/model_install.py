"""Put a model into the models folder, from a file or folder that the user has.

It is unpacked in a hidden folder beside the models, checked there, and renamed into place only
when it is whole and of the right language. Whoever is stopped at any moment leaves either no
model or a whole one. Nothing is fetched: where a model comes from is the user's own affair.
"""

from __future__ import annotations

import os
import shutil
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from voicelog.recognition.archive import unpack
from voicelog.recognition.model_check import (
    keep_hashes,
    kept_hashes,
    read_model,
    sha256_of_file,
    sha256_of_files,
)
from voicelog.recognition.vosk_models import ModelError, VoskModel, model_folders

__all__ = ["InstalledModel", "install"]

_ARCHIVES = (".tar.gz", ".tar.bz2", ".tar.xz", ".tgz", ".tar", ".zip")
_WEIGHTS = "am/final.mdl"


@dataclass(frozen=True, slots=True)
class InstalledModel:
    """A model in its place. `sha256` is of the archive, else of the weights.

    `seen_before` says that every file is as when a model of that name was first seen here.
    """

    name: str
    folder: Path
    sha256: str
    seen_before: bool


def install(
    what: str,
    *,
    language: str = "en",
    sha256: str | None = None,
    again: bool = False,
    into: Path | None = None,
) -> InstalledModel:
    """Install the model in the archive or folder `what` (a path; "~" is the user's home).

    `sha256` is what the archive must have or, where there is none, the weights (am/final.mdl).

    Raises:
        ArchiveError: it may not be unpacked.
        ModelError: there is no such file, it is no whole model of that language, is there
            already (and not `again`), is not of that hash, or is not what first came under
            its name.
    """
    source = Path(os.path.expanduser(what))
    if not (os.path.isdir(source) or os.path.isfile(source)):  # these never raise
        raise ModelError(
            f"Found no file or folder '{what}', wanted a model's archive or folder on this "
            "computer; get the model from its maker and name the file."
        )
    place = into or model_folders()[0]
    incoming = place / ".incoming"
    try:
        incoming.mkdir(parents=True, exist_ok=True)
        with TemporaryDirectory(dir=incoming, prefix="new-") as staged:
            arriving = _copied if source.is_dir() else _unpacked
            return _settled(arriving(source, Path(staged)), place, language, sha256, again)
    except OSError as problem:
        raise ModelError(
            f"Found no way to put a model into '{place}' ({problem.strerror or problem}), wanted "
            "a folder of your own with free space; name another in VOICELOG_MODELS."
        ) from problem
    finally:
        with suppress(OSError):
            incoming.rmdir()


# --- arriving: into a folder of its own, nothing believed yet ------------------------------


@dataclass(frozen=True, slots=True)
class _StagedModel:
    """A folder that may hold a model, what it was made from, and the archive's hash, if any."""

    folder: Path
    source: Path
    archive: str | None = None


def _unpacked(archive: Path, staged: Path) -> _StagedModel:
    """The model's folder in an archive: its only folder, else the whole, named as the file."""
    whole = staged / "unpacked"
    unpack(archive, whole)
    inside = list(whole.iterdir())
    if len(inside) == 1 and inside[0].is_dir():
        folder = inside[0]
    else:
        folder = whole.rename(staged / _stem(archive.name))
    return _StagedModel(folder, archive, sha256_of_file(archive))


def _copied(folder: Path, staged: Path) -> _StagedModel:
    """A copy of a folder's files; links to files are followed, none to folders.

    A folder of a hub's cache has its model's name further up ("models--OWNER--NAME").
    """
    folder = folder.absolute()
    cached = (p.name for p in folder.parents if p.name.startswith("models--"))
    copy = staged / next(cached, folder.name).rpartition("--")[2]
    for parent, _, files in os.walk(folder):
        target = copy / Path(parent).relative_to(folder)
        target.mkdir(parents=True)
        for file in files:
            shutil.copyfile(Path(parent, file), target / file)
    return _StagedModel(copy, folder)


# --- settling: checked, held against what was kept, and renamed into place -----------------


def _settled(
    arrived: _StagedModel, place: Path, language: str, sha256: str | None, again: bool
) -> InstalledModel:
    model = read_model(arrived.folder, language)
    name = model.folder.name
    final = place / name
    if not again:
        _refuse_second(final)
    found = arrived.archive or sha256_of_file(model.folder / _WEIGHTS)
    if sha256 is not None and sha256.strip().lower() != found:
        raise ModelError(
            f"Found the SHA-256 {found} for {name}, wanted {sha256.strip()}; get it again, or "
            "ask its publisher for the right one."
        )
    hashes, before = sha256_of_files(model.folder), kept_hashes(final)
    if before and before != hashes and sha256 is None:
        raise ModelError(
            f"Found {name} changed since it was first seen here, wanted the same; if its "
            f"publisher says why, install it with --sha256 {found}."
        )
    _swap(model.folder, final)
    keep_hashes(final, hashes, f"{arrived.source}, SHA-256 {found}")
    return InstalledModel(name, final, found, seen_before=before == hashes)


def _refuse_second(final: Path) -> None:
    """Refuse a model whose place a whole one has; one that is not whole gives way."""
    try:
        VoskModel.read(final)
    except ModelError:
        return
    raise ModelError(
        f"Found {final.name} installed in '{final.parent}' already, wanted a model that is not; "
        "leave it, or add --again to put it in anew."
    )


def _swap(new: Path, final: Path) -> None:
    """Put `new` where `final` is. What was there goes with `new`'s temporary folder."""
    for path in new.rglob("*"):
        if path.is_file():
            with path.open("rb+") as file:
                os.fsync(file.fileno())
    if final.exists():
        final.rename(new.with_name(f"{final.name}.old"))
    new.rename(final)


def _stem(name: str) -> str:
    """A file's name without the ending of an archive, if it has one."""
    ending = next((e for e in _ARCHIVES if name.lower().endswith(e)), "")
    return name[: len(name) - len(ending)]
