"""A card of lines read once: which were found, and what becomes of each when it is heard."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from voicelog.app.grammars import grammar_with
from voicelog.app.recognizers import load_quick, load_recognizers
from voicelog.app.soundcheck import sound_problems
from voicelog.audio.files import AudioReader
from voicelog.audio.level_meter import LevelMeter
from voicelog.audio.resampling import RATE, Samples
from voicelog.grammar.reading_card import card
from voicelog.model import Roster, SoundLevel, UsageError, VoicelogError
from voicelog.model.names import name_key
from voicelog.recognition.card_alignment import align_card, is_plausible_duration
from voicelog.recognition.card_results import CardLineResult, card_results
from voicelog.recognition.recognizers import RecognizerChoice
from voicelog.recognition.segmenter import Segment, segments
from voicelog.report.card_words import card_result_lines, found_words, not_found_words

__all__ = [
    "MIN_LINES",
    "CardGrades",
    "CardReading",
    "card_for",
    "grade_card",
    "graded_lines",
    "known_handler",
    "read_card_aloud",
    "read_card_files",
    "reading_lines",
]

MIN_LINES = 20
"""Lines of a card that must be found in order to say anything of who read it."""


@dataclass(frozen=True, slots=True)
class CardReading:
    """The lines that were found, in order, each with the segment that holds it, and the level of
    all the sound; `stopped`: the reader broke off."""

    lines: tuple[tuple[str, Segment], ...]
    level: SoundLevel
    stopped: bool = False


@dataclass(frozen=True, slots=True)
class CardGrades:
    """What became of each line that was found; `note` where a recognizer could not be used."""

    results: tuple[CardLineResult, ...]
    note: str | None


def known_handler(name: str, roster: Roster) -> str:
    """A handler's name as the roster spells it. Raises UsageError where it is not there."""
    known = {name_key(one): one for one in roster.handlers}
    if name_key(name) not in known:
        have = ", ".join(roster.handlers) or "none yet"
        raise UsageError(
            f"Found no handler '{name}', wanted one of the roster ({have}); name one, or add a "
            "new one first: voicelog dogs handler NAME."
        )
    return known[name_key(name)]


def card_for(roster: Roster) -> tuple[str, ...]:
    """The lines to read, for the names and levels of a roster."""
    return tuple(card(grammar_with(roster), roster.top_level))


def read_card_files(lines: Sequence[str], files: Sequence[Path], roster: Roster) -> CardReading:
    """The lines found in recordings that hold them in order. Raises as AudioReader does."""
    meter = LevelMeter()
    found = [segment for path in files for segment in segments(_metered(_blocks_of(path), meter))]
    quick = load_quick(roster)
    return CardReading(align_card(lines, found, quick, grammar_with(roster)), meter.result())


def reading_lines(lines: Sequence[str], reading: CardReading, reader: str = "") -> Iterator[str]:
    """How a card of `lines` was read, by a `reader` who may be named: how many were found, how the
    microphone sounds and what to change of it, and which were not found."""
    problems = sound_problems(reading.level, RATE, ())[:1]
    yield found_words(reader, len(reading.lines), len(lines), reading.level, problems)
    read = {words for words, _ in reading.lines}
    yield from (not_found_words(line) for line in lines if line not in read)


def read_card_aloud(
    lines: Sequence[str],
    blocks: Iterable[Samples],
    *,
    show: Callable[[int, str], None],
    repeat: Callable[[], None],
) -> CardReading:
    """Hear each line read as it is shown, until the blocks of sound end or Ctrl-C is pressed.

    `show` is called with the number of a line, from 1, and its words; `repeat` when what was
    said was too short or too long to be all of it.
    """
    meter = LevelMeter()
    read: list[tuple[str, Segment]] = []
    heard = segments(_metered(blocks, meter))
    stopped = False
    try:
        for number, line in enumerate(lines, start=1):
            show(number, line)
            for segment in heard:
                if is_plausible_duration(segment, line):
                    read.append((line, segment))
                    break
                repeat()
            else:
                break
    except KeyboardInterrupt:
        stopped = True  # what was read until then counts
    return CardReading(tuple(read), meter.result(), stopped)


def grade_card(
    reading: CardReading, roster: Roster, listener: RecognizerChoice | None = None
) -> CardGrades:
    """What becomes of the lines of a card, as a session would hear them.

    Raises:
        VoicelogError: fewer than MIN_LINES were found, or as `load_recognizers` does.
    """
    found = len(reading.lines)
    if found < MIN_LINES:
        raise VoicelogError(
            f"Found {found} lines of the card, wanted {MIN_LINES} at least; read it again, line "
            "by line, with a second of silence after each."
        )
    loaded = load_recognizers(roster, listener=listener)
    results = card_results(reading.lines, loaded.recognizers, loaded.grammar, loaded.context)
    return CardGrades(results, loaded.note)


def graded_lines(reading: CardReading, roster: Roster) -> Iterator[str]:
    """What becomes of each line in words, or why that cannot be said."""
    try:
        grades = grade_card(reading, roster)
    except VoicelogError as error:
        yield str(error)
        return
    yield from card_result_lines(grades.results)
    if grades.note:
        yield grades.note


def _blocks_of(path: Path) -> Iterator[Samples]:
    with AudioReader(path) as reader:
        yield from reader


def _metered(blocks: Iterable[Samples], meter: LevelMeter) -> Iterator[Samples]:
    for block in blocks:
        meter.add(block)
        yield block
