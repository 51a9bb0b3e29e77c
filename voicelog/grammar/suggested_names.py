"""Words to fall back on when a name or a cue sounds like something else that may be said.

Invented call names and plain cues, none of them bound to a place or a school of training.
Which of them fit is measured against all that may be said: see `confusability.safer_words`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

__all__ = ["SUGGESTED_NAMES", "NameRole"]

NameRole = Literal["dog", "handler", "cue"]

SUGGESTED_NAMES: Mapping[NameRole, tuple[str, ...]] = {
    "dog": (
        *("Badger", "Banjo", "Basil", "Biscuit", "Bruno", "Comet", "Copper", "Domino"),
        *("Falcon", "Ginger", "Harvest", "Hobnob", "Indigo", "Jasper", "Juniper"),
        *("Magpie", "Maple", "Nutmeg", "Olive", "Pepper", "Quarry", "Quaver", "Rocket"),
        *("Saffron", "Sorrel", "Thistle", "Toffee", "Velma", "Velvet", "Willow", "Yarrow"),
    ),
    "handler": (
        *("Abigail", "Benjamin", "Caroline", "Dominic", "Emily", "Frederick", "Gregory"),
        *("Jessica", "Katherine", "Matthew", "Nicholas", "Olivia", "Rebecca", "Victoria"),
    ),
    "cue": (
        *("gather", "home", "hurry in", "join me", "rally", "return", "this way"),
        *("to me", "with me", "back to me", "close in", "fold in"),
    ),
}
