"""Rules shown from spoken sound: said by a synthetic voice, heard by the real listener.

A few words for each rule go the whole way, from a sound file to the finding; the other tests
here begin with typed words. The dog is invented.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest
import soundfile as sf

from tests.recognition.speaking import laid, say
from voicelog.app.derive import derive
from voicelog.app.intake import Intake, RecognitionSetup, SoundFile
from voicelog.audio.resampling import RATE
from voicelog.grammar.grammar import Grammar, RecognitionContext
from voicelog.model import Dog, RecordingOutput, Roster, Transmitter
from voicelog.recognition.recognize import Recognizers, recognize
from voicelog.recognition.recognizers import make_recognizers
from voicelog.safety import Settings

VOICE = "flite:slt"
BRACKEN = Dog(name="Bracken", transmitter=Transmitter(top=20))


@cache
def grammar() -> Grammar:
    return Grammar.load(roster=Roster(dogs=(BRACKEN,)))


@cache
def ears() -> Recognizers:
    return make_recognizers(grammar(), RecognitionContext(top_level=20), "both")


def heard(folder: Path, *words: str) -> RecordingOutput:
    """The session in which these words were spoken, a breath each, 0.8 s apart."""
    path = folder / "session.wav"
    sf.write(path, laid([(0.8, say(each, VOICE, 0.1)) for each in words]), RATE)
    setup = RecognitionSetup(grammar=grammar(), settings=Settings(), dog="Bracken")
    source = SoundFile(
        path,
        lambda blocks, id_: recognize(
            blocks, ears(), grammar(), RecognitionContext(top_level=20), id_
        ),
    )
    intake = Intake(source, setup)
    for _ in intake:
        pass
    return derive(intake.recording, intake.events, grammar()).line


def test_a_level_beyond_the_range_is_told_though_it_is_to_be_checked(tmp_path: Path) -> None:
    line = heard(tmp_path, "here level thirty came")
    assert [(entry.reading, entry.status) for entry in line.entries] == [
        ("here level thirty came", "doubtful")
    ]
    assert [one.on_doubt for one in line.findings if one.rule == "over-range"] == [True]


@pytest.mark.parametrize(
    ("said", "rules"),
    [
        (["here level two came"], {"fit-missing", "warmup-missing", "start-high"}),
        (["no contact", "here level one came"], {"contact-poor"}),
        (["here level one came", "here level five came"], {"step-big", "not-rolled-back"}),
        (["ceiling three", "here level five came"], {"over-ceiling"}),
        (
            ["here level two yelped came", "here level two came"],
            {"stress-strong", "stress-not-eased", "stress-level-again"},
        ),
        (["here level one screamed"], {"stress-twice"}),
        (["here level one came whined yawned"], {"stress-weak"}),
        (["skin sore"], {"skin"}),
        (["temperature thirty"], {"heat"}),
        (["drill gun", "here level one came"], {"gun"}),
        (["here level one ignored"], {"ended-failed"}),
        (["level four arrived"], {"uncued"}),
        (
            ["here level two ignored", "here level three ignored", "here level four ignored"],
            {"three-failed"},
        ),
        (
            [
                "drill find level",
                "level two nothing",
                "level three nothing",
                "level four nothing",
                "level five",
            ],
            {"no-reaction-rising"},
        ),
    ],
    ids=lambda value: "+".join(sorted(value)) if isinstance(value, set) else None,
)
def test_what_was_spoken_shows_the_rule(tmp_path: Path, said: list[str], rules: set[str]) -> None:
    line = heard(tmp_path, *said)
    assert [entry.reading for entry in line.entries] == said
    assert {entry.status for entry in line.entries} == {"accepted"}
    sure = {found.rule for found in line.findings if not found.on_doubt and not found.struck}
    assert rules <= sure


def test_a_good_session_that_was_spoken_shows_nothing(tmp_path: Path) -> None:
    said = ["drill recall", "here no button came", "here came praised"]
    line = heard(tmp_path, *said)
    assert [entry.reading for entry in line.entries] == said
    assert line.findings == ()
