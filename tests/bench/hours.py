"""Hours of people's talk in which nobody says a note: what is taken for one all the same?

    python -m tests.bench.hours                      makes the recordings of `test`, condition talk
    python -m tests.bench.recognition --split test --listener both --short --condition talk

Nobody in it talks to a dog; it is acted, read aloud or said into a telephone menu, in many
languages, and none of it was used in tuning or training. All but `names` are of Debian packages,
which need not be installed: human.py tells how to unpack them.

game       flight-of-the-amazon-queen, the lines of its splits `test` and `fresh`: 11 kHz, English
adventure  beneath-a-steel-sky (free to distribute, notice kept; read, never kept): 11 kHz, English
dutch      fillets-ng-data-nl, its splits `test` and `fresh` (GPL-2)
czech      fillets-ng-data-cs (GPL-2)
prompts    asterisk-core-sounds-en-g722, its splits `test` and `fresh` (CC-BY-SA-3.0)
french, spanish, italian, russian
           asterisk-core-sounds-fr-g722, -es-, -it- and -ru-g722 (CC-BY-SA-3.0)
novel      pocketsphinx-testdata (BSD-2-clause)
names      MycroftAI/Precise-Community-Data: single words and names (public domain; people.py)
spanish-8k, french-8k
           asterisk-prompt-es-co, asterisk-prompt-fr-armelle (GPL-2+): 8 kHz, GSM
italian-8k asterisk-prompt-it-menardi-wav (CC-BY-SA-3.0): 8 kHz
things     ktuberling-data (GPL-2+): names of things, one at a time, in 25 languages

Lines are said one after another with pauses of 0.4 to 1.5 s, some five minutes to a recording.
"""

from __future__ import annotations

import argparse
import struct
from collections import defaultdict
from collections.abc import Iterable, Iterator
from itertools import chain
from pathlib import Path

import numpy as np
import soxr

from tests.bench import human, people
from tests.bench.narrations import write
from tests.bench.propack import MAGIC, unpacked
from tests.bench.units import ROSTERS, joined
from tests.bench.voices import RATE, Sound, data_dir, evened, trimmed

__all__ = ["talk"]

LANGUAGES = {"fr": "french", "es": "spanish", "it": "italian", "ru": "russian"}
RECORDING_S = 300
LEAST_S = 0.3
GAPS_S = (0.4, 1.5)
NARROW = {
    "spanish-8k": ("asterisk-prompt-es-co", "es"),
    "french-8k": ("asterisk-prompt-fr-armelle", "fr"),
    "italian-8k": ("asterisk-prompt-it-menardi-wav", "it_IT_f_Menardi"),
}
"""Package and folder of more telephone prompts."""
SPEECH_FROM = 50_000
"""Files of the adventure from this number on are lines that are spoken."""
SPEECH_RATE, FILE_HEADER = 11_025, 22
"""Hz, and the bytes before what is packed."""

Line = tuple[str, str, Sound]
"""Source, name, and sound of a line."""


def talk() -> Iterator[Line]:
    """Every line of every source, at an even level."""
    for split in ("test", "fresh"):
        yield from human.lines(split)
    for source, name, sound in chain(
        _adventure(), _czech(), _prompts(), _names(), _narrow_prompts(), _things()
    ):
        if len(short := trimmed(sound)) > LEAST_S * RATE:
            yield source, name, evened(short)


def _adventure() -> Iterator[Line]:
    folder = "scummvm/beneath-a-steel-sky"
    table = human.place(f"{folder}/sky.dnr", "beneath-a-steel-sky").read_bytes()
    data = human.place(f"{folder}/sky.dsk", "beneath-a-steel-sky").read_bytes()
    for at in range(4, 4 + 8 * struct.unpack_from("<I", table)[0], 8):
        (number,) = struct.unpack_from("<H", table, at)
        start = int.from_bytes(table[at + 2 : at + 5], "little")
        size = int.from_bytes(table[at + 5 : at + 8], "little") & 0x3FFFFF
        start = (start & 0x7FFFFF) << 4 if start >> 23 else start
        packed = data[start + FILE_HEADER : start + size]
        if number >= SPEECH_FROM and packed.startswith(MAGIC):
            samples = np.frombuffer(unpacked(packed), np.uint8).astype(np.float32) / 128 - 1
            sound = soxr.resample(samples - samples.mean(), SPEECH_RATE, RATE)
            yield "adventure", str(number), np.asarray(sound, np.float32)


def _czech() -> Iterator[Line]:
    root = human.place("games/fillets-ng/sound", "fillets-ng-data-cs", "*/cs/*.ogg")
    for path in sorted(root.glob("*/cs/*.ogg")):
        yield "czech", path.stem, human.sound_of(path)


def _prompts() -> Iterator[Line]:
    for code, language in LANGUAGES.items():
        found = f"{code}_*"
        root = human.place("asterisk/sounds", f"asterisk-core-sounds-{code}-g722", found)
        for path in sorted(root.glob(f"{found}/**/*.g722")):
            if path.parent.name != "silence" and path.stat().st_size:
                yield language, path.stem, human.sound_of(path)


def _names() -> Iterator[Line]:
    for name, _, sound in people.words("test"):
        yield "names", name, sound


def _narrow_prompts() -> Iterator[Line]:
    for source, (package, folder) in NARROW.items():
        root = human.place(f"asterisk/sounds/{folder}", package)
        for path in sorted((*root.rglob("*.gsm"), *root.rglob("*.wav"))):
            if path.parent.name != "silence" and path.stat().st_size:
                yield source, path.stem, human.sound_of(path)


def _things() -> Iterator[Line]:
    root = human.place("ktuberling/sounds", "ktuberling-data", "*/*.ogg")
    for path in sorted((*root.glob("*/*.ogg"), *root.glob("*/*.wav"))):
        yield "things", f"{path.parent.name} {path.stem}", human.sound_of(path)


def recordings(lines: Iterable[Line]) -> Iterator[list[Line]]:
    """Lines of one source until they last RECORDING_S."""
    waiting, length = list[Line](), 0.0
    for line in lines:
        if waiting and (waiting[-1][0] != line[0] or length > RECORDING_S):
            yield waiting
            waiting, length = [], 0.0
        waiting.append(line)
        length += len(line[2]) / RATE + sum(GAPS_S) / 2
    if waiting:
        yield waiting


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--data", type=Path, default=data_dir())
    asked = parser.parse_args()
    spoken_s, lasting_s = defaultdict[str, float](float), defaultdict[str, float](float)
    for index, lines in enumerate(recordings(talk())):
        source = lines[0][0]
        said = [(name, "talk", sound) for _, name, sound in lines]
        sound, truth = joined(said, source, "test", index, GAPS_S)
        write(asked.data / "test" / "talk", sound, truth | {"dogs": [*ROSTERS["test"]]}, "clean")
        spoken_s[source] += sum(len(line[2]) for line in lines) / RATE
        lasting_s[source] += len(sound) / RATE
    for source, seconds in lasting_s.items():
        print(f"{source:10} {spoken_s[source] / 3600:5.2f} h said, {seconds / 3600:5.2f} h in all")
    said_h, all_h = (sum(hours.values()) / 3600 for hours in (spoken_s, lasting_s))
    print(f"together   {said_h:5.2f} h said, {all_h:5.2f} h in all")


if __name__ == "__main__":
    main()
