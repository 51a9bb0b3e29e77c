"""`voicelog voice`: a card read once, which shows how microphone and speaker are heard."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer

from voicelog.app.open_file import named_dogs
from voicelog.app.open_log import known_roster
from voicelog.app.voice_card import (
    CardReading,
    card_for,
    grade_card,
    known_handler,
    read_card_aloud,
    read_card_files,
    reading_lines,
)
from voicelog.audio import microphone
from voicelog.audio.microphone_stream import MicrophoneStream
from voicelog.cli import options
from voicelog.cli.device_options import DeviceName, RateOption
from voicelog.report.card_words import card_result_lines

__all__ = ["voice"]

PATIENCE_S = 20.0
"""Seconds of silence after which the card is taken to be over."""


def voice(
    handler: Annotated[
        str | None, typer.Argument(help="Who reads: a handler of the roster. Default: anybody.")
    ] = None,
    files: Annotated[
        list[Path] | None,
        typer.Argument(help="Recordings of the card, in order. Default: the microphone."),
    ] = None,
    show_card: Annotated[bool, typer.Option("--card", help="Print the card to read.")] = False,
    device: DeviceName = None,
    rate: RateOption = None,
    dog: options.DogNames = None,
    listener: options.ListenerOption = None,
    data_dir: options.DataDir = None,
) -> None:
    """Check your microphone and your voice with a card of some thirty lines, read once.

    Says how the microphone sounds, which lines were missed or heard as something else, and what to
    do. Nothing is kept.

    Example: voicelog voice Anna card.wav
    """
    roster = named_dogs(known_roster(data_dir), tuple(dog or ()), strangers=True)
    lines = card_for(roster)
    if show_card:
        typer.echo("\n".join(lines))
        return
    reader = known_handler(handler, roster) if handler else ""
    if files:
        reading = read_card_files(lines, files, roster)
    else:
        reading = _from_microphone(lines, device, rate)
    for line in reading_lines(lines, reading, reader):
        typer.echo(line)
    grades = grade_card(reading, roster, listener)
    for line in card_result_lines(grades.results):
        typer.echo(line)
    if grades.note:
        typer.echo(f"voicelog: {grades.note}", err=True)


def _from_microphone(lines: Sequence[str], device: str | None, rate: int | None) -> CardReading:
    """Show the lines one by one and hear each read."""

    def show(number: int, line: str) -> None:
        typer.echo(f"{number:2} of {len(lines)}: {line}")

    def repeat() -> None:
        typer.echo("    again, all of it")

    with MicrophoneStream(microphone.portaudio(), name=device, rate=rate) as stream:
        typer.echo("Read each line when it is shown, as you would at work. Ctrl-C ends it.")
        blocks = stream.blocks(PATIENCE_S)
        reading = read_card_aloud(lines, blocks, show=show, repeat=repeat)
    if reading.stopped:
        typer.echo("")
    return reading
