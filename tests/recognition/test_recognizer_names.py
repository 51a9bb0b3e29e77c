"""A stored name tells which pass heard, also in logs of other versions of the engines."""

from __future__ import annotations

import pytest

from voicelog.recognition.recognizer_names import RecognitionPass, pass_of


@pytest.mark.parametrize(
    ("name", "wanted"),
    [
        ("whisper tiny.en+phones 3 (ctranslate2 4.6.0)", "second"),
        ("pocketsphinx 5.1.1 en-us", "first"),
        ("vosk 0.3.45 vosk-model-small-en-us-0.15", "first"),
        ("vosk 0.3.45 whisper-like", "first"),
        ("typed 1", "first"),
    ],
)
def test_which_pass_a_name_tells_of(name: str, wanted: RecognitionPass) -> None:
    assert pass_of(name) == wanted
