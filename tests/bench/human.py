"""Human speech that Debian's packages carry, for the benchmarks; nobody in it talks to a dog.

asterisk-core-sounds-en-g722, -wav: telephone prompts and numbers, one American woman, 16 and
    8 kHz (CC-BY-SA-3.0).
pocketsphinx-testdata: card hands, digits, a novel (BSD-2-clause).
flight-of-the-amazon-queen: 6,700 acted lines of many speakers, 11 kHz and strongly packed
    (free to distribute, notice kept; its files are read, none is kept).
fillets-ng-data-nl: Dutch lines of many speakers (GPL-2).

The last two need not be installed: `dpkg -x PACKAGE.deb debian` in the bench data folder is
enough. `numbers` are words with their value, `lines` is other talk.
"""

from __future__ import annotations

import io
import re
import struct
import zlib
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import av
import numpy as np
import soundfile as sf
import soxr

from tests.bench.voices import RATE, Sound, data_dir, evened, trimmed

__all__ = ["SPEAKERS", "lines", "numbers", "place", "script", "sound_of"]

SPHINX = "pocketsphinx/test/data"
CUT = {  # file: (number, first and last frame of 10 ms), as aligned and looked over
    "numbers.raw": ((4, 119, 192), (6, 193, 238)),
    "tidigits/dhd.2934z.raw": (
        (2, 22, 40), (9, 41, 64), (3, 65, 88), (4, 89, 113), (0, 114, 161),
    ),
    "cards/001.wav": ((10, 0, 33),),
}  # fmt: skip
SPEAKERS = ("prompts", "prompts-8k", "others")
SCRIPT_HEADER = 20
"""Bytes before what a file of the game's script holds."""
SPLITS = ("tune", "test", "fresh")


def place(path: str, package: str, holding: str = "*") -> Path:
    """A file or folder of a package, installed or unpacked; a folder must hold something that the
    pattern `holding` fits. FileNotFoundError says what to do."""
    for root in (Path("/usr/share"), data_dir() / "debian/usr/share"):
        if (found := root / path).is_file() or any(found.glob(holding)):
            return found
    raise FileNotFoundError(
        f"{path} is not there; apt-get install {package}, or apt-get download it and dpkg -x it "
        f"into {data_dir() / 'debian'}"
    )


def _prompts(band: str) -> Path:
    root = place("asterisk/sounds", f"asterisk-core-sounds-en-{band}")
    return next(iter(sorted(root.glob("en_US_f_*"))), root / "en")


def numbers(speaker: str) -> list[tuple[int, Sound]]:
    """The numbers 0 to 20 that a speaker of SPEAKERS says, each alone, at RATE and even level."""
    if speaker == "others":
        found = []
        for name, cuts in CUT.items():
            whole = sound_of(place(f"{SPHINX}/{name}", "pocketsphinx-testdata"))
            found += [
                (number, whole[first * RATE // 100 : (last + 1) * RATE // 100])
                for number, first, last in cuts
            ]
    else:
        band = "wav" if speaker.endswith("8k") else "g722"
        folder = _prompts(band) / "digits"
        found = [(number, sound_of(folder / f"{number}.{band}")) for number in range(21)]
    return [(number, evened(trimmed(sound))) for number, sound in found]


def lines(split: str) -> Iterator[tuple[str, str, Sound]]:
    """Other talk of a split: (speaker's package, the line's name, the sound)."""
    for group in (_game, _dutch, _prompt_lines, _novel):
        yield from group(split)


def _game(split: str) -> Iterator[tuple[str, str, Sound]]:
    """Scenes of the game; each scene is in one split, the hero is in all."""
    data, table = _game_table()
    for name, at, size in table:
        if name.endswith(".SB") and _side(name[:3]) == split:
            sound = _decoded(io.BytesIO(data[at : at + size]), "mp3")
            if len(sound) > 0.3 * RATE:
                yield "game", name, evened(trimmed(sound))


def script(name: str) -> tuple[str, ...]:
    """What may be said in a line of the game: the pieces of its scene's script, as written.

    name: of the line (`lines`). A conversation is found by the number that the name begins with, a
    scene that plays by itself by its letters; what the hero says of things has a file for all.
    """
    files = _script_files()
    scene = name[:5].rstrip("_") + ".CUT"
    if scene in files:
        held = [files[scene]]
    elif name[:2].isdigit():
        spoken = [data for file, data in files.items() if file.endswith(".DOG")]
        held = [data for data in spoken if struct.unpack_from(">h", data, 24) == (int(name[:2]),)]
    else:
        held = [data for file, data in files.items() if file.endswith(".JAS")]
    return tuple(piece for data in held for piece in _pieces(data[SCRIPT_HEADER:]))


@cache
def _script_files() -> dict[str, bytes]:
    data, table = _game_table()
    return {
        name: data[at : at + size]
        for name, at, size in table
        if name.endswith((".DOG", ".CUT", ".JAS"))
    }


def _pieces(data: bytes) -> Iterator[str]:
    """The texts that a file of the script holds, parted where somebody moves."""
    for run in re.findall(rb"[\x20-\x7e]{2,}", data):
        # The byte before a text tells how long it is, and may look like a letter.
        text = run[1:] if run[0] == len(run) - 1 else run
        for piece in re.split(rb"\*[0-9A-Z]{2}", text):
            if any(chr(byte).isalpha() for byte in piece):
                yield piece.decode()


@cache
def _game_table() -> tuple[bytes, list[tuple[str, int, int]]]:
    path = "scummvm/flight-of-the-amazon-queen/queen.1c"
    data = place(path, "flight-of-the-amazon-queen").read_bytes()
    (count,) = struct.unpack(">H", data[13:15])
    table = []
    for entry in range(15, 15 + 21 * count, 21):
        name = data[entry : entry + 12].rstrip(b"\0").decode("latin1")
        _, at, size = struct.unpack(">BII", data[entry + 12 : entry + 21])
        table.append((name, at, size))
    return data, sorted(table)


def _dutch(split: str) -> Iterator[tuple[str, str, Sound]]:
    root = place("games/fillets-ng/sound", "fillets-ng-data-nl", "*/nl/*.ogg")
    for path in sorted(root.glob("*/nl/*.ogg")):
        if _side(path.parts[-3]) == split:
            yield "dutch", path.stem, evened(trimmed(sound_of(path)))


def _prompt_lines(split: str) -> Iterator[tuple[str, str, Sound]]:
    root = _prompts("g722")
    for path in sorted(root.rglob("*.g722")):
        if path.parent.name not in ("digits", "silence") and _side(path.stem) == split:
            sound = trimmed(sound_of(path))
            if len(sound) > 0.3 * RATE:
                yield "prompts", path.stem, evened(sound)


def _novel(split: str) -> Iterator[tuple[str, str, Sound]]:
    if split == "test":
        root = place(SPHINX, "pocketsphinx-testdata")
        for path in [*sorted(root.glob("librivox/*.wav")), root / "something.raw"]:
            yield "novel", path.stem, evened(trimmed(sound_of(path)))


def _side(name: str) -> str:
    """The split that a name belongs to."""
    return SPLITS[zlib.crc32(name.encode()) % len(SPLITS)]


def sound_of(path: Path) -> Sound:
    """A recording by what its name ends with, mono at RATE."""
    if path.suffix == ".raw":
        return np.fromfile(path, "<i2").astype(np.float32) / np.float32(32768)
    if path.suffix == ".g722":
        return _decoded(path.open("rb"), "g722")
    samples, rate = sf.read(path, dtype="float32", always_2d=True)
    return np.asarray(soxr.resample(samples.mean(axis=1), rate, RATE), dtype=np.float32)


def _decoded(file: io.IOBase, kind: str) -> Sound:
    with file, av.open(file, "r", format=kind) as opened:
        frames = [frame.to_ndarray() for frame in opened.decode(audio=0)]
        rate = opened.streams.audio[0].rate
    samples = np.concatenate([frame.reshape(frame.shape[0], -1)[0] for frame in frames])
    if samples.dtype == np.int16:
        samples = samples / 32768
    return np.asarray(soxr.resample(samples.astype(np.float32), rate, RATE), dtype=np.float32)
