"""`voicelog soundcheck`: at the truck, before the dog comes out."""

from __future__ import annotations

from typing import Annotated, Any

import typer

from voicelog.app.open_file import named_dogs
from voicelog.app.open_log import known_roster
from voicelog.app.soundcheck import check_microphone, soundcheck_line
from voicelog.audio import microphone
from voicelog.audio.microphone import DeviceError, list_devices
from voicelog.cli import options
from voicelog.cli.device_options import DeviceName, OutputName, RateOption, Side, SideOption
from voicelog.live.earphone import Earphone
from voicelog.live.speech_synthesis import find_voice
from voicelog.live.tones import tone
from voicelog.report.soundcheck_words import NOTHING_TO_CHANGE, level_words, problem_words
from voicelog.report.state_words import status_word

__all__ = ["soundcheck"]


def soundcheck(
    device: DeviceName = None,
    rate: RateOption = None,
    output: OutputName = None,
    side: SideOption = "left",
    seconds: Annotated[
        float, typer.Option("--seconds", min=2.0, max=60.0, help="How long to record.")
    ] = 10.0,
    dog: options.DogNames = None,
    data_dir: options.DataDir = None,
) -> None:
    """Try microphone and earphone: say a line, see its level and what was understood.

    Keeps nothing. The exit code is 1 when there is something to change.

    Example: voicelog soundcheck --device headset
    """
    library = microphone.portaudio()
    roster = named_dogs(known_roster(data_dir), tuple(dog or ()), strangers=True)
    _list(library)
    _sound_ear(library, output, side)
    line = soundcheck_line(next(iter(roster.dogs), None))
    typer.echo(f'Say, with a pause after each: "{" ... ".join(line)}" ({seconds:g} s)')
    done = check_microphone(library, line, roster, seconds=seconds, device=device, rate=rate)
    found = done.found
    typer.echo(f"{done.name}, {done.rate} Hz: {level_words(found.level)}.")
    for phrase, status in found.phrases:
        typer.echo(f"  {status_word(status):<14} {phrase}")
    missed = [phrase for phrase, status in found.phrases if status == "rejected"]
    for problem in found.problems:
        typer.echo(problem_words(problem, rate=done.rate, missed=missed, face="terminal"))
    if found.problems:
        raise typer.Exit(1)
    typer.echo(NOTHING_TO_CHANGE)


def _list(library: Any) -> None:
    for device in list_devices("in", library):
        mark = "*" if device.default else " "
        typer.echo(f"{mark} microphone  {device.name} ({device.rate} Hz)")
    for device in list_devices("out", library):
        mark = "*" if device.default else " "
        typer.echo(f"{mark} earphone    {device.name}")


def _sound_ear(library: Any, output: str | None, side: Side) -> None:
    """Let her hear the tones and the voice."""
    if output == "none":
        return
    try:
        earphone = Earphone(name=output, side=side, library=library)
    except DeviceError as error:
        typer.echo(f"voicelog: {error}", err=True)
        return
    voice = find_voice()
    earphone.play(tone("accepted"))
    if voice is not None:
        earphone.play(voice.sound("Sound check"))
    earphone.close()
    speaks = f"{voice.name} said 'Sound check'" if voice else "no voice, install voicelog[voice]"
    typer.echo(f"In the {side} ear of {earphone.device.name}: a pip; {speaks}.")
