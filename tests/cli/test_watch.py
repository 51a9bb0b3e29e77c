"""`voicelog watch`, with a real listener: what it takes in equals what `add` does."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path

import numpy as np

from tests.audio.making import encode
from tests.cli.run import Voicelog
from voicelog.audio.files import AudioReader
from voicelog.grammar.data_folders import data_folder


def test_what_comes_into_the_folder_is_as_if_added(voicelog: Voicelog, tmp_path: Path) -> None:
    with AudioReader(data_folder("demo_audio") / "day2-wren" / "day2-wren.opus") as reader:
        speech = np.concatenate([block for block, _ in zip(reader, range(90), strict=False)])
    folder = tmp_path / "incoming"
    folder.mkdir()
    path = encode(folder / "REC_20260418_073000.wav", speech, 16_000, "pcm_s16le")
    heard = ("--listener", "quick", "--dog", "Wren")
    other = ("--data-dir", tmp_path / "other")
    for where in ((), other):
        voicelog("dogs", "put", "Wren", "--top", "20", *where)
    said = voicelog("watch", folder, "--once", "--settle", "0.1", *heard)
    assert said.code == 0
    assert said.out.startswith(f"{path.name}: ")
    assert said.out.endswith("Begun Sat 18 Apr 2026, 7:30, as its name says.\n")
    assert voicelog("add", path, "--at", "2026-04-18T07:30", *heard, *other).code == 0
    for where in ((), other):
        voicelog("export", tmp_path / ("added" if where else "mine"), *where)
    mine, added = (
        json.loads((tmp_path / name / "voicelog.json").read_text()) for name in ("mine", "added")
    )
    assert mine == added
    assert mine["recordings"][0]["entries"]

    again = voicelog("watch", folder, "--once", "--settle", "0.1", *heard)
    assert (again.code, again.out, again.err) == (0, "", "")
    missing = voicelog("watch", tmp_path / "none", "--once")
    assert missing.code == 2
    assert missing.err.startswith(f"voicelog: Found no folder {tmp_path / 'none'}, wanted one")
    assert datetime.fromisoformat(mine["recordings"][0]["started_at"]).hour == 7
