"""Make a Vosk model's folder that is whole in form and in which nothing could be heard."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from voicelog.grammar.grammar import Grammar
from voicelog.recognition import fst

__all__ = ["FILES", "vosk_folder"]

FILES = (
    "am/final.mdl",
    "conf/mfcc.conf",
    "conf/model.conf",
    "graph/HCLr.fst",
    "graph/Gr.fst",
    "graph/disambig_tid.int",
    "graph/phones/word_boundary.int",
)


def vosk_folder(folder: Path, words: Iterable[str] | None = None) -> Path:
    """Fill `folder` with a model's files, whose graph knows `words` (the English grammar's)."""
    for name in FILES:
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"x")
    known = sorted(Grammar.load().vocabulary if words is None else words)
    arcs = tuple(fst.WordArc(word, 0.0, 0) for word in known)
    ids = {word: number for number, word in enumerate(known, start=1)}
    fst.write(fst.Acceptor((arcs,), (0.0,)), ids, folder / "graph/Gr.fst")
    return folder
