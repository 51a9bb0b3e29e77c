"""What keeps the log in order: `backup`, `restore`, `check`, `rebuild`."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Annotated

import typer

from voicelog.app.archive import backup_log, open_log_for_restore, restore_log
from voicelog.app.integrity import check_log
from voicelog.app.open_log import SETTINGS_NAME, open_log
from voicelog.app.session_catalog import SessionCatalog
from voicelog.cli import options
from voicelog.cli.hearing_bar import HearingBar
from voicelog.cli.open_catalog import refreshed_session_catalog, warn_set_aside
from voicelog.report.check_words import check_lines, sound_lines
from voicelog.report.deriving_words import rebuilt_words
from voicelog.report.merge_words import left_out_words, merged_words
from voicelog.report.words import counted

__all__ = ["backup", "check", "rebuild", "restore"]

_PRIVATE = "It holds names and voices, unencrypted: keep it where only you can read it."
_LOCKED = "It is locked by the log's passphrase."


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
    with open_log(data_dir) as log, HearingBar().shown() as bar:
        bar.begin("backup", beside="")
        path, saved = backup_log(log, file, bar.done_so_far)
        how = _LOCKED if log.locked else _PRIVATE
    typer.echo(
        f"{counted(saved.recordings, 'recording')} with {counted(saved.sounds, 'file')} of sound "
        "or typed notes"
        f"{' and the settings' if saved.settings else ''} saved to {path}. {how}"
    )
    _complain(saved.missing, saved.changed)


def restore(
    file: Annotated[Path, typer.Argument(help="A backup made by 'voicelog backup'.")],
    data_dir: options.DataDir = None,
) -> None:
    """Take a backup into the log: an empty log, or one that has changed since.

    What is in the log stays; what was deleted from it stays deleted. A backup of a locked log asks
    for its passphrase, and a log that was not there before is then locked as that one was.

    Example: voicelog restore voicelog-backup-20260418-210000.zip
    """
    with open_log_for_restore(data_dir, file) as log:
        done, settings = restore_log(log, file)
        place = log.folder
        extra = f" The settings are in {place / SETTINGS_NAME}." if settings else ""
        typer.echo(f"{place}: {merged_words(done)}{extra}")
        refreshed_session_catalog(log, tell=True, new=True)
    if done.left_out:
        typer.echo(f"voicelog: {left_out_words(done, file)}", err=True)
        raise typer.Exit(1)


def check(
    accept: Annotated[
        bool,
        typer.Option(
            "--accept",
            help="Accept the database as it is, even if it is another one or an older one.",
        ),
    ] = False,
    data_dir: options.DataDir = None,
) -> None:
    """Check that everything in the log is there and as it was, the sound too.

    The newest backup is restored into a separate folder, to prove that it works.

    Example: voicelog check
    """
    with open_log(data_dir) as log:
        if accept:
            log.note_chain(anew=True)
        with HearingBar().shown() as bar:
            bar.begin("check", beside="")
            found = check_log(log, bar.done_so_far)
    bad = False
    for line, good in check_lines(found.stored, found.aside_lines, found.backup):
        typer.echo(line if good else f"voicelog: {line}", err=not good)
        bad |= not good
    if bad:
        raise typer.Exit(1)


def rebuild(data_dir: options.DataDir = None) -> None:
    """Work out all sessions, reps and findings again from the entries.

    Example: voicelog rebuild
    """
    with open_log(data_dir) as log:
        with HearingBar().shown() as bar:
            bar.begin("rebuild", beside="")
            done = SessionCatalog(log).rebuild(bar.done_so_far)
        typer.echo(rebuilt_words(done))
        warn_set_aside(log)


def _complain(missing: Iterable[str], changed: Iterable[str]) -> None:
    """Say which sounds are not as they were, and fail if there are any."""
    lines = list(sound_lines(missing, changed))
    for line in lines:
        typer.echo(f"voicelog: {line}", err=True)
    if lines:
        raise typer.Exit(1)
