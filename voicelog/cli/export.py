"""`voicelog export`: the log for other programs, and a dog's sessions for another trainer."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from voicelog.app.archive import WrittenBundle, export_bundle, make_folder
from voicelog.app.export import ExportedFiles, export_log, export_use_record
from voicelog.cli import options
from voicelog.cli.open_catalog import opened_catalog
from voicelog.cli.output import write_output
from voicelog.cli.passphrase import new_passphrase
from voicelog.model import UsageError
from voicelog.report.words import counted
from voicelog.store.log_lock import BUNDLE_PASSPHRASE

__all__ = ["export"]


def export(
    folder: Annotated[Path, typer.Argument(help="Folder to write to; made when missing.")],
    output: Annotated[
        Literal["json", "csv", "record", "bundle"],
        typer.Option(
            "--format",
            help="JSON (the data format), CSV (three tables), the record of use of collars, or a "
            "dog's sessions with their sound, for another trainer's voicelog.",
        ),
    ] = "json",
    contract: options.ContractOption = None,
    reason: Annotated[
        str,
        typer.Option(
            "--reason", metavar="WORDS", help="Why collars were used, for the record of use."
        ),
    ] = "",
    dog: Annotated[
        str | None,
        typer.Option("--dog", metavar="NAME", help="For a record or a bundle: this dog's."),
    ] = None,
    day: Annotated[
        str | None,
        typer.Option("--day", metavar="DATE", help="For a bundle: the sessions of that day only."),
    ] = None,
    locked: Annotated[
        bool | None,
        typer.Option(
            "--locked/--open",
            help="For a bundle: with a passphrase of its own, or without. Default: as the log is.",
        ),
    ] = None,
    data_dir: options.DataDir = None,
) -> None:
    """Write the log for other programs: JSON, or reps, entries and findings as CSV.

    The record of use is a row for each session with a collar, as some laws ask of licensed
    users. Reason, client and identification stay empty unless you give them (here, and with
    'voicelog dogs put'). Check what the law where you work asks for today.

    A bundle is one ZIP file with a dog's sessions, entries and sound, and nothing of other dogs;
    'voicelog add' takes it in. The passphrase of a locked bundle is asked for, or taken from
    VOICELOG_BUNDLE_PASSPHRASE; give it to the person who gets the bundle, but send it
    separately.

    Example: voicelog export out --format csv
    """
    wrong = {
        "reason": bool(reason) and output != "record",
        "dog": dog is not None and output not in ("record", "bundle"),
        "day": day is not None and output != "bundle",
        "locked": locked is not None and output != "bundle",
    }
    if any(wrong.values()):
        raise UsageError(
            f"Found --{next(name for name in wrong if wrong[name])} with --format {output}, but "
            "it belongs to another format (record or bundle); leave it out, or change --format."
        )
    form = options.contract_format(contract, output)
    on = options.day_of(day)
    if output == "bundle":
        if dog is None:
            raise UsageError("Found no --dog, but a bundle is of one dog; name it with --dog.")
        with opened_catalog(data_dir, dog) as catalog:
            wanted = catalog.log.locked if locked is None else locked
            said = new_passphrase(BUNDLE_PASSPHRASE, lost=False) if wanted else None
            bundle = export_bundle(catalog, folder, dog, on, said)
        _say_bundle(bundle, wanted)
        return
    with opened_catalog(data_dir, dog) as catalog:
        if output == "record":
            found = export_use_record(catalog, dog, reason)
        else:
            found = export_log(catalog, output, form)
    _write(found, folder)
    if output == "record":
        many = counted(found.count, "session")
        typer.echo(f"{many} with a collar written to {folder / 'record.csv'}.")
    else:
        typer.echo(
            f"{counted(found.count, 'recording')} written to {folder}: names of dogs and handlers, "
            "all entries, no sound."
        )


def _write(found: ExportedFiles, folder: Path) -> None:
    make_folder(folder)
    for name, content in found.files.items():
        write_output(content, folder / name)


def _say_bundle(bundle: WrittenBundle, locked: bool) -> None:
    how = "locked by its passphrase" if locked else "unencrypted"
    packed = bundle.content
    typer.echo(
        f"{counted(bundle.sessions, 'session')} of {bundle.dog} written to {bundle.path}: "
        f"{counted(packed.events, 'event')} and the sound or typed notes of {packed.sounds} of "
        f"{counted(packed.recordings, 'recording')}, with names and voices, {how}. "
        f"To take it in: voicelog add {bundle.path.name}"
    )
    for missing in packed.without_sound:
        typer.echo(f"voicelog: the sound of {missing} is not there to be handed over.", err=True)
