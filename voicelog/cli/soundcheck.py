"""`voicelog soundcheck`: at the truck, before the dog comes out."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING, Annotated, Any

import typer

from voicelog.cli import options
from voicelog.cli.listen import DeviceName, OutputName, RateOption, Side, SideOption

if TYPE_CHECKING:
    from voicelog.app.pipeline import RecognizedUtterance
    from voicelog.audio.resampling import Samples
    from voicelog.model import Roster

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

    Keeps nothing. Ends with 1 when there is something to change.

    Example: voicelog soundcheck --device headset
    """
    from voicelog.app.open_log import known_roster
    from voicelog.audio.level_meter import LevelMeter
    from voicelog.audio.microphone import portaudio
    from voicelog.cli.intake import roster_for
    from voicelog.live.soundcheck import changes, measured, soundcheck_line, understood

    library = portaudio()
    roster = roster_for(known_roster(data_dir), tuple(dog or ()), strangers=True)
    _list(library)
    _sound_ear(library, output, side)
    line = soundcheck_line(next(iter(roster.dogs), None))
    typer.echo(f'Say, with a pause after each: "{" ... ".join(line)}" ({seconds:g} s)')
    name, hz, sound = _recorded(library, device, rate, seconds)
    meter = LevelMeter()
    meter.add(sound)
    level = meter.result()
    typer.echo(f"{name}, {hz} Hz: {measured(level)}.")
    found = understood(line, _heard(roster, sound))
    for phrase, mark in found:
        typer.echo(f"  {mark:<8} {phrase}")
    said = changes(level, hz, found)
    for sentence in said or ("Nothing to change.",):
        typer.echo(sentence)
    if said:
        raise typer.Exit(1)


def _list(library: Any) -> None:
    from voicelog.audio.microphone import list_devices

    for device in list_devices("in", library):
        mark = "*" if device.default else " "
        typer.echo(f"{mark} microphone  {device.name} ({device.rate} Hz)")
    for device in list_devices("out", library):
        mark = "*" if device.default else " "
        typer.echo(f"{mark} earphone    {device.name}")


def _sound_ear(library: Any, output: str | None, side: Side) -> None:
    """Let her hear the tones and the voice."""
    from voicelog.audio.microphone import DeviceError
    from voicelog.live.earphone import Earphone
    from voicelog.live.speech_synthesis import find_voice
    from voicelog.live.tones import tone

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


def _recorded(
    library: Any, device: str | None, rate: int | None, seconds: float
) -> tuple[str, int, Samples]:
    """The device's name and rate (Hz), and some seconds of it as mono at 16 kHz."""
    import numpy as np

    from voicelog.audio.microphone import BlockCallbackFor, Microphone, StreamResampler

    blocks: list[Samples] = []

    def taker_for(_rate: int) -> Any:
        return lambda sound, _lost: blocks.append(sound)

    taker: BlockCallbackFor = taker_for
    microphone = Microphone(taker, name=device, rate=rate, library=library)
    time.sleep(seconds)
    microphone.close()
    converter = StreamResampler(microphone.rate, microphone.channels)
    sound = [converter.push(block) for block in blocks]
    return microphone.device.name, microphone.rate, np.concatenate([*sound, converter.finish()])


def _heard(roster: Roster, sound: Samples) -> list[RecognizedUtterance]:
    from voicelog.grammar.grammar import Grammar, RecognitionContext
    from voicelog.recognition.recognize import recognize
    from voicelog.recognition.recognizers import make_recognizers

    grammar = Grammar.load(roster=roster)
    narrowing = RecognitionContext(top_level=roster.top_level)
    return list(
        recognize([sound], make_recognizers(grammar, narrowing), grammar, narrowing, "check")
    )
