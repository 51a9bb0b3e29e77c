"""Codes of the sound check: what a few seconds of a given line show to be wrong."""

from __future__ import annotations

from typing import Literal

__all__ = ["SoundProblem"]

SoundProblem = Literal[
    "no sound", "overloaded", "quiet", "noisy", "narrow", "nothing understood", "some missed"
]
