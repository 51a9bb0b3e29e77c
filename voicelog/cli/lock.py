"""`voicelog lock`: the log encrypted on the disk, and its passphrase."""

from __future__ import annotations

import typer

from voicelog.app.lock import (
    change_passphrase,
    folder_to_lock,
    forget_key,
    lock_situation,
    lock_whole_log,
    open_whole_log,
    remember_key,
)
from voicelog.cli import options
from voicelog.cli.hearing_bar import HearingBar
from voicelog.cli.passphrase import new_passphrase
from voicelog.report.lock_words import (
    KEYRING_FORGOT,
    KEYRING_HAD_NOT,
    PASSPHRASE_CHANGED,
    keyring_opens_words,
    locked_words,
    opened_words,
    situation_words,
)
from voicelog.store.log_lock import NEW_PASSPHRASE, PASSPHRASE

__all__ = ["app"]

app = typer.Typer(
    help="Keep the log encrypted on the disk, with a passphrase.",
    no_args_is_help=True,
    rich_markup_mode=None,
)


@app.command("on")
def turn_on(data_dir: options.DataDir = None) -> None:
    """Encrypt the log on the disk: entries, sound, and every backup from now on.

    The passphrase is asked for twice, or taken from VOICELOG_PASSPHRASE. If it is
    interrupted, the next command finishes it.

    Example: voicelog lock on
    """
    folder = folder_to_lock(data_dir)
    said = new_passphrase(PASSPHRASE)
    with HearingBar().shown() as bar:
        bar.begin("lock", beside="")
        lock_whole_log(folder, said, bar.done_so_far)
    typer.echo(locked_words(folder))


@app.command("off")
def turn_off(data_dir: options.DataDir = None) -> None:
    """Write the log as ordinary files again.

    Example: voicelog lock off
    """
    with HearingBar().shown() as bar:
        bar.begin("lock", beside="")
        folder = open_whole_log(data_dir, bar.done_so_far)
    typer.echo(opened_words(folder))


@app.command("passphrase")
def passphrase(data_dir: options.DataDir = None) -> None:
    """Change the passphrase (VOICELOG_NEW_PASSPHRASE, where nobody can be asked).

    Older backups still open with the passphrase that they were made with.

    Example: voicelog lock passphrase
    """
    change_passphrase(data_dir, lambda: new_passphrase(NEW_PASSPHRASE))
    typer.echo(PASSPHRASE_CHANGED)


@app.command("remember")
def remember(data_dir: options.DataDir = None) -> None:
    """Let the keyring of this system open the log, so that no passphrase is asked for.

    Anyone who is logged in here as you can then read it.

    Example: voicelog lock remember
    """
    folder = remember_key(data_dir)
    typer.echo(keyring_opens_words(folder))


@app.command("forget")
def forget(data_dir: options.DataDir = None) -> None:
    """Take the log's key out of the keyring of this system.

    Example: voicelog lock forget
    """
    there = forget_key(data_dir)
    typer.echo(KEYRING_FORGOT if there else KEYRING_HAD_NOT)


@app.command("state")
def state(data_dir: options.DataDir = None) -> None:
    """Say whether the log is locked.

    Example: voicelog lock state
    """
    found = lock_situation(data_dir)
    typer.echo(situation_words(found.folder, found.state, found.remembered))
