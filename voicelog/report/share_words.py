"""What the commands of a share say."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from pathlib import Path

from voicelog.analysis.open_matters import OpenMatter
from voicelog.report.wording.matters import matter_words
from voicelog.report.words import Face, clean, counted, day
from voicelog.store.share.admission import KeyState
from voicelog.store.share.asides import ShareAside
from voicelog.store.share.differences import TrainerDifference
from voicelog.store.share.exchange import DeviceState, Exchanged
from voicelog.store.share.signing import fingerprint

__all__ = [
    "allowed_words",
    "aside_lines",
    "asides_in_short",
    "carried_words",
    "device_line",
    "difference_line",
    "difference_lines",
    "exchange_lines",
    "folder_wanted_words",
    "key_words",
    "left_words",
    "missing_words",
    "repaired_words",
    "settings_line",
    "signed_lines",
    "signed_now_lines",
    "signed_start_words",
    "started_words",
]

_MANY = 5
"""Files that are named one by one, at most."""


def started_words(folder: Path, new: bool, *, locked: bool) -> str:
    """What is said once a log is shared through `folder`; `new`: nobody shared it before;
    `locked`: the log itself lies encrypted."""
    what = "is now shared through" if new else "has joined the share in"
    plain = "unencrypted though the log is locked" if locked else "unencrypted"
    return (
        f"This log {what} {folder}. Let a sync program carry that folder to the other devices, or "
        f"carry it on a stick. It holds names and notes, {plain}: share it only with those who "
        "may read them."
    )


def exchange_lines(done: Exchanged, kept: tuple[OpenMatter, ...]) -> Iterator[tuple[str, bool]]:
    """A line for each thing that came of an exchange, and whether it is good. `kept` are the
    matters that stay open although what they came from is gone."""
    taken = done.taken
    yield (
        f"Written: {counted(done.sealed, 'file')}. Taken in: {counted(taken.segments, 'file')}, "
        f"{counted(len(taken.recordings), 'recording')} changed.",
        True,
    )
    if done.renamed:
        yield (
            "Another copy of this log writes to the share as the same device, so this copy is "
            "a separate device from now on; use only one of the two copies.",
            True,
        )
    for one in kept:
        yield (
            f"Kept open: {matter_words(one)}; what it came from was deleted or is no longer shown.",
            True,
        )
    if done.waiting:
        yield (
            f"{counted(done.waiting, 'file waits', 'files wait')} for others that have not come; "
            "run this again when the folder is up to date.",
            True,
        )
    if taken.newer:
        yield _newer_words(taken.newer), True
    for error in done.aside[:_MANY]:
        yield clean(str(error)), False
    if len(done.aside) > _MANY:
        yield f"{len(done.aside) - _MANY} more files are set aside.", False


def aside_lines(asides: Sequence[ShareAside], later: int) -> Iterator[str]:
    """What came through a share and counts nowhere: what is set aside, a line each, and how many
    things only a `later` program knows."""
    for one in asides:
        who = f" by {one.who}" if one.who else ""
        what = "what one device heard of it" if one.hearing else f"an entry{who}"
        yield (
            f"{clean(one.file_name)}: {clean(what)} is set aside and counts nowhere "
            f"({clean(one.why)}): look for a newer voicelog, which tries it again."
        )
    if later:
        yield _newer_words(later)


def asides_in_short(asides: Sequence[ShareAside]) -> str:
    """The same in one line, whatever their number."""
    names = clean(", ".join(dict.fromkeys(one.file_name for one in asides)))
    return (
        f"{counted(len(asides), 'thing')} that came through the share set aside, not counted "
        f"({names}); 'voicelog check' says why."
    )


def _newer_words(many: int) -> str:
    what = counted(many, "thing was", "things were")
    return f"{what} written by a newer voicelog: kept, but not counted here; update this one."


def settings_line(taken: bool | None, name: str, before: str) -> tuple[str, bool] | None:
    """What became of settings of another device (`taken`), and whether that is good; None where
    none came. `name` and `before` are the files of the settings and of those before."""
    if taken is None:
        return None
    if not taken:
        return "settings came that this voicelog cannot use; left as they are.", False
    return (
        f"Settings of another device are in {name} now; those that were there, if any, are in "
        f"{before}.",
        True,
    )


def device_line(one: DeviceState, own: str) -> str:
    """A device in one line: who it is, its last file, and what it had not seen then. `own` is the
    device that this log is."""
    name = clean(one.name or one.device)
    here = " (this one)" if one.device == own else ""
    unseen = (
        f"; it had not yet taken in {counted(one.unseen, 'file')}"
        if one.unseen and one.device != own
        else ""
    )
    many = counted(one.segments, "file")
    return f"{name}{here}: {many}, the last on {_when(one.sealed_at)}{unseen}"


def signed_start_words(first: str, own: str, face: Face = "terminal") -> str:
    """What is said once a log is in a signed share; the fingerprints of the first device's key and
    of this device's own. `face` is where it is read."""
    if first == own:
        there = ", to join with --first" if face == "terminal" else " to join with"
        return (
            f"It is signed: files count only if a device that you allow wrote them. Your key is "
            f"{own}: give it to the other devices{there}."
        )
    how = f" (voicelog share allow {own})" if face == "terminal" else ""
    return (
        f"It is signed. This device's key is {own}: until the first device allows it, what you "
        f"write is set aside there{how}."
    )


def signed_now_lines(first: str, own: str, made: int, others: int, face: Face) -> Iterator[str]:
    """What is said once a share that was there is signed: as `signed_start_words`, and how many
    files of this device (`made`) and of others were signed here."""
    if first == own:
        yield (
            f"Signed from now on. What was in this log counts: {counted(made + others, 'file')} "
            "signed here. What others have not given you yet is set aside until they sign too."
        )
        then = (
            "run 'voicelog share sign --first KEY' with it there"
            if face == "terminal"
            else ("type it there, at this page")
        )
        yield f"Your key is {own}. Bring it to each other device, and {then}."
        return
    yield f"Signed: {counted(made + others, 'file')} of this log signed here."
    yield signed_start_words(first, own, face)


def signed_lines(
    first: str, own: str, keys: tuple[KeyState, ...], face: Face = "terminal"
) -> Iterator[str]:
    """Who may write in a signed share, a line for each key; as `signed_start_words`. The page has
    the keys (`face`) with its buttons."""
    if first == own:
        yield f"Signed. This device is the first; its key is {own}."
    else:
        yield f"Signed. The first device's key is {first}, this device's is {own}."
        mine = next((one for one in keys if fingerprint(one.key) == own and one.known), None)
        if mine is None:
            yield "This device is not allowed yet: ask for it at the first device."
        elif not mine.allowed:
            yield "This device's key was withdrawn: what it writes counts nowhere else."
    if face == "terminal":
        for one in keys:
            do = ""
            if first == own and not one.allowed:
                key = fingerprint(one.key)
                do = f". If its screen shows the same key: voicelog share allow {key}"
            yield f"{key_words(one)}{do}"


def key_words(one: KeyState) -> str:
    """A key in a signed share: whose it says that it is, whether it counts, what is set aside."""
    state = "allowed" if one.allowed else "withdrawn" if one.known else "not allowed"
    aside = f"; {counted(one.aside, 'file')} set aside" if one.aside else ""
    return f"Key {fingerprint(one.key)} of {clean(one.name) or 'a device'}: {state}{aside}"


def allowed_words(one: KeyState, face: Face = "terminal") -> str:
    """What is said once a key is allowed, or withdrawn; `face` is where it is read."""
    key, name = fingerprint(one.key), clean(one.name) or "a device"
    run = "Run 'voicelog share now'" if face == "terminal" else "Exchange now"
    if one.allowed:
        return (
            f"Allowed: {key} of {name}. {run} to take in what it wrote, and to tell the other "
            "devices."
        )
    return (
        f"Withdrawn: {key} of {name}. {run} to tell the other devices; each takes nothing new of "
        "it once it has heard of that. What came before stays."
    )


def missing_words(many: int) -> str:
    """What is said of files that this log knows and that the folder has no more."""
    which = counted(many, "file is", "files are")
    return f"{which} not in the folder any more; 'voicelog share repair' writes them again."


def difference_lines(found: Sequence[TrainerDifference]) -> Iterator[str]:
    """The first of what two people did otherwise, and how many more there are."""
    yield from map(difference_line, found[:_MANY])
    if len(found) > _MANY:
        yield f"They differ in {len(found) - _MANY} more; 'voicelog share status' names each."


def difference_line(one: TrainerDifference) -> str:
    """What two people did otherwise, neither knowing of the other, and what to do."""
    file = clean(one.file_name)
    if one.what == "added":
        holds, other = (_option(told) for told in (one.holds, one.other))
        named = f"as {clean(one.other_file)} " if one.other_file not in ("", one.file_name) else ""
        return (
            f"{file} was added twice, {holds}, and {named}{other}: the first counts. If that is "
            "wrong, correct the dog or the start ('voicelog correct --to DOG', '--start TIME')."
        )
    minutes, seconds = divmod(int(one.at_s), 60)
    return (
        f'{file} at {minutes}:{seconds:02d}: {clean(one.holds[1])} says "{clean(one.holds[0])}", '
        f'{clean(one.other[1])} said "{clean(one.other[0])}": the first counts; listen, and '
        "correct it with 'voicelog correct' if that is wrong."
    )


def carried_words(out: int, back: int, folder: Path, face: Face = "terminal") -> str:
    """What was carried to a folder and from it, `out` and `back`; on the page (`face`) it is taken
    in at once."""
    copied = f"{counted(out, 'file')} copied to {folder}, {counted(back, 'file')} from it."
    then = " Run 'voicelog share now' to take in what came." if face == "terminal" else ""
    return f"{copied}{then}"


def repaired_words(own: int, others: int) -> str:
    """What was written anew: of this device, and of others."""
    if not own + others:
        return "Every file that this log knows is in the folder and whole."
    return (
        f"{counted(own, 'file')} of this device written again, {counted(others, 'file')} of other "
        "devices handed on."
    )


def folder_wanted_words(found: str) -> str:
    """That what was typed (`found`) is no whole path of a folder."""
    return f"Found '{clean(found)}', wanted the whole path of a folder, such as /home/anna/Sync."


def left_words(folder: Path) -> str:
    """What is said once a log is not shared any more."""
    return (
        "This log is not shared any more. All that came stays in it, and what it gave out stays "
        f"in {folder}."
    )


def _option(told: tuple[str, str]) -> str:
    dog, start = told
    words = f"for {clean(dog)}" if dog else "without a dog"
    return f"{words}, begun {_begun(start)}" if start else words


def _begun(start: str) -> str:
    """When a recording began, as a person reads it."""
    try:
        return day(datetime.fromisoformat(start))
    except ValueError:
        return clean(start)


def _when(stamp: str) -> str:
    """A time of commit as a person reads it, in this computer's zone; it is that device's clock."""
    try:
        return day(datetime.fromisoformat(stamp.partition("+")[0]).astimezone())
    except (ValueError, OverflowError):
        return clean(stamp)
