"""`voicelog share`: one log on many devices, through a folder that a sync program carries."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from voicelog.app.open_log import open_log
from voicelog.app.share import (
    ShareResult,
    carry_share,
    leave_share,
    repair_share,
    share_lines,
    share_now,
    share_status,
    start_share,
    status_lines,
)
from voicelog.app.share_signing import sign_share
from voicelog.app.share_trust import allow_device
from voicelog.cli import options
from voicelog.cli.hearing_bar import HearingBar
from voicelog.cli.open_catalog import opened_catalog, warn_set_aside
from voicelog.report import share_words

__all__ = ["app"]

app = typer.Typer(
    help="One log on many devices, through a folder that a sync program or a stick carries.",
    no_args_is_help=True,
    rich_markup_mode=None,
)


@app.command("start")
def start(
    folder: Annotated[
        Path,
        typer.Argument(metavar="FOLDER", help="An empty folder, or one that is shared already."),
    ],
    name: Annotated[
        str | None,
        typer.Option("--as", metavar="NAME", help="What to call this device. Default: its name."),
    ] = None,
    signed: Annotated[
        bool,
        typer.Option(
            "--signed", help="Begin a share in which only devices that you allow can write."
        ),
    ] = False,
    first: Annotated[
        str | None,
        typer.Option(
            "--first",
            metavar="KEY",
            help="To join a signed share: the key of the device that began it, from its screen.",
        ),
    ] = None,
    data_dir: options.DataDir = None,
) -> None:
    """Share the log through a folder, or join the share that is in it.

    Example: voicelog share start ~/Sync/kennel --as "Anna's laptop"
    """
    with open_log(data_dir) as log:
        place, new = start_share(log, folder, name, signed=signed, first=first)
        told = share_words.started_words(place.folder, new, locked=log.locked)
        keys = share_status(log).signed
    typer.echo(told)
    if keys is not None:
        typer.echo(share_words.signed_start_words(keys.first, keys.own))
    now(data_dir)


@app.command("now")
def now(data_dir: options.DataDir = None) -> None:
    """Write what is new into the folder and take in what has come. The log may be in use.

    Example: voicelog share now
    """
    with opened_catalog(data_dir, warn=False) as catalog:
        with HearingBar().shown() as bar:
            bar.begin("share", beside="")
            result = share_now(catalog, bar.done_so_far)
        warn_set_aside(catalog.log)
    if _told_bad(result):
        raise typer.Exit(1)


@app.command("sign")
def sign(
    first: Annotated[
        str | None,
        typer.Option(
            "--first",
            metavar="KEY",
            help="On every other device: the key of the one that signed first, from its screen.",
        ),
    ] = None,
    data_dir: options.DataDir = None,
) -> None:
    """Sign an existing share: from now on only devices that you allow can write.

    What is in this log counts; what others write is set aside until they sign and are allowed.

    Example: voicelog share sign
    """
    with opened_catalog(data_dir, warn=False) as catalog, HearingBar().shown() as bar:
        bar.begin("share", beside="")
        done = sign_share(catalog, first, bar.done_so_far)
    for line in share_words.signed_now_lines(
        done.state.first, done.state.own, done.own, done.others, "terminal"
    ):
        typer.echo(line)
    if done.before is None:
        now(data_dir)
    elif _told_bad(done.before):
        raise typer.Exit(1)


@app.command("status")
def status(data_dir: options.DataDir = None) -> None:
    """Say which device has what, what is missing, and where two people disagree.

    Example: voicelog share status
    """
    with open_log(data_dir) as log:
        found = share_status(log)
    for line in status_lines(found):
        typer.echo(line)


@app.command("allow")
def allow(
    key: Annotated[
        str, typer.Argument(metavar="KEY", help="The other device's key, from its screen.")
    ],
    data_dir: options.DataDir = None,
) -> None:
    """Let a device write in a signed share. Run it on the share's first device.

    First compare the key with the one that 'voicelog share status' shows on the other device.

    Example: voicelog share allow 1f0c-93ab-5d20-77e1-c4a8
    """
    with open_log(data_dir) as log:
        typer.echo(share_words.allowed_words(allow_device(log, key, allowed=True)))


@app.command("withdraw")
def withdraw(
    key: Annotated[str, typer.Argument(metavar="KEY", help="The key, from 'share status'.")],
    data_dir: options.DataDir = None,
) -> None:
    """Take nothing new from a device of a signed share. Run it on the share's first device.

    Example: voicelog share withdraw 1f0c-93ab-5d20-77e1-c4a8
    """
    with open_log(data_dir) as log:
        typer.echo(share_words.allowed_words(allow_device(log, key, allowed=False)))


@app.command("carry")
def carry(
    folder: Annotated[
        Path, typer.Argument(metavar="FOLDER", help="A folder on a stick, kept for this share.")
    ],
    data_dir: options.DataDir = None,
) -> None:
    """Copy the shared folder to a stick and back, where there is no network.

    Example: voicelog share carry /media/stick/kennel
    """
    with open_log(data_dir) as log:
        done = carry_share(log, folder)
    typer.echo(share_words.carried_words(done.out, done.back, folder))


@app.command("repair")
def repair(data_dir: options.DataDir = None) -> None:
    """Read the whole folder, and write again what is damaged or missing, if this log has it.

    Example: voicelog share repair
    """
    with open_log(data_dir) as log:
        own, others = repair_share(log)
    typer.echo(share_words.repaired_words(own, others))


@app.command("leave")
def leave(data_dir: options.DataDir = None) -> None:
    """Stop sharing. The log keeps everything, and so does the folder.

    Example: voicelog share leave
    """
    with open_log(data_dir) as log:
        folder = leave_share(log)
    typer.echo(share_words.left_words(folder))


def _told_bad(result: ShareResult) -> bool:
    """Say what came of an exchange; whether something of it is bad."""
    bad = False
    for line, good in share_lines(result):
        typer.echo(line if good else f"voicelog: {line}", err=not good)
        bad = bad or not good
    return bad
