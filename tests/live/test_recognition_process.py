"""Hearing live is hearing: the same utterances as from a file, only sooner."""

from __future__ import annotations

import queue
from types import SimpleNamespace

import numpy as np
import pytest

from tests.live.fields import GRAMMAR, ROSTER
from tests.recognition.speaking import hiss, laid, say
from voicelog.app.hearing_test import TEST_WORDS, heard_test
from voicelog.audio.recorder import as_float, as_pcm
from voicelog.audio.resampling import Samples
from voicelog.grammar.grammar import RecognitionContext
from voicelog.live.recognition_messages import (
    AllRecognized,
    CarefulStopped,
    RecognitionDied,
    RecognitionFailed,
    RecognitionMessage,
    RecognizersReady,
    UtteranceRecognized,
)
from voicelog.live.recognition_process import (
    RecognitionProcess,
    RecognitionRequest,
    _RecognizersUnderLoad,
)
from voicelog.model import Reading, Utterance, Verdict
from voicelog.recognition.recognize import Recognizers, recognize
from voicelog.recognition.recognizers import make_recognizers

NARROWING = RecognitionContext(top_level=20)


@pytest.fixture(scope="module")
def listeners() -> Recognizers:
    return make_recognizers(GRAMMAR, NARROWING, "quick")


def narration() -> Samples:
    """Notes, talk, a phrase with a pause in it, and a long quiet."""
    words = ("start session bracken", "level", "three", "came", "good girl come on then")
    spoken = [(0.9, say(one, edge_s=0.0)) for one in words]
    spoken.append((6.0, say("no button came", edge_s=0.0)))
    return as_float(as_pcm(laid(spoken, 3.0)))


def test_the_same_utterances_as_from_a_file_in_the_same_order(
    listeners: Recognizers,
) -> None:
    sound = narration()
    blocks = [sound[i : i + 1600] for i in range(0, len(sound), 1600)]
    live = list(
        recognize(iter(blocks), listeners, GRAMMAR, NARROWING, "r", at_leisure=lambda: True)
    )
    assert live == list(recognize([sound], listeners, GRAMMAR, NARROWING, "r"))
    assert len(live) >= 4


def test_a_sure_note_at_its_end_comes_before_the_next_is_spoken(
    listeners: Recognizers,
) -> None:
    sound = narration()
    fed = 0

    def blocks() -> object:
        nonlocal fed
        for i in range(0, len(sound), 1600):
            fed = i + 1600
            yield sound[i : i + 1600]

    for utterance, _, verdict in recognize(blocks(), listeners, GRAMMAR, NARROWING, "r"):  # type: ignore[arg-type]
        waited_s = fed / 16_000 - utterance.end_s
        ended = verdict.status == "accepted" and not GRAMMAR.may_go_on(verdict.words)
        assert waited_s < (1.0 if ended else 3.0), verdict.words


def test_it_says_when_somebody_speaks(listeners: Recognizers) -> None:
    sound = np.concatenate([hiss(1.0), say("level two came"), hiss(2.0)])
    talking: list[bool] = []
    list(recognize([sound], listeners, GRAMMAR, NARROWING, "r", talking=talking.append))
    assert talking == [True, False]


def test_the_process_hears_what_it_is_fed_and_ends_with_it() -> None:
    messages: queue.SimpleQueue[RecognitionMessage] = queue.SimpleQueue()
    process = RecognitionProcess(RecognitionRequest(ROSTER, "r", listener="quick"), messages.put)
    sound = as_pcm(np.concatenate([hiss(1.0), say("level three came"), hiss(1.0)]))
    for start in range(0, len(sound), 1600):
        process.feed(sound[start : start + 1600])
    process.finish()
    came: list[RecognitionMessage] = []
    last = AllRecognized | RecognitionDied | RecognitionFailed
    while not came or not isinstance(came[-1], last):
        came.append(messages.get(timeout=100.0))
    process.close()
    assert isinstance(came[0], RecognizersReady)
    assert came[0].heard == came[0].names != (), "it heard the test through"
    words = [one.utterance[2].words for one in came if isinstance(one, UtteranceRecognized)]
    assert words == ["level three came"]
    assert process.lag_s < 1.5


def test_a_recognizer_that_hears_nothing_or_other_words_did_not_hear_the_test() -> None:
    other = Reading(id="r1", utterance="u", words="came", by="listener", who="a")
    right = other.model_copy(update={"words": TEST_WORDS, "who": "b"})
    loaded = SimpleNamespace(
        grammar=GRAMMAR,
        recognizers=SimpleNamespace(names=("a", "b", "c")),
        recognize=lambda blocks, name: [(None, (other, right), len(list(blocks)))],
    )
    assert heard_test(loaded) == ("b",)  # type: ignore[arg-type]


def test_what_only_the_quick_listener_heard_is_doubtful_at_best_where_both_should_have() -> None:
    sent: list[RecognitionMessage] = []
    first, second = SimpleNamespace(name="a"), SimpleNamespace(name="b")
    recognizers = SimpleNamespace(quick=first, careful=second, note=None, names=("a", "b"))
    under_load = _RecognizersUnderLoad(recognizers, sent.append)  # type: ignore[arg-type]
    utterance = Utterance(id="u", recording="r", start_s=0.0, end_s=1.0)
    verdict = Verdict(
        id="v", utterance="u", status="accepted", words="came", confidence=0.9, judge="both 1"
    )
    reading = Reading(id="r1", utterance="u", words="came", by="listener", who="a")
    alone = (utterance, (reading,), verdict)
    heard = (utterance, (reading, reading.model_copy(update={"id": "r2", "who": "b"})), verdict)
    assert under_load.lower_verdict(heard) is heard
    under_load.skip_careful(True)
    assert recognizers.careful is None
    lowered = under_load.lower_verdict(alone)[2]
    assert (lowered.status, lowered.judge) == ("doubtful", "both 1, quick alone 1")
    assert lowered.id != "v"
    under_load.skip_careful(False)
    assert recognizers.careful is second
    assert under_load.lower_verdict(heard) is heard
    assert under_load.lower_verdict(alone)[2].status == "doubtful", "it was recognized before"
    recognizers.careful, recognizers.note = None, "It stopped."
    under_load.skip_careful(False)
    assert recognizers.careful is None, "what has stopped is not asked again"
    assert [under_load.lower_verdict(alone)[2].status for _ in range(2)] == ["doubtful"] * 2
    assert sent == [CarefulStopped("It stopped.")]


def test_a_process_that_dies_is_told() -> None:
    messages: queue.SimpleQueue[RecognitionMessage] = queue.SimpleQueue()
    process = RecognitionProcess(RecognitionRequest(ROSTER, "r", listener="quick"), messages.put)
    assert isinstance(messages.get(timeout=100.0), RecognizersReady)
    process.close()
    assert messages.get(timeout=60.0) == RecognitionDied()
