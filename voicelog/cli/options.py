"""Options that several commands share, each worded once."""

from __future__ import annotations

import getpass
from collections.abc import Sequence
from datetime import date, datetime
from pathlib import Path
from typing import Annotated, Literal

import typer

from voicelog.app.written_dates import read_day, read_moment
from voicelog.model import CONTRACT_VERSION, PLAUSIBLE_YEARS, ContractFormat, UsageError
from voicelog.report.incoming_words import begun_later_words
from voicelog.report.words import date_words

__all__ = [
    "AtOption",
    "Cluster",
    "ClusterUnencrypted",
    "ContractOption",
    "DataDir",
    "DogNames",
    "InputPaths",
    "Jobs",
    "ListenerOption",
    "OptIn",
    "OutputFile",
    "OwnGrammar",
    "SettingsFile",
    "Speaker",
    "Typed",
    "contract_format",
    "day_of",
    "moment",
    "person",
    "signer",
]

DataDir = Annotated[
    Path | None,
    typer.Option(
        "--data-dir",
        metavar="FOLDER",
        help="Folder of the log. Default: VOICELOG_DATA, else this user's data folder.",
    ),
]
DogNames = Annotated[
    list[str] | None,
    typer.Option(
        "--dog",
        metavar="NAME",
        help="The dog worked until another is named. Repeat it for several: then each is to be "
        "named aloud.",
    ),
]
ContractOption = Annotated[
    Literal["1", "2"] | None,
    typer.Option(
        "--contract",
        help="For JSON: the version of the data format, by default 1. Format 2 adds to each "
        "rep when things happened.",
    ),
]
SettingsFile = Annotated[
    Path | None,
    typer.Option(
        "--settings",
        metavar="FILE",
        help="Settings in TOML. Default: settings.toml in the log's folder, if there is one.",
    ),
]
OptIn = Annotated[
    list[str] | None,
    typer.Option(
        "--with", metavar="GRAMMAR", help="Extra words to understand, such as radiotelephony."
    ),
]
OwnGrammar = Annotated[
    Path | None,
    typer.Option(
        "--grammar",
        metavar="FOLDER",
        help="A grammar of your own, a folder of JSGF files, in place of the one that ships.",
    ),
]
Typed = Annotated[
    bool,
    typer.Option(
        "--typed",
        help="The files are text: a note on each line, with or without its time in front.",
    ),
]
AtOption = Annotated[
    str | None,
    typer.Option(
        "--at",
        metavar="TIME",
        help="When the recording began, as '2026-04-18 7:30', '18 Apr 7:30', 'yesterday 7:30' or, "
        "with a zone, 2026-04-18T07:30+01:00; default: what the file says.",
    ),
]
Jobs = Annotated[
    int,
    typer.Option("--jobs", min=1, metavar="N", help="How many files are heard at the same time."),
]
Cluster = Annotated[
    str | None,
    typer.Option(
        "--cluster",
        metavar="ADDRESS",
        help="Let the workers of a dask scheduler hear, such as tls://192.168.1.5:8786. They must "
        "have the same voicelog and listeners.",
    ),
]
ClusterUnencrypted = Annotated[
    bool,
    typer.Option(
        "--cluster-unencrypted",
        help="Send sound to the cluster without encryption (tcp://), in a network that only "
        "trusted people can use.",
    ),
]
InputPaths = Annotated[
    list[Path],
    typer.Argument(metavar="AUDIO...", help="Recordings of any common format, or folders of them."),
]
ListenerOption = Annotated[
    Literal["quick", "careful", "both"] | None,
    typer.Option("--listener", help="Who listens. Default: both, where both are installed."),
]

OutputFile = Annotated[
    Path | None,
    typer.Option(
        "--output", "-o", metavar="FILE", help="Write to this file instead of the terminal."
    ),
]
Speaker = Annotated[
    str | None,
    typer.Option(
        "--as",
        metavar="NAME",
        help="Who speaks. Everybody is heard alike, so nothing depends on it.",
    ),
]


def signer(name: str | None, handlers: Sequence[str]) -> str:
    """Who corrects or answers, as typed for --as; where it was left out, the only one of the
    `handlers` on the roster, and with none or several this user.

    Raises:
        UsageError: the name is empty.
    """
    return handlers[0] if name is None and len(handlers) == 1 else person(name)


def person(name: str | None) -> str:
    """Who does something, as typed for --as; where it was left out, this user.

    Raises:
        UsageError: the name is empty.
    """
    if name is None:
        return getpass.getuser()
    if not name.strip():
        raise UsageError("There is no name after --as; type who speaks, or leave --as out.")
    return name.strip()


def day_of(text: str | None, option: str = "--day") -> date | None:
    """A day as typed for an option; None where none was. One that was reckoned from today is said
    back on standard error."""
    if not text:
        return None
    day, reckoned = read_day(text, date.today(), option)
    if reckoned:
        typer.echo(f"voicelog: {option} '{text}' is {day:%A}, {date_words(day)}.", err=True)
    return day


def moment(text: str | None, option: str = "--at") -> datetime | None:
    """A time as typed for an option; naive when it names no zone. One that was reckoned from today
    is said back on standard error.

    Raises:
        UsageError: it is no time, or is still to come.
    """
    if text is None:
        return None
    now = datetime.now()
    when, reckoned = read_moment(text, now, option)
    if when.year not in PLAUSIBLE_YEARS:
        raise UsageError(
            f"Found the year {when.year} for {option}, "
            f"wanted one from {PLAUSIBLE_YEARS[0]} to {PLAUSIBLE_YEARS[-1]}; "
            "correct it."
        )
    if is_to_come(when, now):
        raise UsageError(begun_later_words(when))
    if reckoned:
        at = f" {when:%H:%M}" if when.hour or when.minute else ""
        typer.echo(f"voicelog: {option} '{text}' is {when:%A}, {date_words(when)}{at}.", err=True)
    return when


def is_to_come(when: datetime, now: datetime) -> bool:
    """Whether a moment that was typed is after `now`, both in local time where they name no
    zone."""
    return when.astimezone() > now.astimezone()


def contract_format(asked: str | None, output: str) -> ContractFormat:
    """The format that was asked for, "1" or "2", for an output of that name.

    Raises:
        UsageError: it was asked for, and the output is not JSON.
    """
    if asked is None:
        return CONTRACT_VERSION
    if output != "json":
        raise UsageError(
            f"Found --contract with --format {output}, but it belongs to JSON; leave it out, or "
            "give --format json."
        )
    return 2 if asked == "2" else 1
