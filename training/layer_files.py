"""Which layers are trained, and where they wait."""

from __future__ import annotations

from pathlib import Path

from tests.bench.voices import data_dir

__all__ = ["LAYERS", "layer_file", "layer_without"]

LAYERS = ("all", "without-A", "without-B")
"""The layer that ships, and those trained without the voices of a group."""
GROUP_A = frozenset(
    ("esp-us", "esp-scot", "flite-slt", "fest-slt", "heart", "heart-low", "kok-alpha")
)
GROUP_B = frozenset(("esp-gb-f", "flite-kal16", "fest-kal", "kok-gongi", "kok-kumo"))
"""The voices of `tune` that speak the narrations, in two groups: a layer that has not heard the
one group tells the phones of its voices."""


def layer_file(name: str) -> Path:
    """Where a layer is kept."""
    return data_dir() / "phones" / f"{name}.npz"


def layer_without(voice: str) -> Path:
    """The layer that has not heard this voice of `tune`; the one of all for anybody else."""
    return layer_file(
        "without-A" if voice in GROUP_A else "without-B" if voice in GROUP_B else "all"
    )
