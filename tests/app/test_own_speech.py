"""What lies under the program's own speech is at best doubtful, and its echo is no note."""

from __future__ import annotations

import pytest

from voicelog.app.intake import RecognizedUtterance
from voicelog.app.own_speech import (
    OwnSpeech,
    field_event_text,
    lower_overlapping_verdict,
    own_speech_in,
)
from voicelog.model import FieldEvent, Reading, Status, Utterance, Verdict

SAID = OwnSpeech(10.0, 11.5, "Level 3?")


def heard(
    words: str, start_s: float, end_s: float, status: Status = "accepted"
) -> RecognizedUtterance:
    return (
        Utterance(id="u", recording="r", start_s=start_s, end_s=end_s),
        (Reading(id="r1", utterance="u", words=words, by="listener", who="x"),),
        Verdict(id="v", utterance="u", status=status, words=words, confidence=0.9, judge="one 1"),
    )


@pytest.mark.parametrize(
    ("start_s", "end_s", "status"),
    [
        (8.0, 9.6, "accepted"),
        (8.0, 9.8, "doubtful"),
        (10.2, 11.0, "doubtful"),
        (11.7, 12.5, "doubtful"),
        (11.9, 12.5, "accepted"),
    ],
)
def test_only_what_overlaps_is_lowered(start_s: float, end_s: float, status: str) -> None:
    verdict = lower_overlapping_verdict(heard("no button came", start_s, end_s), [SAID])[2]
    assert verdict.status == status
    assert (verdict.judge == "one 1, own voice 1") == (status == "doubtful")
    assert (verdict.id == "v") == (status == "accepted"), "a changed verdict is another event"


def test_its_own_words_coming_back_are_no_note_but_are_kept() -> None:
    utterance, readings, verdict = lower_overlapping_verdict(heard("level", 10.1, 11.4), [SAID])
    assert verdict.status == "rejected"
    assert readings[0].words == "level"
    assert utterance.id == "u"


def test_nothing_is_made_surer() -> None:
    doubtful = heard("came", 10.1, 11.4, "doubtful")
    rejected = heard("level 3", 10.1, 11.4, "rejected")
    assert lower_overlapping_verdict(doubtful, [SAID]) is doubtful
    assert lower_overlapping_verdict(rejected, [SAID]) is rejected


def test_it_is_the_same_at_every_hearing() -> None:
    once = lower_overlapping_verdict(heard("no button came", 10.2, 11.0), [SAID])
    assert lower_overlapping_verdict(heard("no button came", 10.2, 11.0), [SAID]) == once


@pytest.mark.parametrize("rule", [None, "over-ceiling"])
def test_what_it_said_is_read_back_from_the_log(rule: str | None) -> None:
    event = FieldEvent(
        id="f", recording="r", at_s=10.0, what="warning", detail=field_event_text(SAID, rule)
    )
    tone = FieldEvent(id="g", recording="r", at_s=12.0, what="tone", detail="accepted")
    assert own_speech_in([event, tone]) == (SAID,)
