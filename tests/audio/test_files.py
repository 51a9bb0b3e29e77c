"""Recordings of every common format, whole, cut, damaged, and things that are none."""

from __future__ import annotations

import hashlib
import io
import os
import pickle
import subprocess
import sys
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import av
import numpy as np
import pytest

import voicelog
from voicelog.audio import errors
from voicelog.audio.files import BLOCK, RATE, AudioReader, SoundFileInfo, blocks, probe

from .making import Sound, encode, loudest_hz, noise, rms_db, tone, write

TAGS = {"date": "2026-05-02T07:08:09", "creation_time": "2026-05-02T07:08:09Z"}
TAGGED = datetime(2026, 5, 2, 7, 8, 9, tzinfo=UTC)
FASTSTART = {"movflags": "faststart"}

FORMATS: dict[str, tuple[str, str, int, str]] = {
    # name: (suffix, libsndfile subtype or FFmpeg codec, rate in Hz, Recording.format)
    "wav 8 bits": (".wav", "PCM_U8", 8_000, "wav pcm_u8"),
    "wav 16 bits": (".wav", "PCM_16", 16_000, "wav pcm_s16le"),
    "wav 24 bits": (".wav", "PCM_24", 44_100, "wav pcm_s24le"),
    "wav 32 bits": (".wav", "PCM_32", 96_000, "wav pcm_s32le"),
    "wav float": (".wav", "FLOAT", 48_000, "wav pcm_f32le"),
    "wav double": (".wav", "DOUBLE", 22_050, "wav pcm_f64le"),
    "wav telephone": (".wav", "ULAW", 8_000, "wav pcm_mulaw"),
    "rf64": (".rf64", "PCM_16", 48_000, "wav pcm_s16le"),
    "w64": (".w64", "PCM_16", 48_000, "w64 pcm_s16le"),
    "aiff": (".aiff", "PCM_16", 44_100, "aiff pcm_s16be"),
    "caf": (".caf", "PCM_16", 44_100, "caf pcm_s16be"),
    "flac 16 bits": (".flac", "PCM_16", 16_000, "flac flac"),
    "flac 24 bits": (".flac", "PCM_24", 96_000, "flac flac"),
    "ogg vorbis": (".ogg", "VORBIS", 44_100, "ogg vorbis"),
    "ogg opus": (".ogg", "OPUS", 48_000, "ogg opus"),
    "mp3": (".mp3", "MPEG_LAYER_III", 44_100, "mp3 mp3float"),
    "m4a aac": (".m4a", "aac", 44_100, "mov aac"),
    "m4a alac": (".m4a", "alac", 48_000, "mov alac"),
    "aac": (".aac", "aac", 16_000, "aac aac"),
    "opus": (".opus", "libopus", 48_000, "ogg opus"),
    "webm": (".webm", "libopus", 48_000, "matroska opus"),
    "mp3 at 8 kHz": (".mp3", "libmp3lame", 8_000, "mp3 mp3float"),
}


def _make(folder: Path, name: str, sound: Sound) -> Path:
    suffix, how, rate, _ = FORMATS[name]
    path = folder / f"sound{suffix}"
    return write(path, sound, rate, how) if how.isupper() else encode(path, sound, rate, how)


def _read(path: Path) -> tuple[Sound, SoundFileInfo]:
    with AudioReader(path) as reader:
        sound = np.concatenate(list(reader))
        return sound, reader.recording


# --- whole recordings -------------------------------------------------------------------


@pytest.mark.parametrize("channels", [1, 2])
@pytest.mark.parametrize("name", FORMATS)
def test_a_tone_comes_out_of_every_format(tmp_path: Path, name: str, channels: int) -> None:
    rate, described = FORMATS[name][2:]
    path = _make(tmp_path, name, np.stack([tone(1000, 2, rate)] * channels, axis=1))
    sound, recording = _read(path)
    assert sound.dtype == np.float32
    assert (recording.format, recording.rate, recording.channels) == (described, rate, channels)
    assert recording.duration_s == len(sound) / RATE
    assert recording.duration_s == pytest.approx(2, abs=0.13)  # codecs pad by a frame or two
    assert recording.note is None
    middle = sound[RATE // 2 : 3 * RATE // 2]
    assert loudest_hz(middle) == pytest.approx(1000, abs=1)
    assert rms_db(middle) == pytest.approx(rms_db(tone(1000, 1)), abs=0.5)


def test_16_bits_at_16_khz_come_out_bit_for_bit(tmp_path: Path) -> None:
    sound = np.round(noise(1.23, 0.2) * 2**15).astype(np.float32) / np.float32(2**15)
    sound = np.clip(sound, -1, 1 - 2**-15)
    assert np.array_equal(_read(write(tmp_path / "a.wav", sound))[0], sound)


def test_blocks_do_not_depend_on_how_the_file_portions_its_sound(tmp_path: Path) -> None:
    sound = np.stack([noise(3.21, 0.1, 1, 44_100), noise(3.21, 0.1, 2, 44_100)], axis=1)
    sound = np.round(sound * 2**15) / np.float32(2**15)  # the same numbers in all formats
    paths = [
        write(tmp_path / name, sound, 44_100, "PCM_24") for name in ("a.wav", "a.flac", "a.aiff")
    ]
    wav, flac, aiff = (list(blocks(path)) for path in paths)
    assert [len(block) for block in wav[:-1]] == [BLOCK] * (len(wav) - 1)
    assert 0 < len(wav[-1]) <= BLOCK
    for other in (flac, aiff):
        assert all(np.array_equal(a, b) for a, b in zip(wav, other, strict=True))


def test_six_channels_are_read(tmp_path: Path) -> None:
    sound = np.zeros((RATE, 6), dtype=np.float32)
    sound[:, 4] = tone(440, 1)
    out, recording = _read(write(tmp_path / "a.wav", sound))
    assert recording.channels == 6
    assert np.allclose(out, sound[:, 4], atol=1e-4)


def test_an_inverted_side_is_heard(tmp_path: Path) -> None:
    one = tone(440, 1)
    out, _ = _read(write(tmp_path / "a.wav", np.stack((one, -one), axis=1)))
    assert np.allclose(out, one, atol=1e-4)


def test_values_beyond_full_scale_are_limited_and_no_numbers_are_silence(tmp_path: Path) -> None:
    sound = np.full(RATE, 0.25, dtype=np.float32)
    sound[:4] = (np.nan, np.inf, -np.inf, 3.0)
    sound[5] = -7.0
    out, _ = _read(write(tmp_path / "a.wav", sound, subtype="FLOAT"))
    assert out[:7].tolist() == [0, 0, 0, 1, 0.25, -1, 0.25]


def test_no_number_does_not_spoil_what_follows_at_other_rates(tmp_path: Path) -> None:
    sound = tone(440, 1, 48_000)
    sound[100] = np.nan
    out, _ = _read(write(tmp_path / "a.wav", sound, 48_000, "FLOAT"))
    assert rms_db(out) == pytest.approx(-9.03, abs=0.05)


def test_silence_is_sound(tmp_path: Path) -> None:
    out, recording = _read(write(tmp_path / "a.wav", np.zeros(RATE, dtype=np.float32)))
    assert recording.duration_s == 1.0
    assert not out.any()


def test_one_sample_is_sound(tmp_path: Path) -> None:
    assert _read(write(tmp_path / "a.wav", tone(440, 1)[:1]))[1].duration_s == 1 / RATE


def test_a_file_that_changes_rate_and_channels_is_read_to_its_end(tmp_path: Path) -> None:
    stereo = np.stack([tone(1000, 3, 48_000)] * 2, axis=1)
    parts = [
        encode(tmp_path / "1.aac", tone(1000, 2, 16_000), 16_000, "aac"),
        encode(tmp_path / "2.aac", stereo, 48_000, "aac"),
    ]
    both = tmp_path / "both.aac"
    both.write_bytes(b"".join(part.read_bytes() for part in parts))
    out, _ = _read(both)
    assert len(out) / RATE == pytest.approx(5, abs=0.25)
    for part in (out[RATE // 2 : RATE], out[4 * RATE : 9 * RATE // 2]):
        assert loudest_hz(part) == pytest.approx(1000, abs=2)


def test_the_name_of_a_file_means_nothing(tmp_path: Path) -> None:
    path = write(tmp_path / "a.flac", tone(1000, 1))
    path = path.rename(tmp_path / "a.mp3")
    assert _read(path)[1].format == "flac flac"


# --- what is known of a recording --------------------------------------------------------


def test_probe_says_what_the_header_says(tmp_path: Path) -> None:
    path = write(tmp_path / "a.flac", tone(1000, 1, 44_100), 44_100)
    assert probe(str(path)) == SoundFileInfo(
        path=path,
        sha256=hashlib.sha256(path.read_bytes()).hexdigest(),
        duration_s=None,
        started_at=None,
        channels=1,
        rate=44_100,
        format="flac flac",
    )
    assert _read(path)[1] == probe(path).model_copy(update={"duration_s": 1.0})


@pytest.mark.parametrize(
    ("name", "codec", "expected"),
    [
        ("a.m4a", "aac", TAGGED),
        ("a.webm", "libopus", TAGGED),
        ("a.mp3", "libmp3lame", TAGGED),
        ("a.flac", "flac", TAGGED),
        ("a.opus", "libopus", TAGGED),
        ("a.wav", "pcm_s16le", TAGGED.replace(tzinfo=None)),
    ],
)
def test_the_start_is_taken_from_the_tags(
    tmp_path: Path, name: str, codec: str, expected: datetime
) -> None:
    path = encode(tmp_path / name, tone(440, 1, 48_000), 48_000, codec, tags=TAGS)
    when = probe(path).started_at
    assert when == expected
    assert when is not None
    assert when.utcoffset() == expected.utcoffset()


def test_the_start_of_a_broadcast_wave_is_the_recorders_own_clock(tmp_path: Path) -> None:
    tags = {"origination_date": "2026-05-02", "origination_time": "07:08:09"}
    path = encode(
        tmp_path / "a.wav", tone(440, 1), RATE, "pcm_s16le", tags, options={"write_bext": "1"}
    )
    assert b"bext" in path.read_bytes()[:100]
    assert probe(path).started_at == datetime(2026, 5, 2, 7, 8, 9)


def test_id3_without_a_zone_is_utc(tmp_path: Path) -> None:
    tags = {"date": TAGS["date"]}
    path = encode(tmp_path / "a.mp3", tone(440, 1, 48_000), 48_000, "libmp3lame", tags)
    assert probe(path).started_at == TAGGED


def test_the_files_own_time_is_not_taken_for_the_start(tmp_path: Path) -> None:
    assert probe(write(tmp_path / "a.wav", tone(440, 1))).started_at is None


# --- cut and damaged ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "codec", "options"),
    [
        ("a.wav", "pcm_s16le", {}),
        ("a.flac", "flac", {}),
        ("a.mp3", "libmp3lame", {}),
        ("a.m4a", "aac", FASTSTART),
        ("a.opus", "libopus", {}),
        ("a.webm", "libopus", {}),
        ("a.aac", "aac", {}),
    ],
)
def test_a_cut_file_is_read_as_far_as_it_goes_and_says_so(
    tmp_path: Path, name: str, codec: str, options: dict[str, str]
) -> None:
    sound = noise(6, 0.1, rate=48_000)
    path = encode(tmp_path / name, sound, 48_000, codec, options=options)
    data = path.read_bytes()
    path.write_bytes(data[: len(data) * 6 // 10])
    out, recording = _read(path)
    assert 0.45 < len(out) / RATE / 6 < 0.65
    assert recording.truncated
    assert recording.note == (
        f"{path} holds less sound than it announces, only {len(out) / RATE:.1f} s could be "
        "read; copy it from the recorder again."
    )


def test_a_cut_wave_is_known_before_it_is_read(tmp_path: Path) -> None:
    path = write(tmp_path / "a.wav", tone(440, 1))
    path.write_bytes(path.read_bytes()[:-2])
    assert probe(path).note == (
        f"{path} holds less sound than it announces, only part of it could be read; "
        "copy it from the recorder again."
    )


def test_a_wave_whose_header_was_never_filled_in_is_read_to_its_end(tmp_path: Path) -> None:
    path = write(tmp_path / "a.wav", tone(440, 2))
    data = bytearray(path.read_bytes())
    place = data.index(b"data") + 4
    data[4:8] = data[place : place + 4] = bytes(4)
    path.write_bytes(data)
    _, recording = _read(path)
    assert recording.duration_s == 2.0
    assert not recording.truncated


def test_tags_after_the_sound_are_no_damage(tmp_path: Path) -> None:
    path = encode(tmp_path / "a.mp3", tone(440, 2, 48_000), 48_000, "libmp3lame")
    path.write_bytes(path.read_bytes() + b"TAG" + b"Invented title".ljust(125, b"\0"))
    assert _read(path)[1].note is None


def test_a_damaged_piece_is_left_out_and_counted(tmp_path: Path) -> None:
    path = encode(tmp_path / "a.aac", noise(4, 0.1, rate=48_000), 48_000, "aac")
    data = bytearray(path.read_bytes())
    middle = len(data) // 2
    data[middle : middle + 900] = bytes(900)
    path.write_bytes(data)
    out, recording = _read(path)
    assert recording.skipped > 0
    assert not recording.truncated
    assert 3.5 < len(out) / RATE < 4
    assert recording.note == (
        f"{path} is damaged: {recording.skipped} of its pieces could not be decoded and are left "
        "out, so times after them are early; copy it again."
    )


def test_a_hole_in_a_lossless_file_is_noticed_by_its_length(tmp_path: Path) -> None:
    path = write(tmp_path / "a.flac", noise(4, 0.1))
    data = bytearray(path.read_bytes())
    middle = len(data) // 2
    data[middle : middle + 900] = bytes(900)
    path.write_bytes(data)
    assert _read(path)[1].truncated


# --- no recordings ---------------------------------------------------------------------


def _missing(folder: Path) -> Path:
    return folder / "no" / "a.wav"


def _below_a_file(folder: Path) -> Path:
    return write(folder / "a.wav", tone(440, 1)) / "b.wav"


def _empty(folder: Path) -> Path:
    (folder / "a.wav").touch()
    return folder / "a.wav"


def _text(folder: Path) -> Path:
    (folder / "a.wav").write_text("level three, came\n" * 500)
    return folder / "a.wav"


def _random(folder: Path) -> Path:
    (folder / "a.mp3").write_bytes(np.random.default_rng(0).bytes(100_000))
    return folder / "a.mp3"


def _playlist(folder: Path) -> Path:
    write(folder / "other.wav", tone(440, 1))
    (folder / "a.wav").write_text("ffconcat version 1.0\nfile other.wav\n")
    return folder / "a.wav"


def _web_playlist(folder: Path) -> Path:
    encode(folder / "other.aac", tone(440, 1), RATE, "aac")
    (folder / "a.m4a").write_text("#EXTM3U\n#EXTINF:1,\nother.aac\n#EXT-X-ENDLIST\n")
    return folder / "a.m4a"


def _pipe(folder: Path) -> Path:
    os.mkfifo(folder / "a.wav")
    return folder / "a.wav"


def _no_index(folder: Path) -> Path:
    path = encode(folder / "a.m4a", noise(4, 0.1), RATE, "aac")
    path.write_bytes(path.read_bytes()[: path.stat().st_size * 6 // 10])
    return path


def _film(folder: Path) -> Path:
    path = folder / "a.mp4"
    with av.open(str(path), "w") as container:
        stream = container.add_stream("mpeg4", rate=10)
        stream.width = stream.height = 32
        frame = av.VideoFrame.from_ndarray(np.zeros((32, 32, 3), dtype=np.uint8))
        container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return path


def _no_length(folder: Path) -> Path:
    return write(folder / "a.wav", np.zeros(0, dtype=np.float32))


NOT_A_RECORDING = (
    "{path} is not a recording that can be read; give WAV, FLAC, MP3, M4A, AAC, Ogg Vorbis or Opus."
)


@pytest.mark.parametrize(
    ("make", "error", "sentence"),
    [
        (
            _missing,
            errors.MissingFileError,
            "There is no file {path}; check the name and the folder.",
        ),
        (
            _below_a_file,
            errors.MissingFileError,
            "There is no file {path}; check the name and the folder.",
        ),
        (
            lambda folder: folder,
            errors.IsFolderError,
            "{path} is a folder, not a recording; name the recordings in it.",
        ),
        (
            _empty,
            errors.EmptyFileError,
            "{path} is empty (0 bytes), not a recording; copy it from the recorder again.",
        ),
        (_text, errors.NotRecordingError, NOT_A_RECORDING),
        (_random, errors.NotRecordingError, NOT_A_RECORDING),
        (_playlist, errors.NotRecordingError, NOT_A_RECORDING),
        (_web_playlist, errors.NotRecordingError, NOT_A_RECORDING),
        (_pipe, errors.NotRecordingError, NOT_A_RECORDING),
        (
            _no_index,
            errors.UnfinishedFileError,
            "{path} ends before its index, so nothing in it can be read; "
            "copy it again, or open and save it on the phone that made it.",
        ),
        (
            _film,
            errors.NoSoundTrackError,
            "{path} has pictures but no sound track; give a recording with sound.",
        ),
        (
            _no_length,
            errors.NoSamplesError,
            "{path} is a recording of no length (0 s); check that the recorder had started.",
        ),
    ],
)
def test_what_is_no_recording_is_refused_in_one_sentence(
    tmp_path: Path, make: Callable[[Path], Path], error: type[errors.SoundFileError], sentence: str
) -> None:
    path = make(tmp_path)
    with pytest.raises(error) as caught:
        list(blocks(path))
    assert type(caught.value) is error
    assert str(caught.value) == sentence.format(path=path)
    assert caught.value.path == path


def test_a_file_that_may_not_be_read_is_refused_in_one_sentence(tmp_path: Path) -> None:
    path = write(tmp_path / "a.wav", tone(440, 1))
    path.chmod(0)
    root = os.geteuid() == 0
    if root:
        os.seteuid(65_534)  # nobody: root may read everything
    try:
        with pytest.raises(errors.NotAllowedError) as caught:
            probe(path)
    finally:
        if root:
            os.seteuid(0)
    assert str(caught.value) == (
        f"{path} may not be read; change its permissions, or copy it to your own folder."
    )


def test_a_card_that_fails_is_told_in_one_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    class FailingCard(io.FileIO):
        """Reads well until it is told to fail."""

        healthy = True

        def read(self, size: int | None = -1, /) -> bytes:
            if not self.healthy:
                raise OSError(5, "Input/output error")
            return super().read(size)

    path = write(tmp_path / "a.wav", noise(60, 0.1))
    monkeypatch.setattr("voicelog.audio.files.io.FileIO", FailingCard)
    with AudioReader(path) as reader:
        assert next(iter(reader)).any()
        monkeypatch.setattr(FailingCard, "healthy", False)
        with pytest.raises(errors.ReadFailedError) as caught:
            list(reader)
    assert str(caught.value) == (
        f"{path} could not be read to its end; copy it to this computer and try again."
    )


def test_a_chain_that_cannot_be_followed_is_told(tmp_path: Path) -> None:
    stereo = np.stack([tone(1000, 3, 48_000)] * 2, axis=1)
    parts = [
        write(tmp_path / "1.ogg", tone(1000, 2, 44_100), 44_100, "VORBIS"),
        write(tmp_path / "2.ogg", stereo, 48_000, "VORBIS"),
    ]
    both = tmp_path / "both.ogg"
    both.write_bytes(b"".join(part.read_bytes() for part in parts))
    out, recording = _read(both)
    assert len(out) / RATE == pytest.approx(2, abs=0.1)
    assert recording.truncated


@pytest.mark.parametrize("name", [name for name in errors.__all__ if name != "SoundFileError"])
def test_every_error_survives_the_way_between_processes(name: str) -> None:
    error = getattr(errors, name)(Path("a {strange} name.wav"))
    again = pickle.loads(pickle.dumps(error))
    assert (type(again), str(again), again.path) == (type(error), str(error), error.path)
    assert "a {strange} name.wav" in str(error)


# --- memory -------------------------------------------------------------------------------

_MEASURE = r"""
import re, sys
from voicelog.audio.files import blocks
from voicelog.audio.level_meter import LevelMeter
for path in sys.argv[1:]:
    meter = LevelMeter()
    for block in blocks(path):
        meter.add(block)
    print(re.search(r"VmHWM:\s+(\d+)", open("/proc/self/status").read())[1])
"""


@pytest.mark.skipif(sys.platform != "linux", reason="reads the peak memory from Linux's /proc")
def test_memory_does_not_grow_with_length(tmp_path: Path) -> None:
    second = np.stack([noise(1, 0.1, 1, 48_000), noise(1, 0.1, 2, 48_000)], axis=1)
    paths = [
        str(write(tmp_path / f"{seconds}.wav", np.tile(second, (seconds, 1)), 48_000))
        for seconds in (10, 120)
    ]
    shown = subprocess.run(
        [sys.executable, "-c", _MEASURE, *paths],
        env={**os.environ, "PYTHONPATH": str(Path(voicelog.__file__).parents[1])},
        check=True,
        capture_output=True,
        text=True,
    )
    short, long = map(int, shown.stdout.split())
    assert long - short < 3 * 1024  # KiB; the whole sound as float32 would be 7.7 MB
