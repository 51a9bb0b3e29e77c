"""`voicelog voice`: a card read once, which shows how microphone and speaker are heard."""

from __future__ import annotations

import queue
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from voicelog.cli import options
from voicelog.cli.listen import DeviceName, RateOption

if TYPE_CHECKING:
    from voicelog.audio.resampling import Samples
    from voicelog.grammar.grammar import Grammar, RecognitionContext
    from voicelog.model import Roster, SoundLevel
    from voicelog.recognition.card_results import CardGrade, CardLineResult
    from voicelog.recognition.segmenter import Segment

__all__ = ["voice"]

PATIENCE_S = 20.0
"""So long (s) nothing is said before the card is taken to be over."""
FEWEST = 20
"""Lines of a card that must be found in order to say anything of who read it."""


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
    """Check microphone and speaker with a card of some thirty lines, read once.

    Says how the microphone sounds, which lines were missed or heard otherwise, and what to do.
    Nothing is kept.

    Example: voicelog voice Anna card.wav
    """
    from voicelog.app.open_log import known_roster
    from voicelog.cli.intake import roster_for
    from voicelog.grammar.grammar import Grammar, RecognitionContext
    from voicelog.grammar.reading_card import card
    from voicelog.recognition.card_results import card_results
    from voicelog.recognition.recognizers import make_recognizers

    roster = roster_for(known_roster(data_dir), tuple(dog or ()), strangers=True)
    grammar = Grammar.load(roster=roster)
    lines = card(grammar, roster.top_level)
    if show_card:
        typer.echo("\n".join(lines))
        return
    reader = f"{_known(handler, roster)}: " if handler else ""
    narrowing = RecognitionContext(top_level=roster.top_level)
    if files:
        read, level = _from_files(lines, files, grammar, narrowing)
    else:
        read, level = _from_microphone(lines, device, rate)
    typer.echo(f"{reader}{len(read)} of {len(lines)} lines found. {_microphone(level)}")
    for line in lines:
        if line not in {words for words, _ in read}:
            typer.echo(f"  not found: {line}")
    _enough(len(read))
    ears = make_recognizers(grammar, narrowing, listener)
    _show(card_results(read, ears, grammar, narrowing))
    if ears.note:
        typer.echo(f"voicelog: {ears.note}", err=True)


def _known(handler: str, roster: Roster) -> str:
    """A handler's name as the roster spells it; refused where it is not there."""
    from voicelog.model import UsageError

    known = {one.casefold(): one for one in roster.handlers}
    if handler.casefold() not in known:
        have = ", ".join(roster.handlers) or "none yet"
        raise UsageError(
            f"Found no handler '{handler}', wanted one of the roster ({have}); name one, or add a "
            "new one first: voicelog dogs handler NAME."
        )
    return known[handler.casefold()]


def _enough(found: int) -> None:
    from voicelog.model import VoicelogError

    if found < FEWEST:
        raise VoicelogError(
            f"Found {found} lines of the card, wanted {FEWEST} at least; read it again, line by "
            "line, with a second of silence after each."
        )


# --- what was read ---------------------------------------------------------------------


def _from_files(
    lines: Sequence[str], files: Sequence[Path], grammar: Grammar, narrowing: RecognitionContext
) -> tuple[tuple[tuple[str, Segment], ...], SoundLevel]:
    """The lines found in recordings, each with its segment, and their level."""
    from voicelog.audio.files import AudioReader
    from voicelog.audio.level_meter import LevelMeter
    from voicelog.recognition.card_alignment import align_card
    from voicelog.recognition.recognizers import make_first_pass
    from voicelog.recognition.segmenter import segments

    meter = LevelMeter()

    def blocks(path: Path) -> Iterator[Samples]:
        with AudioReader(path) as reader:
            for block in reader:
                meter.add(block)
                yield block

    found = [segment for path in files for segment in segments(blocks(path))]
    read = align_card(lines, found, make_first_pass(grammar, narrowing), grammar)
    return read, meter.result()


def _from_microphone(
    lines: Sequence[str], device: str | None, rate: int | None
) -> tuple[tuple[tuple[str, Segment], ...], SoundLevel]:
    """Show the lines one by one and hear each read; also the level."""
    from voicelog.audio.level_meter import LevelMeter
    from voicelog.audio.microphone import Microphone, StreamResampler, portaudio
    from voicelog.recognition.card_alignment import is_plausible_duration
    from voicelog.recognition.segmenter import segments

    taken: queue.SimpleQueue[Samples] = queue.SimpleQueue()
    meter = LevelMeter()

    def taker_for(_rate: int) -> Any:
        return lambda sound, _lost: taken.put(sound)

    library = portaudio()
    opened = Microphone(taker_for, name=device, rate=rate, library=library)
    converter = StreamResampler(opened.rate, opened.channels)

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
                if is_plausible_duration(segment, line):
                    read.append((line, segment))
                    break
                typer.echo("    again, all of it")
            else:
                break
    except KeyboardInterrupt:
        typer.echo("")
    finally:
        opened.close()
    return tuple(read), meter.result()


def _microphone(level: SoundLevel) -> str:
    """The microphone in a sentence, and what to change of it."""
    from voicelog.live.soundcheck import changes, measured

    advice = changes(level, 16_000, ())
    return " ".join((f"The microphone: {measured(level)}.", *advice[:1]))


# --- what comes of it --------------------------------------------------------------------


def _show(found: Sequence[CardLineResult]) -> None:
    """How many lines came out how, each that was not sure, and what to do."""
    names: dict[CardGrade, str] = {
        "sure": "sure",
        "offered": "to check",
        "missed": "missed",
        "wrong": "heard otherwise",
    }
    counts = Counter(one.grade for one in found)
    typer.echo(", ".join(f"{counts[grade]} {name}" for grade, name in names.items()) + ".")
    for one in found:
        if one.grade != "sure":
            otherwise = f", heard as: {one.heard}" if one.heard not in ("", one.line) else ""
            typer.echo(f"  {names[one.grade]}: {one.line}{otherwise}")
    if counts["missed"] or counts["wrong"]:
        typer.echo(
            "Read the card again nearer to the microphone or with another one. What is missed or "
            "heard otherwise again, say more slowly at work, or in other words (voicelog words "
            "list)."
        )
    elif counts["offered"]:
        typer.echo("What is to check is kept, and asks for a look in the evening.")
    else:
        typer.echo("Nothing to change.")
