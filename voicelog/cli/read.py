"""`voicelog read`, the contract on standard output, and `voicelog demo`."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from operator import attrgetter
from pathlib import Path
from typing import Annotated, Literal

import typer

from voicelog.app.demo import demo_options, demo_recordings
from voicelog.app.input_files import InputFiles
from voicelog.app.intake import printable_path
from voicelog.app.open_file import IntakeOptions
from voicelog.app.read import ReadFile, read_file, summaries_of
from voicelog.cli import options
from voicelog.cli.hearing_bar import HearingBar, hear_each
from voicelog.cli.intake import intake_options, refusal_words, taken_files
from voicelog.cli.output import papers
from voicelog.model import ContractFormat, Document, RecordingOutput
from voicelog.report import tables
from voicelog.report.start_words import DEMO_BEGINS, demo_next_words
from voicelog.report.summary import Summary
from voicelog.report.words import counted

__all__ = ["demo", "read"]

Format = Annotated[
    Literal["text", "json", "markdown", "html", "csv"],
    typer.Option("--format", help="What to print. JSON is the data format for programs."),
]


def read(
    audio: options.InputPaths,
    output: Format = "text",
    contract: options.ContractOption = None,
    dog: options.DogNames = None,
    typed: options.Typed = False,
    who: options.Speaker = None,
    listener: options.ListenerOption = None,
    at: options.AtOption = None,
    jobs: options.Jobs = 1,
    optional: options.OptIn = None,
    settings: options.SettingsFile = None,
    data_dir: options.DataDir = None,
) -> None:
    """Hear recordings and print what they say. Nothing is kept.

    Dogs that the log knows have their own profile, others a default one.

    Example: voicelog read morning.m4a --dog Bracken --dog Wren --format json
    """
    form = options.contract_format(contract, output)
    wanted = intake_options(
        strangers=True,
        dog=dog,
        typed=typed,
        listener=listener,
        at=at,
        optional=optional,
        settings=settings,
        data_dir=data_dir,
    )
    _print(taken_files(audio, typed=typed), wanted, output, form, jobs)


def demo(
    output: Format = "text",
    contract: options.ContractOption = None,
    jobs: options.Jobs = 1,
    whole: Annotated[
        bool, typer.Option("--all", help="Hear all recordings of the demo, not only the first.")
    ] = False,
) -> None:
    """Hear a demo recording and print its summary, or all of them.

    The demo's dogs and people are invented, its voices synthetic.

    Example: voicelog demo --all
    """
    form = options.contract_format(contract, output)
    every = demo_recordings()
    recordings = every if whole else every[:1]
    typer.echo(DEMO_BEGINS.format(counted(len(recordings), "recording")), err=output != "text")
    _print(InputFiles(tuple(recordings)), demo_options(), output, form, jobs)
    if output == "text":
        typer.echo(demo_next_words(len(every) - len(recordings)))


def _print(
    files: InputFiles, wanted: IntakeOptions, output: str, form: ContractFormat, jobs: int
) -> None:
    lines: list[RecordingOutput] = []
    summaries: list[Summary] = []
    failed = False
    bar = HearingBar()
    if jobs == 1:
        wanted = replace(wanted, heard_so_far=bar.heard_so_far)
    work = partial(_read_one, files, wanted)
    for path, result in hear_each(files.paths, work, jobs, bar, attrgetter("name")):
        if isinstance(result, Exception):
            typer.echo(f"voicelog: {refusal_words(path, result)}", err=True)
            failed = True
            continue
        if result.note is not None:
            typer.echo(f"voicelog: {result.note}", err=True)
        derivation = result.derivation
        line = derivation.line.model_copy(update={"audio": printable_path(path)})
        lines.append(line)
        found = summaries_of(derivation, wanted.settings)
        summaries.extend(found)
        if output in ("text", "markdown"):
            typer.echo("".join(papers(found, output)) if found else _nothing(line))
    document = Document(format=form, recordings=tuple(lines))
    if output == "json":
        typer.echo(tables.dump(document))
    elif output == "csv":
        typer.echo(tables.reps_csv(document), nl=False)
    elif output == "html":
        typer.echo("".join(papers(summaries, output)))
    if failed:
        raise typer.Exit(1)


def _read_one(files: InputFiles, options: IntakeOptions, path: Path) -> ReadFile:
    return read_file(files.options_for(path, options), path)


def _nothing(line: RecordingOutput) -> str:
    """What to say of a recording in which no session was heard."""
    said = sum(entry.status != "rejected" for entry in line.entries)
    without = f", {counted(said, 'note')} without one" if said else ""
    return f"{line.audio}: no session heard in {line.duration_s:.0f} s{without}.\n"
