"""Which layers are trained, and where they wait.

What the phones of a voice are worth may not be learnt with a layer that knows the speaker. So
speakers are dealt into folds, and for each fold a layer is trained that has heard none of its
speakers, not at another pitch, by another engine nor in a mix either.
"""

from __future__ import annotations

from pathlib import Path

from tests.bench.voices import data_dir

__all__ = [
    "FOLDS",
    "LAYERS",
    "ORDERS",
    "PACKAGED",
    "PEOPLE",
    "SPEAKER_OF",
    "layer_file",
    "layer_without",
    "left_out",
]

PACKAGED = "layers"
"""Folder of the bench data for layers over the packaged model's encoder. Another model has a folder
of its own."""
ORDERS = "orders"
"""Whoever says people's orders (people_speech.py): nobody tells them apart."""
FOLDS = (
    frozenset(("slt", "en-gb")),
    frozenset(("kal", "jf_alpha")),
    frozenset(("heart", "en-gb-scotland")),
    frozenset(("jf_gongitsune", "en-us")),
    frozenset(("jm_kumo", ORDERS)),
)
"""Speakers by fold, makers mixed: of no maker are all voices left out at once but of those that
have one speaker. eSpeak NG has one synthesizer; there an accent counts as a speaker."""
PEOPLE = "people"
"""The voice of people's commands, whoever they are."""
SPEAKER_OF = {
    "flite-slt": "slt",
    "fest-slt": "slt",
    "flite-kal16": "kal",
    "fest-kal": "kal",
    "heart": "heart",
    "heart-low": "heart",
    "kok-alpha": "jf_alpha",
    "kok-gongi": "jf_gongitsune",
    "kok-kumo": "jm_kumo",
    "esp-us": "en-us",
    "esp-gb-f": "en-gb",
    "esp-scot": "en-gb-scotland",
    PEOPLE: ORDERS,
}
"""The speaker of each voice of `tune`."""
LAYERS = ("all", *(f"without-{fold}" for fold in range(len(FOLDS))))
"""The layer that ships, and those trained without the speakers of a fold."""


def left_out(name: str) -> frozenset[str]:
    """The speakers that a layer has not heard; none for "all"."""
    return FOLDS[int(name.removeprefix("without-"))] if name != "all" else frozenset()


def layer_file(name: str, folder: str) -> Path:
    """Where a layer of a folder of the bench data is kept."""
    return data_dir() / folder / f"{name}.npz"


def layer_without(voice: str) -> Path:
    """The layer that has not heard the speaker of this voice of `tune`; the one of all for
    anybody else, since no layer has heard those."""
    speaker = SPEAKER_OF.get(voice)
    return layer_file(next((name for name in LAYERS if speaker in left_out(name)), "all"), PACKAGED)
