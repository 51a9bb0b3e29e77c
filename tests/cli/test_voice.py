"""A card is printed and read, and it is said which lines were missed and what to do."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.audio.making import write
from tests.audio.stand_in import StandIn
from tests.cli.run import Voicelog
from tests.recognition.speaking import LoudnessDetector, burst, hiss, say
from voicelog.cli import voice as command
from voicelog.recognition.card_results import CardGrade, CardLineResult
from voicelog.recognition.segmenter import Segment, segments


@pytest.fixture(autouse=True)
def roster(voicelog: Voicelog) -> None:
    voicelog("dogs", "put", "Bracken", "--top", "5")
    voicelog("dogs", "handler", "Anna")


Reads = Callable[..., None]


@pytest.fixture
def reads(monkeypatch: pytest.MonkeyPatch) -> Reads:
    """So many lines are found in any recording, and the first of them come out so."""

    def so_many(count: int, *outcomes: tuple[CardGrade, str]) -> None:
        def follow(lines: Any, found: Any, *_: Any) -> tuple[tuple[str, Segment], ...]:
            return tuple((line, found[0]) for line in lines[:count])

        def graded(read: Any, *_: Any) -> tuple[CardLineResult, ...]:
            lines = [line for line, _ in read]
            other = [CardLineResult(line, *one) for line, one in zip(lines, outcomes, strict=False)]
            return (*other, *(CardLineResult(line, "sure", line) for line in lines[len(other) :]))

        monkeypatch.setattr("voicelog.app.voice_card.align_card", follow)
        monkeypatch.setattr("voicelog.app.voice_card.card_results", graded)

    return so_many


@pytest.fixture
def recording(tmp_path: Path) -> Path:
    sound = np.concatenate([hiss(1.0), burst(1.0), hiss(1.0)])
    return write(tmp_path / "card.wav", sound, 16_000)


def test_the_card_is_thirty_lines_of_the_roster(voicelog: Voicelog) -> None:
    lines = voicelog("voice", "--card").out.splitlines()
    assert len(lines) == 30
    assert lines[0] == "start session bracken"


def test_who_reads_need_not_be_named_but_must_be_on_the_roster(
    voicelog: Voicelog, reads: Reads, recording: Path
) -> None:
    reads(30)
    result = voicelog("voice", "Ben", recording, "--listener", "quick")
    assert result.code == 2
    assert result.err == (
        "voicelog: Found no handler 'Ben', wanted one of the roster (Anna); name one, or add a "
        "new one first: voicelog dogs handler NAME.\n"
    )
    named = voicelog("voice", "anna", recording, "--listener", "quick").out
    assert named.startswith("Anna: 30 of 30 lines found. The microphone: peak")


def test_too_few_lines_are_refused(voicelog: Voicelog, reads: Reads, recording: Path) -> None:
    reads(3)
    result = voicelog("voice", "Anna", recording, "--listener", "quick")
    assert result.code == 1
    assert "3 of 30 lines found. The microphone: peak" in result.out
    assert "  not found: " in result.out
    assert result.err == (
        "voicelog: Found 3 lines of the card, wanted 20 at least; read it again, line by line, "
        "with a second of silence after each.\n"
    )


def test_what_was_missed_or_heard_otherwise_is_said_and_what_to_do(
    voicelog: Voicelog, reads: Reads, recording: Path
) -> None:
    first, second, third, fourth = voicelog("voice", "--card").out.splitlines()[:4]
    reads(30, ("missed", ""), ("offered", second), ("wrong", "tap two"), ("missed", "tap one"))
    result = voicelog("voice", "Anna", recording, "--listener", "quick")
    assert (result.code, result.err) == (0, "")
    assert result.out.splitlines()[1:] == [
        "26 sure, 1 to check, 2 missed, 1 heard otherwise.",
        f"  missed: {first}",
        f"  to check: {second}",
        f"  heard otherwise: {third}, heard as: tap two",
        f"  missed: {fourth}, heard as: tap one",
        "Read the card again nearer to the microphone or with another one. What is missed or heard "
        "otherwise again, say more slowly at work, or in other words (voicelog words list).",
    ]


@pytest.mark.parametrize(
    ("outcomes", "said"),
    [
        ((), "Nothing to change."),
        (
            (("offered", "tap two"),),
            "What is to check is kept, and waits for the evening.",
        ),
    ],
)
def test_where_nothing_was_missed_there_is_little_to_do(
    voicelog: Voicelog, reads: Reads, recording: Path, outcomes: Any, said: str
) -> None:
    reads(30, *outcomes)
    result = voicelog("voice", "Anna", recording, "--listener", "quick")
    assert result.out.splitlines()[-1] == said


def test_a_recording_of_the_card_is_heard(voicelog: Voicelog, tmp_path: Path) -> None:
    """Two of its lines, read by a program's voice: too few, and those are found."""
    lines = [line for line in voicelog("voice", "--card").out.splitlines() if "level" in line][:2]
    sound = np.concatenate([hiss(1.0), *(part for line in lines for part in (say(line), hiss(1)))])
    path = write(tmp_path / "card.wav", sound.astype(np.float32), 16_000)
    result = voicelog("voice", path, "--listener", "quick")
    assert result.code == 2
    result = voicelog("voice", "Anna", path, "--listener", "quick")
    assert "Anna: 2 of 30 lines found." in result.out
    assert not any(f"not found: {line}" in result.out for line in lines)


def test_lines_are_shown_one_by_one_and_short_false_starts_asked_for_again(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    library = StandIn([("Headset", 1, 0, 16_000)])
    line = "level three came"
    short, whole = burst(0.25), burst(1.2)
    sound = np.concatenate([hiss(1.0), short, hiss(1.0), whole, hiss(1.0)])

    def opened_and_spoken(blocks: Any) -> Any:
        library.brings(sound.reshape(-1, 1))
        return segments(blocks)

    monkeypatch.setattr("voicelog.recognition.segmenter.SpeechDetector", LoudnessDetector)
    monkeypatch.setattr("voicelog.audio.microphone.portaudio", lambda: library)
    monkeypatch.setattr("voicelog.app.voice_card.segments", opened_and_spoken)
    monkeypatch.setattr(command, "PATIENCE_S", 1.0)
    reading = command._from_microphone([line, "yelped"], None, None)
    assert [words for words, _ in reading.lines] == [line]
    assert reading.lines[0][1].start > 1.5 * 16_000
    assert reading.level.peak_dbfs is not None
    assert capsys.readouterr().out.splitlines() == [
        "Read each line when it is shown, as you would at work. Ctrl-C ends it.",
        " 1 of 2: level three came",
        "    again, all of it",
        " 2 of 2: yelped",
    ]
