"""One kennel, many devices: what is shared through a folder, by command or by whatever else asks.

Nothing is sent here: a file-sync engine carries the folder, or a person does on a stick. What is
open stays open: where what was deleted or heard elsewhere would take a matter off the list that
nobody closed, it is kept, and every device is told of it.
"""

from __future__ import annotations

import platform
import shutil
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from voicelog.analysis.open_matters import OpenMatter
from voicelog.app.kept_matters import keeping_open
from voicelog.app.open_log import SETTINGS_NAME
from voicelog.app.session_catalog import SessionCatalog
from voicelog.app.share_trust import (
    SignedState,
    carry_signature,
    check_first,
    joined,
    not_as_signed,
    not_shared,
    signed_state,
)
from voicelog.model import UsageError
from voicelog.model.names import tidy_name
from voicelog.report import share_words
from voicelog.report.changes import changes_elsewhere
from voicelog.report.finding_changes import SessionChange
from voicelog.report.words import Face
from voicelog.safety.settings_file import SettingsError, load_settings
from voicelog.store import Log
from voicelog.store.share.admission import introduce
from voicelog.store.share.asides import ShareAside, asides
from voicelog.store.share.differences import (
    TrainerDifference,
    note_read_twice,
    share_differences,
)
from voicelog.store.share.exchange import (
    DeviceState,
    Exchanged,
    author_of,
    device_states,
    exchange,
    first_of,
    join,
    kept_for_later,
    leave,
    publish,
    repair,
    segments_not_in,
    settings_held,
)
from voicelog.store.share.place import SharePlace

__all__ = [
    "BEFORE_SHARE",
    "CarryResult",
    "ShareResult",
    "ShareStatus",
    "carry_share",
    "is_shared",
    "leave_share",
    "repair_share",
    "share_lines",
    "share_now",
    "share_status",
    "start_share",
    "status_lines",
]

BEFORE_SHARE = "settings-before-share.toml"
"""What the settings file is kept as, where other settings came."""


@dataclass(frozen=True, slots=True)
class ShareResult:
    """What came of an exchange. `kept` are the open matters that stay although what they came from
    is gone; `settings` says what became of settings from elsewhere, None where none came;
    `differences` is where two people differ in a recording that changed."""

    exchanged: Exchanged
    kept: tuple[OpenMatter, ...]
    settings: bool | None
    differences: tuple[TrainerDifference, ...] = ()
    changed: tuple[SessionChange, ...] = ()
    """The sessions that were here before and have other findings now."""


@dataclass(frozen=True, slots=True)
class ShareStatus:
    """How a share stands, as far as this device knows. `missing` counts segments that are known
    here and are not in the folder; `asides` is what is set aside, and `later` how many things are
    kept that this program does not know."""

    folder: Path
    own: str
    devices: tuple[DeviceState, ...]
    segments: int
    missing: int
    differences: tuple[TrainerDifference, ...]
    signed: SignedState | None = None
    asides: tuple[ShareAside, ...] = ()
    later: int = 0


@dataclass(frozen=True, slots=True)
class CarryResult:
    """How many files were copied to the other folder, and how many from it."""

    out: int
    back: int


def start_share(
    log: Log,
    folder: Path,
    name: str | None,
    *,
    signed: bool = False,
    first: str | None = None,
) -> tuple[SharePlace, bool]:
    """Share a log through a folder, or join the share that is in it.

    Args:
        folder: an empty folder, one that is made, or one that another device shares.
        name: what people call this device; None for the computer's own name.
        signed: a new share is one in which files count only if an allowed device signed them.
        first: the fingerprint of the key of the device that began the share, as its screen shows
            it; needed to join a signed one, so that nobody can put another share in its place.

    Returns:
        The share, and whether it is new.

    Raises:
        UsageError: the log is shared already, the folder is not fit for it, or it is not the share
            that was meant.
        LogError: as the disk refuses.
    """
    known = author_of(log)
    if known is not None:
        raise UsageError(
            f"Found this log shared already, through {known[1]}, wanted one that is not; run "
            "'voicelog share leave' first."
        )
    before = (folder.expanduser() / "kennel.json").exists()
    if first is not None and not before:
        raise UsageError(
            f"Found no share in {folder} yet, wanted the signed one that --first speaks of; wait "
            "until the folder is in step."
        )
    place = SharePlace.open(folder, log.folder, make=True, signed=signed)
    if before:
        check_first(place, first, signed=signed)
        if place.first is None and first_of(log, place.kennel) is not None:
            raise not_as_signed(place)
    author = join(log, place, tidy_name(name or platform.node() or "laptop")[:80])
    if place.key is not None and place.key.public != place.first:
        introduce(log, place.key.public, author.name)
    return place, not before


def share_now(
    catalog: SessionCatalog, progress: Callable[[int, int], None] = lambda done, total: None
) -> ShareResult:
    """Give out what is new, take in what has come, and derive what changed.

    Args:
        catalog: that of the log.
        progress: is told how many segments were read, and of how many; then how many recordings
            were derived anew, and of how many.

    Raises:
        UsageError: the log is not shared, or the folder is not there.
        LogError: as the disk refuses; what is not done then is done by doing it again.
    """
    log = catalog.log
    author, place = joined(log)
    catalog.refresh()
    file = log.folder / SETTINGS_NAME
    own = _text_of(file)
    with catalog.helped(), keeping_open(catalog) as kept:
        done = exchange(log, place, author, own, progress, catalog.failures)
        changed = catalog.refresh_noting(progress)
    settings = None
    held = settings_held(log)
    if held is not None and held != own:
        settings = _take_settings(log, file, held)
    if kept.matters or done.renamed:
        done.sealed += publish(log, place, joined(log)[0], catalog.failures)
    note_read_twice(log)
    told = share_differences(log, done.taken.recordings)
    return ShareResult(done, kept.matters, settings, told, tuple(changed))


def share_lines(result: ShareResult) -> Iterator[tuple[str, bool]]:
    """What came of an exchange, a line each, and whether that is good."""
    yield from share_words.exchange_lines(result.exchanged, result.kept)
    for line in share_words.difference_lines(result.differences):
        yield line, True
    for line in changes_elsewhere(result.changed):
        yield line, True
    settings = share_words.settings_line(result.settings, SETTINGS_NAME, BEFORE_SHARE)
    if settings is not None:
        yield settings


def status_lines(found: ShareStatus, face: Face = "terminal") -> Iterator[str]:
    """How a share stands: its folder, each device, what is missing, where two people differ.
    `face` is where that is read."""
    yield f"Shared through {found.folder}"
    if found.signed is not None:
        signed = found.signed
        yield from share_words.signed_lines(signed.first, signed.own, signed.keys, face)
    for one in found.devices:
        yield share_words.device_line(one, found.own)
    if found.missing:
        yield share_words.missing_words(found.missing)
    yield from map(share_words.difference_line, found.differences)
    yield from share_words.aside_lines(found.asides, found.later)


def is_shared(log: Log) -> bool:
    """Whether a log is shared, whether or not its folder is there now."""
    return author_of(log) is not None


def share_status(log: Log) -> ShareStatus:
    """How the share of a log stands, without giving out or taking in anything.

    Raises:
        UsageError: the log is not shared, or the folder is not there.
    """
    author, place = joined(log)
    states = tuple(device_states(log))
    return ShareStatus(
        folder=place.folder,
        own=author.device,
        devices=states,
        segments=sum(one.segments for one in states),
        missing=len(segments_not_in(log, place)),
        differences=share_differences(log),
        signed=signed_state(log, place),
        asides=asides(log),
        later=kept_for_later(log),
    )


def carry_share(log: Log, folder: Path) -> CarryResult:
    """Bring the files of the share to another folder, such as a stick, and those that are only
    there back; nothing is taken away on either side.

    Raises:
        UsageError: the log is not shared, or the other folder is not fit for it.
        LogError: as the disk refuses.
    """
    _, place = joined(log)
    folder = folder.expanduser().absolute()
    folder.mkdir(parents=True, exist_ok=True)
    if not (folder / "kennel.json").exists():
        if any(not one.name.startswith(".") for one in folder.iterdir()):
            raise UsageError(
                f"Found other files in {folder}, wanted an empty folder or one that the share was "
                "carried in before; name another, such as a new folder on the stick."
            )
        shutil.copyfile(place.folder / "kennel.json", folder / "kennel.json")
    other = SharePlace.open(folder, log.folder, make=False)
    if other.kennel != place.kennel:
        raise UsageError(
            f"Found the share of another kennel in {folder}, wanted that of {place.folder}; name "
            "another folder."
        )
    carry_signature(place, other)
    return CarryResult(out=other.take_files(place), back=place.take_files(other))


def repair_share(log: Log) -> tuple[int, int]:
    """Read all of the folder, and write anew what is damaged or missing and known here.

    Returns:
        How many segments of this device were written, and how many of others were handed on.

    Raises:
        UsageError: the log is not shared, or the folder is not there.
        LogError: as the disk refuses.
    """
    author, place = joined(log)
    return repair(log, place, author)


def leave_share(log: Log) -> Path:
    """Leave the share: all that is in the log stays, and so does what was given out; its folder.

    Raises:
        UsageError: the log is not shared.
    """
    known = author_of(log)
    if known is None:
        raise not_shared()
    leave(log)
    return Path(known[1])


# --- within -----------------------------------------------------------------------------


def _text_of(file: Path) -> str | None:
    try:
        return file.read_text("utf-8")
    except (OSError, ValueError):
        return None


def _take_settings(log: Log, file: Path, text: str) -> bool:
    """Put settings from elsewhere in place, and keep those that were there beside them; False
    where they are not good ones."""
    part = file.with_name(f"{file.name}.part")
    try:
        part.write_text(text, "utf-8")
        load_settings(part, [dog.name for dog in log.roster().dogs])
        if file.exists():
            file.replace(file.with_name(BEFORE_SHARE))
        part.replace(file)
    except (OSError, SettingsError):
        return False
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)
    return True
