"""Her voice fainter or louder than at first, told with the second note."""

from __future__ import annotations

from voicelog.live.voice_level import FIRST_NOTES, VoiceLevelWatch


def notes(watch: VoiceLevelWatch, peaks: list[float], at_s: float = 0.0) -> list[str]:
    """What it says to notes of these peaks, one every ten seconds, with wind between."""
    said: list[str] = []
    for number, peak in enumerate(peaks):
        start_s = at_s + 10.0 * number
        watch.block(start_s + 0.5, peak)
        watch.block(start_s + 1.0, peak / 2)
        watch.block(start_s + 5.0, 0.9)
        state = watch.note(start_s, start_s + 1.0)
        said += [state] if state else []
    return said


def test_two_notes_far_fainter_or_louder_are_told_once_and_so_is_the_return() -> None:
    for peak, told in ((0.05, "fainter"), (0.7, "louder")):
        watch = VoiceLevelWatch()
        assert notes(watch, [0.2] * FIRST_NOTES) == []
        assert notes(watch, [peak, 0.2, peak, 0.2], 100.0) == [], "one alone is a turned head"
        assert notes(watch, [peak] * 4, 200.0) == [told]
        assert notes(watch, [0.2, 0.18], 300.0) == ["as before"]


def test_a_little_more_or_less_is_nothing_nor_is_a_note_of_which_no_sound_is_known() -> None:
    watch = VoiceLevelWatch()
    assert notes(watch, [0.2] * FIRST_NOTES + [0.08, 0.4, 0.08, 0.08]) == []
    assert watch.note(1000.0, 1001.0) is None
