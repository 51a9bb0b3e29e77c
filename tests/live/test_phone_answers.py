"""Answers for a phone: what is old is never sounded, and what is said once arrives once."""

from __future__ import annotations

import threading

import numpy as np
from hypothesis import example, given
from hypothesis import strategies as st

from voicelog.audio.resampling import RATE
from voicelog.live.outputs import CancelSpeech, PlayTone, SpeakWords
from voicelog.live.phone_answers import LATE_S, PhoneAnswers, is_late
from voicelog.live.tones import tone

SOUND = tone("accepted")


class Told:
    """Answers with the heard sample and the clock in the test's hands."""

    def __init__(self) -> None:
        self.at, self.now_s = 0, 100.0
        self.answers = PhoneAnswers(lambda: self.at, lambda: self.now_s)
        assert self.answers.late  # until the phone has told
        self.answers.told(0)


def test_an_answer_is_late_by_the_sound_recorded_since() -> None:
    edge = round(LATE_S * RATE)
    assert not is_late(0, edge, 0.0)
    assert is_late(0, edge + 1, 0.0)
    assert is_late(0, 0, LATE_S + 0.01)  # nothing came from the phone for so long
    assert is_late(0, None, 0.0)  # it records something else by now


def test_sound_arrives_once_and_comes_again_until_the_phone_says_that_it_has_it() -> None:
    told = Told()
    told.answers.play(SOUND, PlayTone("accepted"))
    told.answers.play(SOUND, SpeakWords("level nine?"))
    first = told.answers.wait(0, 0, 0.0)
    assert [one.words for one in first] == ["", "level nine?"]
    pcm = np.frombuffer(first[0].pcm, "<i2")
    assert np.allclose(pcm / 32768, SOUND, atol=1 / 32768)
    assert told.answers.wait(0, 0, 0.0) == first
    assert told.answers.wait(0, 1, 0.0) == first[1:]
    assert told.answers.wait(0, 2, 0.0) == ()


def test_what_was_not_fetched_in_time_is_text_and_its_tone_is_left_out() -> None:
    told = Told()
    told.answers.play(SOUND, PlayTone("accepted"))
    told.answers.play(SOUND, SpeakWords("stop, level nine", rule="over-ceiling"))
    told.now_s += 60.0
    (only,) = told.answers.wait(60 * RATE, 0, 0.0)
    assert (only.words, only.late, only.pcm) == ("stop, level nine", True, b"")


def test_what_breaks_off_is_told_where_the_phone_has_it_and_forgotten_where_not() -> None:
    told = Told()
    told.answers.play(SOUND, SpeakWords("over", key="a"))
    (had,) = told.answers.wait(0, 0, 0.0)
    told.answers.play(SOUND, SpeakWords("over again", key="a"))
    told.answers.cancel(CancelSpeech("a").covers)
    (broken,) = told.answers.wait(0, 1, 0.0)
    assert broken.cancels == (had.number,)
    assert not broken.words
    assert not broken.pcm


def test_who_waits_is_answered_at_once_when_something_is_said_and_at_the_end() -> None:
    told = Told()
    found: list[int] = []

    def wait(after: int) -> threading.Thread:
        waiting = threading.Thread(
            target=lambda: found.append(len(told.answers.wait(0, after, 300.0)))
        )
        waiting.start()
        return waiting

    waiting = wait(0)
    told.answers.play(SOUND, PlayTone("accepted"))
    waiting.join(timeout=60.0)
    assert found == [1]
    waiting = wait(1)
    told.answers.close()
    waiting.join(timeout=60.0)
    assert found == [1, 0]


@given(st.lists(st.tuples(st.integers(0, 90), st.integers(0, 90), st.booleans()), max_size=12))
@example([(0, 0, True), (0, 9, False), (1, 9, True)])
def test_nothing_older_than_the_bound_is_ever_given_out_as_sound(
    deeds: list[tuple[int, int, bool]],
) -> None:
    """Seconds heard, seconds recorded beyond that, and whether the phone asks."""
    told, last = Told(), 0
    for heard_s, ahead_s, asks in deeds:
        told.at = heard_s * RATE
        recorded = (heard_s + ahead_s) * RATE
        told.answers.told(recorded)
        told.answers.play(SOUND, SpeakWords(f"about {heard_s}"))
        if not asks:
            continue
        for one in told.answers.wait(recorded, last, 0.0):
            last = one.number
            assert bool(one.pcm) == ((recorded - one.at) / RATE <= LATE_S and not one.late)
            assert one.words
