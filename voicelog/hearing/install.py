"""Put a model into the models folder: from its publisher, an address, or a file in hand.

It is fetched and unpacked in a hidden folder beside the models, checked there, and renamed
into place only when it is whole and of the right language. Whoever is stopped at any moment
leaves either no model or a whole one, and goes on from what had come.
"""

from __future__ import annotations

import os
import re
import shutil
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from urllib.parse import unquote, urlsplit

from voicelog.hearing.fetch import MissingError, Progress, fetch
from voicelog.hearing.models import ModelError, VoskModel, WhisperModel, places
from voicelog.hearing.publishers import published
from voicelog.hearing.unpack import ArchiveError, unpack
from voicelog.hearing.verify import hash_of, hashes_of, keep, kept, read_model

__all__ = ["Installed", "install"]

_WHISPER_FILES = (  # the small ones first: they tell soonest that it is no such model
    ("config.json",),
    ("tokenizer.json",),
    ("vocabulary.txt", "vocabulary.json"),
    ("model.bin",),
)
_ARCHIVES = (".tar.gz", ".tar.bz2", ".tar.xz", ".tgz", ".tar", ".zip")
_WEIGHTS = ("model.bin", "am/final.mdl")

ProgressOf = Callable[[str], Progress]
"""A file's name -> what to call as it comes."""


@dataclass(frozen=True, slots=True)
class Installed:
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
    progress_of: ProgressOf = lambda _name: lambda _done, _total: None,
) -> Installed:
    """Install a published model by name, or any from an address, an archive or a folder.

    An address is that of an archive, or of a repository that holds the files of a
    faster-whisper model. `sha256` is what the archive must have or, where there is none,
    the weights (model.bin, am/final.mdl).

    Raises:
        FetchError, ArchiveError: it did not come, or may not be unpacked.
        ModelError: it is no whole model of that language, is there already (and not
            `again`), is not of that hash, or is not what first came under its name.
    """
    place = into or places()[0]
    incoming = place / ".incoming"
    try:
        incoming.mkdir(parents=True, exist_ok=True)
        with (
            TemporaryDirectory(dir=incoming, prefix="new-") as staged,
            _arriving(what, incoming, Path(staged), again, progress_of) as arrived,
        ):
            return _settled(arrived, place, language, sha256, again)
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
class _Arrived:
    """A folder that may hold a model, where it came from, and the archive's hash, if any."""

    folder: Path
    source: str
    archive: str | None = None


@contextmanager
def _arriving(
    what: str, incoming: Path, staged: Path, again: bool, progress_of: ProgressOf
) -> Iterator[_Arrived]:
    """What was asked for, in `staged`. What was fetched is forgotten when it was of use, or
    never will be; it stays for the next try when it did not all come."""
    path = Path(what).expanduser()
    if path.is_dir():
        yield _copied(path, staged)
        return
    if path.is_file():
        yield _unpacked(path, staged, str(path))
        return
    address = (what if "://" in what else published(what).url).rstrip("/")
    address = address.removesuffix("/tree/main")
    name = _named(address)
    if not again:
        _refuse_second(incoming.parent / _stem(name))
    half_way = incoming / name
    with _alone(incoming / f"{name}.lock"):
        try:
            if _stem(name) != name:
                fetch(address, half_way, progress=progress_of(name))
                arrived = _unpacked(half_way, staged, address)
            else:
                half_way.mkdir(exist_ok=True)
                for names in _WHISPER_FILES:
                    _fetch_one(f"{address}/resolve/main/", names, half_way, progress_of)
                arrived = _Arrived(half_way.rename(staged / name), address)
            yield arrived
        except (ArchiveError, ModelError):
            _forget(half_way)
            raise
        _forget(half_way)


def _fetch_one(base: str, names: Sequence[str], into: Path, progress_of: ProgressOf) -> None:
    """Fetch the first of these files that there is."""
    for name in names:
        try:
            fetch(base + name, into / name, progress=progress_of(name))
        except MissingError:
            if name == names[-1]:
                raise
        else:
            return


def _unpacked(archive: Path, staged: Path, source: str) -> _Arrived:
    """The model's folder in an archive: its only folder, else the whole, named as the file."""
    whole = staged / "unpacked"
    unpack(archive, whole)
    inside = list(whole.iterdir())
    if len(inside) == 1 and inside[0].is_dir():
        folder = inside[0]
    else:
        folder = whole.rename(staged / _stem(archive.name))
    return _Arrived(folder, source, hash_of(archive))


def _copied(folder: Path, staged: Path) -> _Arrived:
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
    return _Arrived(copy, str(folder))


# --- settling: checked, held against what was kept, and renamed into place -----------------


def _settled(
    arrived: _Arrived, place: Path, language: str, sha256: str | None, again: bool
) -> Installed:
    model = read_model(arrived.folder, language)
    name = model.folder.name
    if not isinstance(model, VoskModel) and "whisper-" not in name:
        name = f"whisper-{name}"
    final = place / name
    if not again:
        _refuse_second(final)
    weights = next(model.folder / file for file in _WEIGHTS if (model.folder / file).exists())
    found = arrived.archive or hash_of(weights)
    if sha256 is not None and sha256.strip().lower() != found:
        raise ModelError(
            f"Found the SHA-256 {found} for {name}, wanted {sha256.strip()}; get it again, or "
            "ask its publisher for the right one."
        )
    hashes, before = hashes_of(model.folder), kept(final)
    if before and before != hashes and sha256 is None:
        raise ModelError(
            f"Found {name} changed since it was first seen here, wanted the same; if its "
            f"publisher says why, install it with --sha256 {found}."
        )
    _swap(model.folder, final)
    keep(final, hashes, f"{arrived.source}, SHA-256 {found}")
    return Installed(name, final, found, seen_before=before == hashes)


def _refuse_second(final: Path) -> None:
    """Refuse a model whose place a whole one has; one that is not whole gives way."""
    try:
        (VoskModel if final.name.startswith("vosk") else WhisperModel).read(final)
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


def _forget(half_way: Path) -> None:
    if half_way.is_dir():
        shutil.rmtree(half_way)
    else:
        half_way.unlink(missing_ok=True)


@contextmanager
def _alone(lock: Path) -> Iterator[None]:
    """Hold `lock`, so that two programs do not write to one half-fetched file."""
    try:
        import fcntl
    except ImportError:  # Windows, where a file that is open for writing cannot be replaced
        yield
        return
    with lock.open("w") as file:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as problem:
            raise ModelError(
                f"Found {lock.stem} being fetched by another voicelog, wanted to fetch it alone; "
                "let that one end."
            ) from problem
        try:
            yield
        finally:
            lock.unlink(missing_ok=True)


def _named(address: str) -> str:
    """The last part of an address as the name of a file, and nothing but a name."""
    name = unquote(urlsplit(address).path).rpartition("/")[2]
    return re.sub(r"[^\w.-]", "_", name).lstrip(".") or "model"


def _stem(name: str) -> str:
    """A file's name without the ending of an archive, if it has one."""
    ending = next((e for e in _ARCHIVES if name.lower().endswith(e)), "")
    return name[: len(name) - len(ending)]
