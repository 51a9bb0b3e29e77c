"""A stored name tells which recognizer heard, also in logs of other versions of the engines."""

from __future__ import annotations

import pytest

from voicelog.recognition.recognizer_names import RecognizerKind, kind_of


@pytest.mark.parametrize(
    ("name", "wanted"),
    [
        ("whisper tiny.en+phones 3 (ctranslate2 4.6.0)", "careful"),
        ("pocketsphinx 5.1.1 en-us", "quick"),
        ("vosk 0.3.45 vosk-model-small-en-us-0.15", "quick"),
        ("vosk 0.3.45 whisper-like", "quick"),
        ("typed 1", "quick"),
    ],
)
def test_which_recognizer_a_name_tells_of(name: str, wanted: RecognizerKind) -> None:
    assert kind_of(name) == wanted
