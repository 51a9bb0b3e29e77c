"""The options of commands that take files in, and which files those are."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import typer

from voicelog.app.input_files import InputFiles, input_files, is_text
from voicelog.app.open_file import IntakeOptions, named_dogs
from voicelog.app.open_log import known_roster, load_settings
from voicelog.audio.errors import NoSoundTrackError, NotRecordingError
from voicelog.cli.options import moment
from voicelog.recognition.recognizers import RecognizerChoice
from voicelog.report.added_words import left_out_words

__all__ = ["intake_options", "refusal_words", "taken_files"]


def intake_options(
    *,
    strangers: bool,
    dog: Sequence[str] | None,
    typed: bool,
    listener: RecognizerChoice | None,
    at: str | None,
    optional: Sequence[str] | None,
    settings: Path | None,
    data_dir: Path | None,
) -> IntakeOptions:
    """What a command's options ask for; `strangers` as in `named_dogs`."""
    names = tuple(dog or ())
    return IntakeOptions(
        roster=named_dogs(known_roster(data_dir), names, strangers=strangers),
        settings=load_settings(settings, data_dir, names),
        dog=names[0] if len(names) == 1 else None,
        optional=tuple(optional or ()),
        typed=typed,
        at=moment(at),
        listener=listener,
    )


def taken_files(named: Sequence[Path], *, typed: bool) -> InputFiles:
    """The files that are meant (`input_files`), with what of folders is left out told on standard
    error."""
    files = input_files(named, typed=typed)
    if files.left_out:
        typer.echo(f"voicelog: {left_out_words(len(files.paths), files.left_out)}", err=True)
    return files


def refusal_words(path: Path, error: Exception) -> str:
    """Why the file `path` was not taken in, with the option for notes where it is text that was
    taken for sound."""
    if isinstance(error, NotRecordingError | NoSoundTrackError) and is_text(path):
        return f"{str(error).removesuffix('.')}; if these are notes, add --typed."
    return str(error)
