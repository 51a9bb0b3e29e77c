"""What `voicelog voice` gains by voice: a card read by each, fitted, judged out-of-fold.

    python -m tests.bench.voice_card [--both] [--pink DB] [VOICE ...]

Without voices: all of the tune split. Prints how many of the card's lines were sure and right,
offered, missed and wrong before and out-of-fold after, and what was chosen; then the lines
of the same card in another tempo under the choice: sound that had no part in it.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Sequence

import numpy as np

from tests.bench.voices import TUNE, Voice, available, voice
from voicelog.grammar.card import card
from voicelog.grammar.grammar import Grammar, Narrowing
from voicelog.hearing.careful import Careful
from voicelog.hearing.cleaned import LENGTH, power
from voicelog.hearing.engines import careful_model
from voicelog.hearing.fit import GRADES, USUAL, Grade, fit, graded, voice_of
from voicelog.hearing.listener import Listener, Sound
from voicelog.hearing.segmenter import FRAME, Segment
from voicelog.hearing.sphinx import SphinxListener
from voicelog.hearing.voice import Voice as Fitted
from voicelog.model import Dog, Roster, Transmitter

TOP = 100
MARGIN = 10
OTHER_TEMPO = 1.15


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("voices", nargs="*")
    parser.add_argument("--both", action="store_true", help="with the careful listener too")
    parser.add_argument("--pink", type=float, help="pink noise so much under the speech (dB)")
    options = parser.parse_args()
    chosen = [voice(name) for name in options.voices] or available(TUNE)
    unit = Transmitter(top=TOP)
    dogs = tuple(Dog(name=name, transmitter=unit) for name in ("Bracken", "Wren"))
    grammar = Grammar.load(roster=Roster(dogs=dogs))
    narrowing = Narrowing(top_level=TOP)
    careful = None
    if options.both:
        model = careful_model("en")
        assert model is not None, "install the extra 'careful'"
        careful = Careful(model)

    def quick_for(fitted: Fitted) -> Listener:
        return SphinxListener(grammar, narrowing, voice=fitted)

    lines = card(grammar, TOP)
    total: Counter[str] = Counter()
    for speaker in chosen:
        first = read_by(speaker, lines, options.pink, 1.0)
        found = fit(first, grammar, narrowing, quick_for, careful)
        told = f"{found.setting.speed:g} {found.setting.accent}".strip()
        print(f"{speaker.name:12} {speaker.accent:18} {len(first)} lines of {len(lines)}")
        print(f"  before {counts(found.before)}   after {counts(found.after)}   keeps {told}")
        if found.setting != USUAL:
            again = read_by(speaker, lines, options.pink, OTHER_TEMPO)
            for name, setting in (("usual", USUAL), ("fitted", found.setting)):
                quick = quick_for(voice_of(setting, grammar))
                grades = graded(again, grammar, narrowing, quick, careful)
                print(f"  another reading, {name}: {counts([one.grade for one in grades])}")
                total.update(f"{name} {one.grade}" for one in grades)
        print(end="", flush=True)
    print("other readings in all:", dict(total))


def read_by(
    speaker: Voice, lines: Sequence[str], pink_db: float | None, tempo: float
) -> tuple[tuple[str, Segment], ...]:
    """The lines as segments, each cut where it lies: only hearing is measured here."""
    return tuple((line, cut(speaker.sound(line, tempo), pink_db)) for line in lines)


def cut(spoken: Sound, pink_db: float | None) -> Segment:
    """A segment with a margin of noise (hiss, or pink) around the speech."""
    margin = MARGIN * FRAME
    rest = -len(spoken) % FRAME
    sound = np.pad(spoken, (margin, margin + rest))
    rng = np.random.default_rng(1)
    noise = 3e-4 * rng.standard_normal(len(sound))
    if pink_db is not None:
        shape = np.fft.rfft(rng.standard_normal(len(sound)))
        shape /= np.sqrt(np.maximum(np.arange(len(shape)), 1.0))
        pink = np.fft.irfft(shape, len(sound))
        noise += pink * 10 ** ((-23.0 - pink_db) / 20) / np.sqrt(np.mean(pink**2))
    frames = noise[: len(noise) // LENGTH * LENGTH].reshape(-1, LENGTH).astype(np.float32)
    spectrum = np.mean([power(frame) for frame in frames], axis=0)
    speech = np.ones(len(sound) // FRAME, np.bool_)
    speech[:MARGIN] = speech[-MARGIN:] = False
    return Segment(0, margin + len(spoken), (sound + noise).astype(np.float32), spectrum, speech)


def counts(grades: Sequence[Grade]) -> str:
    seen = Counter(grades)
    return ", ".join(f"{seen[grade]} {grade}" for grade in reversed(GRADES))


if __name__ == "__main__":
    main()
