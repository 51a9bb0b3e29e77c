"""Hearing a stream: the same events however it comes, phrases joined over a pause, no others.

It is told with a listener that knows five words by their pitch, so that what it hears, and how
surely, is known beforehand, and with segments cut by loudness alone.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache
from itertools import cycle

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.recognition.listening import Stopped, Telling, posteriors
from tests.recognition.speaking import LoudnessDetector, hiss, laid
from voicelog.audio.resampling import RATE, Samples
from voicelog.grammar.grammar import Grammar, RecognitionContext
from voicelog.grammar.pronunciation import shipped_pronouncer
from voicelog.model import Dog, Reading, Roster, Utterance, Verdict
from voicelog.recognition import recognize as recognize_module
from voicelog.recognition.candidates import CandidateSet
from voicelog.recognition.careful_recognizer import CarefulRecognizer, CarefulStoppedError
from voicelog.recognition.near_talk import HOLD_S
from voicelog.recognition.noise_reduction import power
from voicelog.recognition.phone_posteriors import BLANK, PHONE_INDEX, Posteriors
from voicelog.recognition.quick_recognizer import AcceptanceThresholds, Hypothesis, Spectrum
from voicelog.recognition.recognize import (
    MAX_CONTINUATION_S,
    SETTLED,
    Recognizers,
    recognize,
    recognize_segment,
)
from voicelog.recognition.segmenter import AFTER, Segment
from voicelog.recognition.trained_artifact import shipped_artifact
from voicelog.recognition.voice_activity import FRAME

GRAMMAR = Grammar.load(roster=Roster(dogs=(Dog(name="Bracken"),)))
NARROWING = RecognitionContext(top_level=20)
RECORDING = "0123456789abcdef" * 4
PITCHES = {"level": 440.0, "three": 540.0, "came": 660.0, "slow": 800.0, "vibrate": 960.0}
PITCHES["yelped"] = 1160.0

UNSURE = 6.0
"""Phones told so (Telling.sure) are not enough by themselves."""
BARS = AcceptanceThresholds(accept=0.8, offer=0.3, accept_single_word=0.8, accept_sound_alike=0.9)


@pytest.fixture(scope="module", autouse=True)
def cut_by_loudness() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("voicelog.recognition.segmenter.SpeechDetector", LoudnessDetector)
        yield


Events = list[tuple[Utterance, tuple[Reading, ...], Verdict]]


@dataclass
class PitchListener:
    """Takes each tone for the word of its pitch, and is as sure of them as it was told."""

    sure_of: Mapping[str, float] = field(default_factory=dict)
    name: str = "pitch 1"
    hopeful: bool = True
    thresholds: AcceptanceThresholds = BARS

    def hear(self, sound: Samples, noise: Spectrum | None = None) -> Hypothesis:
        frames = np.abs(sound[: len(sound) // 320 * 320]).reshape(-1, 320).max(axis=1) > 0.02
        edges = np.flatnonzero(np.diff(np.concatenate(([0], frames, [0]))))
        words = " ".join(self.word(sound[a * 320 : b * 320]) for a, b in edges.reshape(-1, 2))
        complete = GRAMMAR.interpret(words) is not None
        sure = self.sure_of.get(words, 0.0) if complete else 0.0
        return Hypothesis(words, complete, None, sure, repeats=(words,) if self.hopeful else ())

    def word(self, sound: Samples) -> str:
        spectrum = np.abs(np.fft.rfft(sound, RATE))
        pitch = int(spectrum.argmax())
        return min(PITCHES, key=lambda word: abs(PITCHES[word] - pitch))


def told(*parts: tuple[float, str], seconds: float = 0.6) -> Samples:
    """Words as tones, each with its gap (s) before it."""
    return laid([(gap, tone(seconds, PITCHES[word])) for gap, word in parts])


def tone(seconds: float, hz: float) -> Samples:
    time = np.arange(round(seconds * RATE)) / RATE
    edges = np.minimum(1.0, np.minimum(time, seconds - time) / 0.02)
    return (0.3 * edges * np.sin(2 * np.pi * hz * time)).astype(np.float32)


def heard_by(recognizers: Recognizers, sound: Samples) -> Events:
    cut = (sound[at : at + 1600] for at in range(0, len(sound), 1600))
    return list(recognize(cut, recognizers, GRAMMAR, NARROWING, RECORDING))


def events(
    sound: Samples, quick: PitchListener, careful: CarefulRecognizer | None = None
) -> Events:
    return heard_by(Recognizers(quick, careful), sound)


def verdicts(found: Events) -> list[tuple[str, str]]:
    return [(verdict.words, verdict.status) for _, _, verdict in found]


def in_order_and_inside(found: Events, sound: Samples) -> bool:
    edges = [edge for utterance, _, _ in found for edge in (utterance.start_s, utterance.end_s)]
    return edges == sorted(edges) and all(0.0 <= edge <= len(sound) / RATE for edge in edges)


class PitchTeller(Telling):
    """Tells the phones of the words that the quick one takes tones for, each over its tone."""

    def __init__(self, words: Mapping[str, str]) -> None:
        """`words` are what is told in place of a pitch's word."""
        super().__init__("")
        self.told_of = words

    def load_segment(self, *sounds: Samples) -> None:
        super().load_segment(*sounds)
        sound = sounds[0]
        loud = np.abs(sound[: len(sound) // 320 * 320]).reshape(-1, 320).max(axis=1) > 0.02
        edges = np.flatnonzero(np.diff(np.concatenate(([0], loud, [0])))).reshape(-1, 2)
        told = np.zeros((len(loud), 1 + len(PHONE_INDEX)))
        told[~loud, BLANK] = 8.0
        for begin, end in edges:
            word = PitchListener().word(sound[begin * 320 : end * 320])
            phones = shipped_pronouncer().phrase(self.told_of.get(word, word))[0]
            parts = np.array_split(np.arange(begin, end), len(phones))
            for place, phone in zip(parts, phones, strict=True):
                told[place, PHONE_INDEX[phone]] = 8.0
        self.heard_phones = posteriors(told)

    def phones(self) -> Posteriors:
        return self.heard_phones


SURE = PitchListener({"came": 0.95, "vibrate": 0.5, "level three": 0.99, "came slow": 1.0})


@cache
def narration() -> Samples:
    return told((1.0, "came"), (2.0, "level"), (0.8, "three"), (2.0, "vibrate"), (1.8, "slow"))


def test_each_utterance_has_its_verdict() -> None:
    assert verdicts(events(narration(), SURE)) == [
        ("came", "accepted"),
        ("level three", "accepted"),
        ("vibrate", "doubtful"),
        ("slow", "rejected"),
    ]


def test_utterances_are_in_order_and_inside_the_sound() -> None:
    found = events(narration(), SURE)
    assert in_order_and_inside(found, narration())
    came = found[0][0]
    assert came.start_s == pytest.approx(1.0 - 0.3, abs=0.3)
    assert came.end_s == pytest.approx(1.6, abs=0.15)


def test_an_utterance_that_the_sound_cuts_off_ends_with_it() -> None:
    sound = told((1.0, "came"))[: round(1.43 * RATE) + 7]
    ((utterance, _, _),) = events(sound, SURE)
    assert utterance.end_s <= len(sound) / RATE


def test_the_same_sound_gives_the_same_events() -> None:
    assert events(narration(), SURE) == events(narration(), SURE)


@settings(max_examples=12)
@given(st.lists(st.integers(0, 12 * RATE), max_size=30))
def test_however_the_sound_is_cut_the_events_are_the_same(places: list[int]) -> None:
    blocks = np.split(narration(), sorted(places))
    found = list(recognize(blocks, Recognizers(SURE), GRAMMAR, NARROWING, RECORDING))
    assert found == events(narration(), SURE)


@settings(max_examples=12)
@given(st.lists(st.booleans(), min_size=1))
def test_heard_ahead_in_pauses_or_not_the_events_are_the_same(leisure: list[bool]) -> None:
    now = cycle(leisure)
    blocks = (narration()[at : at + 800] for at in range(0, len(narration()), 800))
    recognizers = Recognizers(SURE)
    found = recognize(
        blocks, recognizers, GRAMMAR, NARROWING, RECORDING, at_leisure=lambda: next(now)
    )
    assert list(found) == events(narration(), SURE)


def test_at_leisure_a_word_is_heard_before_its_segment_ends_and_not_again() -> None:
    fed_s: list[float] = []
    heard_at: list[float] = []

    class Noting(PitchListener):
        def hear(self, sound: Samples, noise: Spectrum | None = None) -> Hypothesis:
            heard_at.append(fed_s[-1])
            return super().hear(sound, noise)

    sound = np.concatenate([told((1.0, "came")), hiss(2.0)])

    def blocks() -> Iterator[Samples]:
        for at in range(0, len(sound), 512):
            fed_s.append((at + 512) / RATE)
            yield sound[at : at + 512]

    recognizers = Recognizers(Noting({"came": 0.95}))
    ((utterance, _, _),) = recognize(
        blocks(), recognizers, GRAMMAR, NARROWING, RECORDING, at_leisure=lambda: True
    )
    (when,) = heard_at
    assert when - utterance.end_s == pytest.approx(AFTER * FRAME / RATE, abs=0.04)


def test_ids_are_all_different_and_follow_from_the_recording() -> None:
    def ids(recording: str) -> list[str]:
        found = recognize([narration()], Recognizers(SURE), GRAMMAR, NARROWING, recording)
        return [id_ for said, of, v in found for id_ in (said.id, *(one.id for one in of), v.id)]

    assert len(set(ids(RECORDING))) == len(ids(RECORDING)) == 12
    assert ids(RECORDING) == ids(RECORDING)
    assert not set(ids(RECORDING)) & set(ids("another recording"))


def test_what_was_heard_tells_what_it_belongs_to_and_who_heard_it() -> None:
    for utterance, readings, verdict in events(narration(), SURE):
        assert utterance.recording == RECORDING
        (reading,) = readings
        assert reading.utterance == verdict.utterance == utterance.id
        assert (reading.by, reading.who, reading.grammar) == ("listener", "pitch 1", GRAMMAR.name)
        assert verdict.judge == shipped_artifact().decision_version
        assert verdict.words == reading.words


def test_both_listeners_have_their_readings_the_quick_ones_first() -> None:
    ((_, readings, verdict),) = events(told((1.0, "came")), SURE, Telling("came", sure=UNSURE))
    assert [(reading.who, reading.words) for reading in readings] == [
        ("pitch 1", "came"),
        ("telling 1", "came"),
    ]
    assert verdict.words == "came"
    assert all(0.0 <= reading.confidence <= verdict.confidence for reading in readings)


def test_of_what_the_careful_one_is_sure_the_quick_one_is_not_asked() -> None:
    ((_, readings, verdict),) = events(told((1.0, "came")), SURE, Telling("came"))
    assert [(reading.who, reading.words) for reading in readings] == [("telling 1", "came")]
    assert (verdict.words, verdict.status) == ("came", "accepted")


def test_two_that_agree_are_surer_than_two_that_do_not() -> None:
    ((_, _, agreed),) = events(told((1.0, "came")), SURE, Telling("came", sure=UNSURE))
    ((_, _, apart),) = events(told((1.0, "vibrate")), SURE, Telling("came", sure=UNSURE))
    assert agreed.words == apart.words == "came"
    assert agreed.confidence > apart.confidence + 0.2
    assert apart.status != "accepted"


def test_a_level_beyond_the_range_that_the_phones_are_sure_of_is_left_to_them() -> None:
    """It stays to check in any case."""
    careful = Telling("level ninety one came")
    ((_, readings, verdict),) = events(told((1.0, "came")), SURE, careful)
    assert (verdict.words, verdict.status) == ("level ninety one came", "doubtful")
    assert verdict.confidence > SETTLED
    assert [reading.who for reading in readings] == [careful.name]


def test_of_talk_that_lies_far_from_every_note_not_a_word_is_kept() -> None:
    careful = Telling("mother should azure judge choose beige")
    quick = PitchListener({"came": 0.95}, hopeful=False)
    ((_, readings, verdict),) = events(told((1.0, "came")), quick, careful)
    assert [(reading.who, reading.words) for reading in readings] == [("telling 1", "")]
    assert (verdict.words, verdict.status) == ("", "rejected")


@pytest.mark.parametrize("after", [0, 2])
def test_once_the_careful_one_has_stopped_the_quick_one_goes_on_alone(after: int) -> None:
    recognizers = Recognizers(SURE, Stopped("came", after=after))
    found = heard_by(recognizers, narration())
    assert recognizers.careful is None
    assert recognizers.note == f"{CarefulStoppedError()} Until then the quick listener hears alone."
    assert recognizers.names == ("pitch 1",)
    alone = events(narration(), SURE)
    assert found[-2:] == alone[-2:]
    assert [len(readings) for _, readings, _ in found][-1] == 1
    if after == 0:
        assert found == alone


def test_a_careful_one_alone_that_has_stopped_stops_the_hearing() -> None:
    with pytest.raises(CarefulStoppedError):
        heard_by(Recognizers(None, Stopped("came")), narration())


def test_a_note_that_talk_runs_into_is_found_but_never_sure() -> None:
    sound = told((1.0, "slow"), (0.35, "came"))
    assert verdicts(events(sound, PitchListener())) == [("slow came", "rejected")]
    assert verdicts(events(sound, PitchListener({"came": 0.99}))) == [
        ("slow", "rejected"),
        ("came", "doubtful"),
    ]


def test_a_doubtful_whole_that_is_likely_is_not_cut_up() -> None:
    sound = told((1.0, "came"), (0.35, "slow"))
    listener = PitchListener({"came slow": 0.6, "came": 0.99})
    assert verdicts(events(sound, listener)) == [("came slow", "doubtful")]
    listener = PitchListener({"came slow": 0.4, "came": 0.99})
    assert verdicts(events(sound, listener)) == [("came", "doubtful"), ("slow", "rejected")]


@pytest.mark.parametrize(
    ("told_of", "held"),
    [({}, True), ({"came": "azure judge", "slow": "beige mother"}, False)],
    ids=["notes in one piece", "other words in both"],
)
def test_pieces_are_heard_where_a_note_lies_in_the_phones_of_one(
    told_of: Mapping[str, str], held: bool
) -> None:
    sound = told((1.0, "slow"), (0.35, "came"))
    teller = PitchTeller(told_of)
    found = events(sound, PitchListener(hopeful=False), teller)
    assert (teller.asked.count("load_segment") >= 3) is held
    assert len(found) == (2 if held else 1)
    assert not any(verdict.status == "accepted" for _, _, verdict in found)


def test_of_the_careful_one_the_reading_is_what_lies_best_in_them() -> None:
    teller = PitchTeller({})
    found = events(told((1.0, "came")), PitchListener(), teller)
    assert [[reading.words for reading in readings] for _, readings, _ in found] == [
        ["came", "came"]
    ]
    other = events(told((1.0, "came")), PitchListener(), PitchTeller({"came": "azure judge"}))
    assert [[reading.words for reading in readings] for _, readings, _ in other] == [[""]]


def test_events_come_before_the_stream_has_ended() -> None:
    taken: list[int] = []

    def stream() -> Iterator[Samples]:
        for at in range(0, len(narration()), 1600):
            taken.append(at)
            yield narration()[at : at + 1600]

    first = next(iter(recognize(stream(), Recognizers(SURE), GRAMMAR, NARROWING, RECORDING)))
    assert first[2].words == "came"
    assert len(taken) * 1600 < 0.6 * len(narration())


def test_a_phrase_with_a_pause_inside_is_one_utterance() -> None:
    sound = told((1.0, "level"), (0.8, "three"))
    ((utterance, _, verdict),) = events(sound, SURE)
    assert (verdict.words, verdict.status) == ("level three", "accepted")
    assert utterance.start_s < 1.0
    assert utterance.end_s == pytest.approx(1.0 + 0.6 + 0.8 + 0.6, abs=0.15)


@pytest.mark.parametrize("pause_s", [0.8, 1.2])
def test_what_is_doubtful_alone_may_be_sure_with_what_follows(pause_s: float) -> None:
    listener = PitchListener({"came": 0.5, "came slow": 0.9})
    sound = told((1.0, "came"), (pause_s, "slow"))
    undecided: Events = []
    found = recognize(
        [sound],
        Recognizers(listener),
        GRAMMAR,
        NARROWING,
        RECORDING,
        undecided=undecided.append,
    )
    (whole,) = found
    assert verdicts([whole]) == [("came slow", "accepted")]
    assert verdicts(undecided) == [("came", "doubtful")], "told of at once"
    assert undecided[0][0].id == whole[0].id


def test_over_a_long_pause_nothing_is_joined() -> None:
    listener = PitchListener({"came": 0.5, "came slow": 1.0})
    sound = told((1.0, "came"), (4.0, "slow"))
    assert verdicts(events(sound, listener)) == [("came", "doubtful"), ("slow", "rejected")]


@pytest.mark.parametrize(
    ("sure", "gap_s", "word", "heard"),
    [
        (1.0, 0.8, "slow", [("came slow", "accepted")]),
        (0.1, 0.8, "slow", [("came slow", "doubtful")]),
        (1.0, 0.8, "level", [("came", "accepted"), ("level", "rejected")]),
        (1.0, 1.3, "slow", [("came", "accepted"), ("slow", "rejected")]),
    ],
    ids=["surely goes on", "may go on", "goes on otherwise", "comes too late"],
)
def test_a_sure_note_that_could_go_on_is_heard_with_what_begins_soon_after(
    sure: float, gap_s: float, word: str, heard: list[tuple[str, str]]
) -> None:
    listener = PitchListener({"came": 0.85, "came slow": sure})
    undecided: Events = []
    found = list(
        recognize(
            [told((1.0, "came"), (gap_s, word))],
            Recognizers(listener),
            GRAMMAR,
            NARROWING,
            RECORDING,
            undecided=undecided.append,
        )
    )
    assert verdicts(found) == heard
    assert verdicts(undecided)[0] == ("came", "accepted"), "told of at once"
    assert undecided[0][0].id == found[0][0].id
    assert found[0][2].alternatives == (("came",) if sure == 0.1 else ())


@pytest.mark.parametrize("after", ["nothing", "long talk"])
@pytest.mark.parametrize(("word", "waits"), [("came", True), ("vibrate", False)])
def test_only_a_note_that_could_go_on_waits_and_never_for_long(
    word: str, waits: bool, after: str
) -> None:
    fed: list[int] = []
    behind = hiss(6.0) if after == "nothing" else told((0.9, "slow"), seconds=6.0)
    sound = np.concatenate([told((1.0, word)), behind])

    def stream() -> Iterator[Samples]:
        for at in range(0, len(sound), FRAME):
            fed.append(at)
            yield sound[at : at + FRAME]

    listener = PitchListener({"came": 0.85, "vibrate": 0.85})
    first = next(iter(recognize(stream(), Recognizers(listener), GRAMMAR, NARROWING, RECORDING)))
    assert verdicts([first]) == [(word, "accepted")]
    late_s = (fed[-1] + FRAME) / RATE - first[0].end_s
    longest = 1.2 if after == "nothing" else 0.9 + MAX_CONTINUATION_S
    assert (HOLD_S if waits else 0.4) <= late_s <= (longest if waits else 0.6)


def test_what_is_sure_is_not_joined_with_what_came_before() -> None:
    listener = PitchListener({"came": 0.5, "vibrate": 0.85, "came vibrate": 1.0})
    sound = told((1.0, "came"), (0.8, "vibrate"))
    assert verdicts(events(sound, listener)) == [("came", "doubtful"), ("vibrate", "accepted")]


@pytest.mark.parametrize(
    ("gap_s", "word", "status"),
    [(0.8, "came", "doubtful"), (2.4, "came", "accepted"), (0.8, "yelped", "accepted")],
)
def test_a_single_word_close_behind_talk_is_not_sure_but_for_a_sign(
    gap_s: float, word: str, status: str
) -> None:
    sound = told((1.0, "slow"), (gap_s, word), (1.0, "came"))
    found = verdicts(events(sound, PitchListener({"came": 0.95, "yelped": 0.95})))
    assert found == [("slow", "rejected"), (word, status), ("came", "accepted")]


@pytest.mark.parametrize(
    ("before_s", "after_s", "after", "status"),
    [
        (0.9, 0.9, "slow", "doubtful"),
        (0.9, 0.9, "yelped", "accepted"),
        (0.9, 1.3, "slow", "accepted"),
        (2.4, 0.9, "slow", "accepted"),
    ],
    ids=["talk around it", "a note behind", "talk later", "talk long before"],
)
def test_a_note_in_the_midst_of_talk_is_not_sure(
    before_s: float, after_s: float, after: str, status: str
) -> None:
    sound = told((1.0, "slow"), (before_s, "level"), (0.1, "three"), (after_s, after))
    found = verdicts(events(sound, PitchListener({"level three": 0.99, "yelped": 0.95})))
    assert found[1] == ("level three", status)
    assert len(found) == 3


def likely_behind(
    talk: tuple[bool, ...], words: str, chance: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Make the first segments no note where `talk` says so, and `words` so likely in all others."""
    asked: list[str] = []

    def likely(of: CandidateSet, _: object) -> tuple[float, ...]:
        asked.append(words)
        is_talk = len(asked) <= len(talk) and talk[len(asked) - 1]
        return tuple(0.01 if is_talk else chance * (one.words == words) for one in of.candidates)

    monkeypatch.setattr(recognize_module, "candidate_probabilities", likely)
    monkeypatch.setattr(recognize_module, "split_at_pauses", lambda segment: ())


@pytest.mark.parametrize(
    ("words", "chance", "amid_talk"),
    [
        ("came", 0.985, "doubtful"),
        ("came", 0.991, "accepted"),
        ("tap two", 0.97, "doubtful"),
        ("tap two", 0.985, "accepted"),
        ("level three came", 0.95, "doubtful"),
        ("level three came", 0.97, "accepted"),
    ],
)
@pytest.mark.parametrize(("pause_s", "near"), [(9.0, True), (11.0, False)])
def test_amid_talk_more_is_asked_of_a_note_the_more_the_fewer_its_words(
    monkeypatch: pytest.MonkeyPatch,
    words: str,
    chance: float,
    amid_talk: str,
    pause_s: float,
    near: bool,
) -> None:
    likely_behind((True,), words, chance, monkeypatch)
    sound = told((1.0, "slow"), (pause_s, "slow"))
    found = verdicts(events(sound, PitchListener(), Telling(words)))
    assert found == [(words, "rejected"), (words, amid_talk if near else "accepted")]


@pytest.mark.parametrize(
    ("talk", "pause_s", "words", "chance", "status"),
    [
        ((True, True), 3.0, "tap two", 0.998, "doubtful"),
        ((True, False, True), 3.0, "tap two", 0.998, "doubtful"),
        ((True, False, False), 3.0, "tap two", 0.998, "accepted"),
        ((False, True), 3.0, "tap two", 0.998, "accepted"),
        ((True, True), 16.0, "tap two", 0.998, "accepted"),
        ((True, True), 3.0, "tap two", 0.9995, "accepted"),
        ((True, True), 3.0, "level three came", 0.998, "accepted"),
        ((True, True), 3.0, "yelped", 0.998, "accepted"),
        ((True, True), 3.0, "bit me", 0.97, "doubtful"),
    ],
    ids=[
        "talk",
        "mostly",
        "before",
        "once",
        "long before",
        "certain",
        "three words",
        "strong sign",
        "strong sign, less sure",
    ],
)
def test_a_short_note_where_most_is_talk_has_to_be_all_but_certain(
    monkeypatch: pytest.MonkeyPatch,
    talk: tuple[bool, ...],
    pause_s: float,
    words: str,
    chance: float,
    status: str,
) -> None:
    likely_behind(talk, words, chance, monkeypatch)
    sound = told(*((2.4, "slow") for _ in talk), (pause_s, "slow"))
    found = verdicts(events(sound, PitchListener(), Telling(words)))
    assert len(found) == len(talk) + 1
    assert found[-1] == (words, status)


@pytest.mark.parametrize(
    ("chances", "pause_s", "status"),
    [
        ((0.01, 0.99, 0.97), 3.0, "accepted"),
        ((0.01, 0.97, 0.97), 3.0, "doubtful"),
        ((0.01, 0.01, 0.9995, 0.97), 3.0, "accepted"),
        ((0.01, 0.9995, 0.01, 0.97), 3.0, "doubtful"),
        ((0.01, 0.01, 0.9995, 0.97), 11.0, "accepted"),
    ],
    ids=["sure before", "not sure before", "most is talk", "talk between", "long behind both"],
)
def test_behind_a_sure_note_of_several_words_no_more_is_asked_near_talk(
    monkeypatch: pytest.MonkeyPatch, chances: tuple[float, ...], pause_s: float, status: str
) -> None:
    segments: list[object] = []

    def likely(of: CandidateSet, _: object) -> tuple[float, ...]:
        if of.heard_phones not in segments:
            segments.append(of.heard_phones)
        chance = chances[len(segments) - 1]
        return tuple(chance * (one.words == "tap two") for one in of.candidates)

    monkeypatch.setattr(recognize_module, "candidate_probabilities", likely)
    monkeypatch.setattr(recognize_module, "split_at_pauses", lambda segment: ())
    sound = told(*((2.4, "slow") for _ in chances[1:]), (pause_s, "slow"))
    found = verdicts(events(sound, PitchListener(), Telling("tap two")))
    assert len(found) == len(chances)
    assert found[-1] == ("tap two", status)


@dataclass
class TellingInTurn(Telling):
    """A careful listener that tells one of `turns` in each segment, in order."""

    turns: tuple[str, ...] = ()

    def load_segment(self, *sounds: Samples) -> None:
        self.words, *rest = self.turns
        self.turns = tuple(rest)
        super().load_segment(*sounds)


@pytest.mark.parametrize(("before", "status"), [("came", "doubtful"), ("tap two", "accepted")])
def test_behind_a_sure_note_of_one_word_talk_before_it_still_counts(
    monkeypatch: pytest.MonkeyPatch, before: str, status: str
) -> None:
    listener = TellingInTurn("", turns=("tap three", before, "tap two"))

    def likely(of: CandidateSet, _: object) -> tuple[float, ...]:
        chance = {2: 0.01, 1: 0.9995, 0: 0.97}[len(listener.turns)]
        return tuple(chance * (one.words == listener.words) for one in of.candidates)

    monkeypatch.setattr(recognize_module, "candidate_probabilities", likely)
    monkeypatch.setattr(recognize_module, "split_at_pauses", lambda segment: ())
    sound = told((2.4, "slow"), (2.4, "slow"), (3.0, "slow"))
    found = verdicts(events(sound, PitchListener(), listener))
    assert found == [("tap three", "rejected"), (before, "accepted"), ("tap two", status)]


@pytest.mark.parametrize(
    ("noise_rms", "hz", "status"),
    [(0.05, None, "accepted"), (0.2, None, "doubtful"), (0.2, 90.0, "accepted")],
    ids=["over the noise", "drowned", "over wind as loud, below the speech band"],
)
def test_one_word_drowned_in_noise_is_not_sure(
    noise_rms: float, hz: float | None, status: str
) -> None:
    said = tone(0.6, PITCHES["came"])
    time = np.arange(4 * RATE) / RATE
    noise = (
        hiss(4.0, noise_rms)
        if hz is None
        else (noise_rms * math.sqrt(2) * np.sin(2 * np.pi * hz * time)).astype(np.float32)
    )
    spectrum = np.mean([power(one) for one in noise[: 120 * 512].reshape(-1, 512)], axis=0)
    segment = Segment(0, len(said), said, spectrum, np.ones(len(said) // FRAME, np.bool_))
    decision = recognize_segment(segment, Recognizers(SURE), GRAMMAR, NARROWING)
    assert (decision.words, decision.status) == ("came", status)
    assert decision.confidence == pytest.approx(0.95)


@pytest.mark.parametrize(
    ("words", "chance", "status"),
    [
        ("level three came", 0.999, "accepted"),
        ("level three came", 0.99, "doubtful"),
        ("came", 0.999, "doubtful"),
    ],
)
def test_what_is_drowned_is_sure_only_where_it_is_all_but_certain(
    monkeypatch: pytest.MonkeyPatch, words: str, chance: float, status: str
) -> None:
    monkeypatch.setattr(
        recognize_module,
        "candidate_probabilities",
        lambda of, _: tuple(chance * (one.words == words) for one in of.candidates),
    )
    noise = power(hiss(512 / RATE, 0.2))
    said = tone(0.6, PITCHES["came"])
    segment = Segment(0, len(said), said, noise, np.ones(len(said) // FRAME, np.bool_))
    decision = recognize_segment(
        segment, Recognizers(PitchListener(), Telling(words)), GRAMMAR, NARROWING
    )
    assert (decision.words, decision.status) == (words, status)


@dataclass
class Measuring(Telling):
    """A careful listener that keeps how long (samples) each segment was that it was given."""

    lengths: list[int] = field(default_factory=list)

    def load_segment(self, *sounds: Samples) -> None:
        self.lengths.append(len(sounds[0]))
        super().load_segment(*sounds)


@pytest.mark.parametrize(
    ("words", "frames"), [("start session bracken", [40, 24]), ("here level three came", [40])]
)
def test_whose_session_begins_is_told_without_what_is_kept_because_of_noise(
    words: str, frames: list[int]
) -> None:
    sound = hiss(40 * FRAME / RATE, 0.01)
    segment = Segment(0, len(sound), sound, None, np.ones(40, np.bool_), 16 * FRAME)
    listener = Measuring(words)
    decision = recognize_segment(segment, Recognizers(None, listener), GRAMMAR, NARROWING)
    assert decision.words == words
    assert listener.lengths == [count * FRAME for count in frames]


def test_what_is_not_sure_together_stays_apart() -> None:
    listener = PitchListener({"came": 0.5, "came slow": 0.7})
    sound = told((1.0, "came"), (0.8, "slow"))
    assert verdicts(events(sound, listener)) == [("came", "doubtful"), ("slow", "rejected")]


def test_a_phrase_that_was_joined_is_not_joined_again() -> None:
    listener = PitchListener({"level three": 0.99, "level three came": 1.0})
    sound = told((1.0, "level"), (0.8, "three"), (0.8, "came"))
    assert verdicts(events(sound, listener)) == [("level three", "accepted"), ("came", "rejected")]


def test_no_more_is_joined_than_a_segment_may_hold() -> None:
    sound = told((1.0, "level"), (0.8, "three"), seconds=7.5)
    assert verdicts(events(sound, SURE)) == [("level", "rejected"), ("three", "rejected")]


@pytest.mark.parametrize("seconds", [0.0, 0.01, 5.0])
def test_of_silence_there_are_no_events(seconds: float) -> None:
    assert events(np.zeros(round(seconds * RATE), np.float32), SURE) == []
    assert events(hiss(seconds), SURE) == []
