"""The plain build that any afternoon would give: what the real one is measured against.

The package's endpointer with its defaults, one decoder with the stock settings and a flat
JSGF of the phrases, everything that it returns taken as said.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np
from numpy.typing import NDArray
from pocketsphinx import Decoder, Endpointer

from voicelog.grammar.grammar import Grammar
from voicelog.grammar.pronounce import Pronouncer
from voicelog.model import Utterance, Verdict

NUMBERS = 101
"""0 to 100."""


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


def plain_hear(
    blocks: Iterable[NDArray[np.float32]], grammar: Grammar
) -> Iterator[tuple[Utterance, Verdict]]:
    """What the plain build makes of a stream of blocks at 16 kHz."""
    decoder = Decoder(lm=None, loglevel="FATAL")
    for word in grammar.vocabulary:
        if decoder.lookup_word(word) is None:
            decoder.add_word(word, " ".join(Pronouncer().variants(word)[0]), update=False)
    decoder.add_jsgf_string("plain", flat_jsgf(grammar))
    decoder.activate_search("plain")
    endpointer = Endpointer()
    sound = np.concatenate(list(blocks))
    pcm = (np.clip(sound, -1, 1) * 32767).astype(np.int16).tobytes()
    speaking, start_s = False, 0.0
    for at in range(0, len(pcm) - endpointer.frame_bytes, endpointer.frame_bytes):
        speech = endpointer.process(pcm[at : at + endpointer.frame_bytes])
        if speech is None:
            continue
        if not speaking:
            speaking, start_s = True, endpointer.speech_start
            decoder.start_utt()
        decoder.process_raw(speech)
        if not endpointer.in_speech:
            decoder.end_utt()
            speaking = False
            found = decoder.hyp()
            yield _taken(start_s, endpointer.speech_end, found.hypstr if found else "", grammar)


def _taken(start_s: float, end_s: float, words: str, grammar: Grammar) -> tuple[Utterance, Verdict]:
    name = f"plain-{start_s:.3f}"
    understood = grammar.interpret(words) is not None
    return (
        Utterance(id=name, recording="bench", start_s=start_s, end_s=max(start_s, end_s)),
        Verdict(
            id=f"{name}.v",
            utterance=name,
            status="accepted" if understood else "rejected",
            words=words,
            confidence=1.0,
            judge="plain",
        ),
    )
