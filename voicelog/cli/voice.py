"""`voicelog voice`: a card read once, and whether that lets her be heard better."""

from __future__ import annotations

import queue
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from voicelog.cli import options
from voicelog.cli.listen import DeviceName, RateOption

if TYPE_CHECKING:
    from voicelog.grammar.grammar import Grammar, Narrowing
    from voicelog.hearing.engines import Wanted
    from voicelog.hearing.fit import Fit
    from voicelog.hearing.segmenter import Segment
    from voicelog.hearing.voice import Voice
    from voicelog.model import Roster, Sound
    from voicelog.sound.mono import Samples

__all__ = ["voice"]

PATIENCE_S = 20.0
"""So long (s) nothing is said before the card is taken to be over."""
FEWEST = 20
"""Lines of a card that must be found in order to fit anything to them."""


def voice(
    handler: Annotated[
        str | None, typer.Argument(help="Who reads. Default: the only handler of the roster.")
    ] = None,
    files: Annotated[
        list[Path] | None,
        typer.Argument(help="Recordings of the card, in order. Default: the microphone."),
    ] = None,
    show_card: Annotated[bool, typer.Option("--card", help="Print the card to read.")] = False,
    keep: Annotated[
        bool, typer.Option("--keep", help="Keep what gains without asking first.")
    ] = False,
    forget: Annotated[
        bool, typer.Option("--forget", help="Let go of what was kept for this handler.")
    ] = False,
    microphone: Annotated[
        str, typer.Option("--microphone", metavar="NAME", help="What the files were made with.")
    ] = "",
    device: DeviceName = None,
    rate: RateOption = None,
    dog: options.DogNames = None,
    listener: options.ListenerOption = None,
    data_dir: options.DataDir = None,
) -> None:
    """Fit the quick listener to a voice, from a card of some thirty lines read once.

    Shows what each line would have been before and after, judged by lines that had no part in
    the choice, and keeps nothing that gains nothing.

    Example: voicelog voice Anna card.wav
    """
    from voicelog.cli.intake import roster_for
    from voicelog.cli.lists import known_roster, open_log
    from voicelog.grammar.card import card
    from voicelog.grammar.grammar import Grammar, Narrowing
    from voicelog.model import UsageError

    roster = roster_for(known_roster(data_dir), tuple(dog or ()), strangers=True)
    grammar = Grammar.load(roster=roster)
    lines = card(grammar, roster.top_level)
    if show_card:
        typer.echo("\n".join(lines))
        return
    name = _reader(handler, roster)
    if forget:
        _forget(name, data_dir)
        return
    if listener == "careful":
        raise UsageError(
            "Found --listener careful, wanted the quick one to be there, since that is what is "
            "fitted; leave it out, or take --listener quick."
        )
    narrowing = Narrowing(top_level=roster.top_level)
    if files:
        read, level = _from_files(lines, files, grammar, narrowing)
    else:
        read, level, microphone = _from_microphone(lines, device, rate)
    typer.echo(f"{len(read)} of {len(lines)} lines found. {_microphone(level)}")
    for line in lines:
        if line not in {words for words, _ in read}:
            typer.echo(f"  not found: {line}")
    _enough(len(read))
    found = _fitted(read, grammar, narrowing, listener)
    _show(found)
    if not found.gains or not (keep or _yes()):
        return
    from voicelog.hearing.fit import voice_of

    with open_log(data_dir) as log:
        number = 1 + max((v.number for v in _of(log.voices(), name)), default=0)
        update = {"microphone": microphone, "number": number}
        log.put_voice(voice_of(found.setting, grammar, name).model_copy(update=update))
    typer.echo(f"Kept for {name}; used where {name} speaks (--as {name}).")


def _reader(handler: str | None, roster: Roster) -> str:
    """Who reads; refused where that is not clear or not on the roster."""
    from voicelog.model import UsageError

    known = {one.casefold(): one for one in roster.handlers}
    if handler is None and len(known) == 1:
        return roster.handlers[0]
    if handler is None or handler.casefold() not in known:
        have = ", ".join(roster.handlers) or "none yet"
        what = f"no handler '{handler}'" if handler else "no handler named"
        raise UsageError(
            f"Found {what}, wanted one of the roster ({have}); name one, or add a new one first: "
            "voicelog dogs handler NAME."
        )
    return known[handler.casefold()]


def _forget(name: str, data_dir: Path | None) -> None:
    from voicelog.cli.lists import open_log

    with open_log(data_dir) as log:
        kept = _of(log.voices(), name)
        for one in kept:
            log.remove_voice(one)
    typer.echo(f"{name} is heard as anybody is." if kept else f"Nothing was kept for {name}.")


def _of(voices: Sequence[Voice], name: str) -> list[Voice]:
    return [voice for voice in voices if voice.handler.casefold() == name.casefold()]


def _enough(found: int) -> None:
    from voicelog.model import VoicelogError

    if found < FEWEST:
        raise VoicelogError(
            f"Found {found} lines of the card, wanted {FEWEST} at least; read it again, line by "
            "line, with a second of silence after each."
        )


# --- what was read ---------------------------------------------------------------------


def _from_files(
    lines: Sequence[str], files: Sequence[Path], grammar: Grammar, narrowing: Narrowing
) -> tuple[tuple[tuple[str, Segment], ...], Sound]:
    """The lines found in recordings, each with its segment, and their level."""
    from voicelog.hearing.engines import quick_for
    from voicelog.hearing.follow import follow
    from voicelog.hearing.segmenter import segments
    from voicelog.sound.files import Reader
    from voicelog.sound.level import LevelMeter

    meter = LevelMeter()

    def blocks(path: Path) -> Iterator[Samples]:
        with Reader(path) as reader:
            for block in reader:
                meter.add(block)
                yield block

    found = [segment for path in files for segment in segments(blocks(path))]
    read = follow(lines, found, quick_for(grammar, narrowing), grammar)
    return read, meter.result()


def _from_microphone(
    lines: Sequence[str], device: str | None, rate: int | None
) -> tuple[tuple[tuple[str, Segment], ...], Sound, str]:
    """Show the lines one by one and hear each read; also the level, and the device's name."""
    from voicelog.hearing.follow import long_enough
    from voicelog.hearing.segmenter import segments
    from voicelog.sound.level import LevelMeter
    from voicelog.sound.microphone import Converter, Microphone, portaudio

    taken: queue.SimpleQueue[Samples] = queue.SimpleQueue()
    meter = LevelMeter()

    def taker_for(_rate: int) -> Any:
        return lambda sound, _lost: taken.put(sound)

    library = portaudio()
    opened = Microphone(taker_for, name=device, rate=rate, library=library)
    converter = Converter(opened.rate, opened.channels)

    def blocks() -> Iterator[Samples]:
        waited = 0.0
        while waited < PATIENCE_S:
            try:
                block = converter.push(taken.get(timeout=1.0))
            except queue.Empty:
                waited += 1.0
                continue
            waited = 0.0
            meter.add(block)
            yield block

    read: list[tuple[str, Segment]] = []
    typer.echo("Read each line when it is shown, as you would at work. Ctrl-C ends it.")
    heard = segments(blocks())
    try:
        for number, line in enumerate(lines, start=1):
            typer.echo(f"{number:2} of {len(lines)}: {line}")
            for segment in heard:
                if long_enough(segment, line):
                    read.append((line, segment))
                    break
                typer.echo("    again, all of it")
            else:
                break
    except KeyboardInterrupt:
        typer.echo("")
    finally:
        opened.close()
    return tuple(read), meter.result(), opened.device.name


def _microphone(level: Sound) -> str:
    """The microphone in a sentence, and what to change of it."""
    from voicelog.field.soundcheck import changes, measured

    advice = changes(level, 16_000, ())
    return " ".join((f"The microphone: {measured(level)}.", *advice[:1]))


# --- what comes of it --------------------------------------------------------------------


def _fitted(
    read: Sequence[tuple[str, Segment]],
    grammar: Grammar,
    narrowing: Narrowing,
    listener: Wanted | None,
) -> Fit:
    from voicelog.hearing.engines import ears_for, quick_for
    from voicelog.hearing.fit import fit

    ears = ears_for(grammar, narrowing, listener)

    def tried(done: int, of: int) -> None:
        if sys.stderr.isatty():
            typer.echo(f"\rtried {done} of {of}", err=True, nl=done == of)

    return fit(
        read,
        grammar,
        narrowing,
        lambda voice: quick_for(grammar, narrowing, voice),
        ears.careful,
        tried=tried,
    )


def _show(found: Fit) -> None:
    from voicelog.hearing.accents import can_say_accents
    from voicelog.hearing.fit import GRADES
    from voicelog.report.words import counted

    typer.echo(f"{'':10} " + " ".join(f"{grade:>8}" for grade in reversed(GRADES)))
    for title, grades in (("before", found.before), ("after", found.after)):
        row = " ".join(f"{grades.count(grade):8}" for grade in reversed(GRADES))
        typer.echo(f"{title:<10} {row}")
    for line, grade in zip(found.lines, found.before, strict=True):
        if grade in ("missed", "wrong"):
            typer.echo(f"  {grade} as it is: {line}")
    if not found.gains:
        typer.echo("No gain, nothing to keep: you are heard as anybody is.")
        if not can_say_accents():
            typer.echo("Other accents were not tried; that needs voicelog[voice].")
        return
    typer.echo(
        f"{counted(found.better, 'line')} better and {found.worse} worse, judged without them, by: "
        f"{found.setting.told}."
    )


def _yes() -> bool:
    """Ask, where there is somebody to ask."""
    if sys.stdin.isatty():
        return typer.confirm("Keep it?")
    typer.echo("Not kept; to keep it, run this again with --keep.")
    return False
