"""What a sound check says to change."""

from __future__ import annotations

from collections.abc import Sequence

from voicelog.app.intake import RecognizedUtterance
from voicelog.app.soundcheck import PhraseStatus, phrase_statuses, sound_problems, soundcheck_line
from voicelog.model import Dog, Reading, SoundLevel, Status, Utterance, Verdict
from voicelog.report.soundcheck_words import level_words, problem_words

FINE = SoundLevel(peak_dbfs=-9.0, rms_dbfs=-25.0, clipped_share=0.0, snr_db=30.0)
LINE = ("start session bracken", "level two", "came")


def heard(*said: tuple[str, Status]) -> list[RecognizedUtterance]:
    return [
        (
            Utterance(id="u", recording="r", start_s=0.0, end_s=1.0),
            (Reading(id="r", utterance="u", words=words, by="listener", who="x"),),
            Verdict(id="v", utterance="u", status=status, words=words, confidence=1, judge="x"),
        )
        for words, status in said
    ]


def advice(level: SoundLevel, rate: int, phrases: Sequence[PhraseStatus]) -> tuple[str, ...]:
    missed = [phrase for phrase, status in phrases if status == "rejected"]
    found = sound_problems(level, rate, phrases)
    return tuple(problem_words(one, rate=rate, missed=missed) for one in found)


def test_the_line_names_the_dog_and_is_all_of_the_grammar() -> None:
    assert soundcheck_line(Dog(name="Bracken"))[0] == "start session bracken"
    assert soundcheck_line(None)[0] == "level two"


def test_phrases_are_found_wherever_a_pause_fell() -> None:
    said = heard(("start session bracken level two", "accepted"), ("came", "doubtful"))
    assert phrase_statuses(LINE, said) == (
        ("start session bracken", "accepted"),
        ("level two", "accepted"),
        ("came", "doubtful"),
    )


def test_nothing_is_to_be_changed_when_all_is_well() -> None:
    assert advice(FINE, 48_000, [(phrase, "accepted") for phrase in LINE]) == ()


def test_each_fault_has_its_remedy() -> None:
    def said(rate: int = 48_000, **level: float | None) -> str:
        return " ".join(advice(FINE.model_copy(update=level), rate, [(LINE[0], "accepted")]))

    assert said(peak_dbfs=None, rms_dbfs=None, snr_db=None).startswith("Unmute the microphone")
    assert said(clipped_share=0.01) == (
        "Turn the microphone down, or move it a hand's width away: it is overloaded."
    )
    assert said(peak_dbfs=-40.0) == (
        "Turn the microphone up, or bring it nearer to the mouth: it is quiet."
    )
    assert said(snr_db=5.0) == (
        "Get out of the wind, put a foam cover on it, or bring it nearer: it is noisy."
    )
    assert said(rate=8_000) == (
        "Use another microphone if you can: this one gives 8000 Hz, a telephone's sound."
    )
    assert advice(FINE, 48_000, [(LINE[0], "accepted"), (LINE[2], "rejected")]) == (
        "Not understood: came; say it again to see whether it happens again.",
    )
    assert advice(FINE, 48_000, [(LINE[0], "rejected")]) == (
        "Nothing was understood: say it again, evenly, with a pause after each phrase.",
    )


def test_the_level_in_words() -> None:
    assert level_words(FINE) == "peak -9 dBFS, clipped 0.0%, speech 30 dB above the noise"
    assert level_words(SoundLevel()) == "no sound at all"
