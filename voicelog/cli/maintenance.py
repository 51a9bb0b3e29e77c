"""What keeps the log and its owner safe: `backup`, `restore`, `check`, `delete`; bundles."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from voicelog.cli import options
from voicelog.cli.log_settings import SETTINGS_NAME, open_log

if TYPE_CHECKING:
    from voicelog.app.session_catalog import SessionCatalog
    from voicelog.store import CacheHeading, Log, StoredRecording
    from voicelog.store.deletion import DeletionResult
    from voicelog.store.merge import MergeResult
    from voicelog.store.recording_part import RecordingPart

__all__ = ["backup", "check", "delete", "export_bundle", "import_bundle", "restore"]

_PRIVATE = "It holds names and voices, unencrypted: keep it where only you can read it."

Yes = Annotated[bool, typer.Option("--yes", help="Delete without asking.")]
DogName = Annotated[str, typer.Argument(metavar="DOG", help="The dog's name.")]


def backup(
    file: Annotated[
        Path | None,
        typer.Argument(help="File to write, or a folder. Default: one named for today, here."),
    ] = None,
    data_dir: options.DataDir = None,
) -> None:
    """Save the whole log as one file: entries, sound and settings. The log may be in use.

    Example: voicelog backup /media/stick
    """
    from voicelog.model import UsageError
    from voicelog.report.words import counted
    from voicelog.store.backup import write_backup

    with open_log(data_dir) as log:
        name = f"voicelog-backup-{log.now():%Y%m%d-%H%M%S}.zip"
        path = Path(name) if file is None else file / name if file.is_dir() else file
        if path.exists():
            raise UsageError(f"Found {path} there already; name another file for the backup.")
        settings = log.folder / SETTINGS_NAME
        saved = write_backup(log, path, settings if settings.is_file() else None)
    typer.echo(
        f"{counted(saved.recordings, 'recording')} with {counted(saved.sounds, 'sound file')}"
        f"{' and the settings' if saved.settings else ''} saved to {path}. {_PRIVATE}"
    )
    _complain(saved.missing, saved.changed)


def restore(
    file: Annotated[Path, typer.Argument(help="A backup made by 'voicelog backup'.")],
    data_dir: options.DataDir = None,
) -> None:
    """Take a backup into the log: an empty one, or one that has gone on since.

    What is in the log stays; what was deleted from it stays deleted.

    Example: voicelog restore voicelog-backup-20260418-210000.zip
    """
    from voicelog.cli.log import refreshed_session_catalog, session_catalog_for
    from voicelog.store.backup import restore as take_back

    with open_log(data_dir) as log:
        trial = session_catalog_for(log).trial
        done, settings = take_back(log, file, log.folder / SETTINGS_NAME, trial)
        refreshed_session_catalog(log)
        place = log.folder
    extra = f" The settings are in {place / SETTINGS_NAME}." if settings else ""
    typer.echo(f"{place}: {_came(done)}{extra}")
    if done.left_out:
        typer.echo(f"voicelog: {_left_out(done, file)}", err=True)
        raise typer.Exit(1)


def check(data_dir: options.DataDir = None) -> None:
    """Check that everything in the log is there and as it was, the sound too.

    Example: voicelog check
    """
    from voicelog.cli.log import session_catalog_for
    from voicelog.report.words import clean, counted
    from voicelog.store import SetAsideError
    from voicelog.store.integrity import check_integrity

    with open_log(data_dir) as log:
        found = check_integrity(log)
        session_catalog = session_catalog_for(log)
        session_catalog.refresh()
        aside = session_catalog.asides()
    typer.echo(
        f"{counted(found.recordings, 'recording')} with {counted(found.events, 'event')}: "
        "the database is whole."
    )
    for name in found.half:
        typer.echo(f"voicelog: {name} is only half added; add it again to the end.", err=True)
    aside |= {one: SetAsideError(name, why) for one, (name, why) in found.unreadable.items()}
    for error in aside.values():
        typer.echo(f"voicelog: {clean(str(error))}", err=True)
    _complain(found.missing, found.changed)
    if found.half or aside:
        raise typer.Exit(1)


# --- delete -----------------------------------------------------------------------------

delete = typer.Typer(
    help="Delete sessions, a dog, or sound that is no longer needed: every copy in the log.",
    no_args_is_help=True,
    rich_markup_mode=None,
)


@delete.command("session")
def delete_session(
    dog: DogName,
    day: Annotated[str, typer.Option("--day", metavar="DATE", help="The day, as 2026-04-18.")],
    session: Annotated[
        str | None, typer.Option("--id", help="Only the session of this id, of several that day.")
    ] = None,
    yes: Yes = False,
    data_dir: options.DataDir = None,
) -> None:
    """Delete a dog's sessions of a day: entries and sound.

    Sound that tells of other sessions too is kept with this part silent.

    Example: voicelog delete session Bracken --day 2026-04-18
    """
    from voicelog.cli.log import refreshed_session_catalog
    from voicelog.cli.options import day_of
    from voicelog.model import VoicelogError
    from voicelog.store.deletion import delete_parts

    with open_log(data_dir) as log:
        session_catalog = refreshed_session_catalog(log)
        rows = _sessions(session_catalog, dog, day_of(day))
        if session is not None:
            rows = [row for row in rows if row.key == session]
        if not rows:
            raise VoicelogError(
                f"Found no session of '{dog}' on {day}{' with that id' if session else ''}; see "
                "'voicelog summary --all'."
            )
        for row in rows:
            typer.echo(f"{row.dog}, {row.day}, {row.counts.get('reps', 0)} reps, id {row.key}")
        _ask(yes, "Delete this for good, entries and sound?")
        _say_gone(log, delete_parts(log, _parts(log, session_catalog, {row.key for row in rows})))
        session_catalog.refresh()


@delete.command("dog")
def delete_dog(dog: DogName, yes: Yes = False, data_dir: options.DataDir = None) -> None:
    """Delete a dog: its profile, its sessions, their sound.

    Example: voicelog delete dog Bracken
    """
    from voicelog.cli.log import refreshed_session_catalog
    from voicelog.model import VoicelogError
    from voicelog.store.deletion import delete_dog as remove
    from voicelog.store.recording_part import recording_part

    with open_log(data_dir) as log:
        session_catalog = refreshed_session_catalog(log)
        if out := session_catalog.asides():
            raise VoicelogError(
                f"{', '.join(error.name for error in out.values())} is set aside, so it cannot be "
                "said what of it belongs to whom: delete it first, with 'voicelog delete aside'."
            )
        rows = _sessions(session_catalog, dog, None)
        parts = _parts(log, session_catalog, {row.key for row in rows})
        taken = {part.recording for part in parts}
        for kept in log.recordings():
            whose = kept.dog is not None and kept.dog.casefold() == dog.casefold()
            if whose and kept.id not in taken and not _sessions_in(log, session_catalog, kept.id):
                parts.append(recording_part(kept.id, log.events(kept.id), (), ()))
        typer.echo(f"{dog}: {len(rows)} sessions in {len(parts)} recordings.")
        _ask(yes, "Delete the dog for good, with all its entries and sound?")
        gone = remove(log, dog, parts)
        session_catalog.refresh()
        _say_gone(log, gone)
        settings = log.folder / SETTINGS_NAME
        if settings.is_file() and dog.casefold() in settings.read_text("utf-8").casefold():
            typer.echo(f"{settings} names {dog}: take that out yourself.")


@delete.command("aside")
def delete_aside(yes: Yes = False, data_dir: options.DataDir = None) -> None:
    """Delete the recordings that are set aside since they cannot be derived: all of them.

    A newer voicelog may read them: try that first.

    Example: voicelog delete aside
    """
    from voicelog.cli.log import session_catalog_for
    from voicelog.report.words import clean
    from voicelog.store.deletion import delete_parts
    from voicelog.store.recording_part import recording_part

    with open_log(data_dir) as log:
        session_catalog = session_catalog_for(log)
        session_catalog.refresh()
        out = session_catalog.asides()
        for error in out.values():
            typer.echo(clean(f"{error.name}: {error.why}"))
        if not out:
            typer.echo("No recording is set aside.")
            return
        _ask(yes, "Delete this for good, entries and sound?")
        parts = [recording_part(recording, (), (), ()) for recording in out]
        _say_gone(log, delete_parts(log, parts))


@delete.command("sound")
def delete_sound(
    older_than: Annotated[
        int,
        typer.Option("--older-than", min=0, metavar="DAYS", help="Recorded that many days ago."),
    ],
    unread: Annotated[
        bool, typer.Option("--unread", help="Also where entries are still to check.")
    ] = False,
    memos: Annotated[
        bool, typer.Option("--memos", help="Also where there are memos, which are sound only.")
    ] = False,
    yes: Yes = False,
    data_dir: options.DataDir = None,
) -> None:
    """Delete old sound whose entries have been read; the entries stay.

    Example: voicelog delete sound --older-than 90
    """
    from voicelog.cli.log import refreshed_session_catalog
    from voicelog.store.deletion import delete_sound as remove

    with open_log(data_dir) as log:
        session_catalog = refreshed_session_catalog(log)
        out = session_catalog.asides()
        until = log.now().replace(tzinfo=None) - timedelta(days=older_than)
        old = [
            kept
            for kept in log.recordings()
            if kept.sound is not None
            and kept.complete
            and _moment(kept) <= until
            and kept.id not in out
        ]
        to_check = {kept.id for kept in old if not unread and _to_check(session_catalog, kept)}
        spoken = {kept.id for kept in old if not memos and _has_memo(session_catalog, kept)}
        chosen = [kept for kept in old if kept.id not in to_check | spoken]
        typer.echo(
            f"{len(chosen)} recordings; left out are {len(to_check)} with entries to check and "
            f"{len(spoken - to_check)} with memos."
        )
        if not chosen:
            return
        _ask(yes, "Delete their sound for good?")
        _say_gone(log, remove(log, chosen))


# --- bundles, called by `export` and `add` ----------------------------------------------


def export_bundle(folder: Path, dog: str | None, day: date | None, data_dir: Path | None) -> None:
    """Write a dog's sessions as a bundle into a folder."""
    from voicelog.cli.log import refreshed_session_catalog
    from voicelog.model import UsageError, VoicelogError
    from voicelog.report.words import counted
    from voicelog.store.bundle import write_bundle

    if dog is None:
        raise UsageError("Found no --dog, but a bundle is of one dog; name it with --dog.")
    with open_log(data_dir) as log:
        session_catalog = refreshed_session_catalog(log)
        rows = _sessions(session_catalog, dog, day)
        if not rows:
            raise VoicelogError(
                f"Found no session of '{dog}'{f' on {day}' if day else ''}; see "
                "'voicelog summary --all'."
            )
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise VoicelogError(
                f"Found no way to make the folder '{folder}' ({error.strerror}); name another."
            ) from error
        name = rows[0].dog or dog
        path = folder / f"{_plain(name)}{f'-{day}' if day else ''}.zip"
        packed = write_bundle(
            log, path, _parts(log, session_catalog, {row.key for row in rows}), [name]
        )
    typer.echo(
        f"{counted(len(rows), 'session')} of {name} written to {path}: "
        f"{counted(packed.events, 'event')} and the sound of {packed.sounds} of "
        f"{counted(packed.recordings, 'recording')}, with names and voices, unencrypted. "
        f"To take it in: voicelog add {path.name}"
    )
    for missing in packed.without_sound:
        typer.echo(f"voicelog: the sound of {missing} is not there to be handed over.", err=True)


def import_bundle(log: Log, path: Path) -> str:
    """Take a bundle in; what came of it, in words.

    Raises:
        VoicelogError: something of it was left out, which is named with its reason.
    """
    from voicelog.cli.log import session_catalog_for
    from voicelog.model import VoicelogError
    from voicelog.store.bundle import merge_bundle

    done = merge_bundle(log, path, session_catalog_for(log).trial)
    if done.left_out:
        raise VoicelogError(f"{path.name}: {_came(done)} {_left_out(done, path)}")
    return _came(done)


# --- within -----------------------------------------------------------------------------


def _came(done: MergeResult) -> str:
    from voicelog.report.words import clean, counted

    said = (
        f"{counted(done.recordings, 'new recording')}, {counted(done.events, 'new event')}, "
        f"{counted(done.sounds, 'sound file')}."
    )
    if done.dogs:
        said += f" New on the roster: {clean(', '.join(done.dogs))}."
    if done.deleted:
        said += f" {counted(done.deleted, 'event')} left out that had been deleted here."
    return said


def _left_out(done: MergeResult, path: Path) -> str:
    """What was not taken in, and why, in one sentence."""
    from voicelog.report.words import clean

    each = "; ".join(f"{name} ({why})" for name, why in done.left_out)
    return clean(
        f"Left out, since this voicelog cannot work with it: {each}; it is still in {path.name}, "
        "look for a newer voicelog to take it in."
    )


def _sessions(session_catalog: SessionCatalog, dog: str, day: date | None) -> list[CacheHeading]:
    """A dog's sessions, oldest first, of one day or all."""
    from voicelog.store import SessionFilter

    name = next((one for one in session_catalog.dogs() if one.casefold() == dog.casefold()), None)
    if name is None:
        return []
    rows = reversed(session_catalog.headings(SessionFilter(dog=name)).rows)
    return [row for row in rows if row.dog == name and day in (None, row.day)]


def _sessions_in(log: Log, session_catalog: SessionCatalog, recording: str) -> list[str]:
    return [row.key for row in log.derived_get(recording) if row.dog is not None]


def _parts(
    log: Log, session_catalog: SessionCatalog, chosen: Collection[str]
) -> list[RecordingPart]:
    """The chosen sessions' parts of the recordings that hold them."""
    from voicelog.store.recording_part import recording_part

    pages = {key: session_catalog.page(key) for key in chosen}
    recordings = dict.fromkeys(page.session.recording for page in pages.values() if page)
    parts = []
    for recording in recordings:
        inside = (
            session_catalog.page(key) for key in _sessions_in(log, session_catalog, recording)
        )
        sessions = [page.session for page in inside if page is not None]
        parts.append(recording_part(recording, log.events(recording), sessions, chosen))
    return parts


def _moment(kept: StoredRecording) -> datetime:
    return (kept.started_at or kept.added_at).replace(tzinfo=None)


def _to_check(session_catalog: SessionCatalog, kept: StoredRecording) -> bool:
    return any(
        entry.status == "doubtful" and not entry.voided
        for entry in session_catalog.line(kept.id).entries
    )


def _has_memo(session_catalog: SessionCatalog, kept: StoredRecording) -> bool:
    said = (
        entry.slots.get("do") for entry in session_catalog.line(kept.id).entries if not entry.voided
    )
    return any("memo" in (do if isinstance(do, list) else [do]) for do in said)


def _ask(yes: bool, question: str) -> None:
    if not yes:
        typer.confirm(question, abort=True)


def _say_gone(log: Log, gone: DeletionResult) -> None:
    from voicelog.report.words import counted
    from voicelog.store.deletion import leftovers

    typer.echo(
        f"Deleted: {counted(gone.events, 'event')}, {counted(gone.sounds, 'sound file')}, "
        f"{counted(gone.recordings, 'whole recording')}."
    )
    for path in leftovers(log.folder):
        typer.echo(f"Not touched: {path}, a copy made before an upgrade; delete it yourself.")
    typer.echo(
        "Backups, bundles, exports and the recorder's own files still hold what was in them."
    )
    if not gone.swept:
        typer.echo(
            "voicelog: another program has the log open, so traces may be left in the database; "
            "close it, and any next command cleans up.",
            err=True,
        )
        raise typer.Exit(1)


def _complain(missing: Iterable[str], changed: Iterable[str]) -> None:
    """Say which sounds are not as they were, and fail if there are any."""
    lines = [f"the sound of {name} is not there any more" for name in missing]
    lines += [f"the sound of {name} is not what it was when it was kept" for name in changed]
    for line in lines:
        typer.echo(f"voicelog: {line}; take it back from a backup.", err=True)
    if lines:
        raise typer.Exit(1)


def _plain(name: str) -> str:
    """A name as part of a file name."""
    return "".join(c if c.isalnum() else "-" for c in name.casefold()).strip("-") or "dog"
