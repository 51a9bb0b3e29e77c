"""What is written as FLAC sounds as before, except where it was to be silent."""

from __future__ import annotations

from pathlib import Path

import av
import numpy as np
import pytest
import soundfile as sf

from tests.audio.making import encode, noise, tone, write
from voicelog.audio.errors import NotRecordingError
from voicelog.audio.flac import overlay, write_flac


@pytest.mark.parametrize(("subtype", "dtype"), [("PCM_16", "int16"), ("PCM_24", "int32")])
@pytest.mark.parametrize("channels", [1, 2, 6])
def test_integer_samples_come_out_as_they_went_in(
    tmp_path: Path, subtype: str, dtype: str, channels: int
) -> None:
    sound = np.stack([noise(1.3, 0.1, seed=i) for i in range(channels)], axis=1)
    source = write(tmp_path / "a.wav", sound, 44_100, subtype)
    write_flac(source, tmp_path / "a.flac")
    before, _ = sf.read(source, dtype=dtype)
    after, rate = sf.read(tmp_path / "a.flac", dtype=dtype)
    assert rate == 44_100
    assert np.array_equal(before, after)


@pytest.mark.parametrize(
    ("name", "codec"), [("a.mp3", "libmp3lame"), ("a.m4a", "aac"), ("a.opus", "libopus")]
)
def test_coded_sound_comes_out_at_sixteen_bits_and_as_long(
    tmp_path: Path, name: str, codec: str
) -> None:
    source = encode(tmp_path / name, tone(440, 2.0, 48_000), 48_000, codec)
    write_flac(source, tmp_path / "b.flac")
    info = sf.info(tmp_path / "b.flac")
    assert (info.samplerate, info.subtype) == (48_000, "PCM_16")
    assert info.duration == pytest.approx(2.0, abs=0.1)


def test_a_silent_stretch_is_zero_and_the_rest_is_untouched(tmp_path: Path) -> None:
    source = write(tmp_path / "a.wav", noise(3.0, 0.1))
    write_flac(source, tmp_path / "a.flac", [(0.5, 1.0), (2.5, 99.0)])
    before, _ = sf.read(source, dtype="int16")
    after, _ = sf.read(tmp_path / "a.flac", dtype="int16")
    assert len(after) == len(before)
    assert not after[8_000:16_000].any()
    assert not after[40_000:].any()
    for kept in (slice(0, 8_000), slice(16_000, 40_000)):
        assert np.array_equal(after[kept], before[kept])


def test_two_parts_of_a_recording_come_to_the_whole(tmp_path: Path) -> None:
    source = write(tmp_path / "a.wav", noise(3.0, 0.1))
    for name, silent in (("1", [(1.2, 9.0)]), ("2", [(0.0, 1.2)]), ("whole", [])):
        write_flac(source, tmp_path / f"{name}.flac", silent)
    overlay(tmp_path / "1.flac", tmp_path / "2.flac", tmp_path / "both.flac")
    overlay(tmp_path / "both.flac", tmp_path / "2.flac", tmp_path / "again.flac")
    whole = (tmp_path / "whole.flac").read_bytes()
    assert (tmp_path / "both.flac").read_bytes() == whole
    assert (tmp_path / "again.flac").read_bytes() == whole


def test_a_part_of_another_shape_is_left_out(tmp_path: Path) -> None:
    write(tmp_path / "1.wav", noise(1.0, 0.1), 16_000)
    write(tmp_path / "2.wav", noise(1.0, 0.1), 44_100)
    overlay(tmp_path / "1.wav", tmp_path / "2.wav", tmp_path / "both.flac")
    after, rate = sf.read(tmp_path / "both.flac", dtype="int16")
    before, _ = sf.read(tmp_path / "1.wav", dtype="int16")
    assert rate == 16_000
    assert np.array_equal(before, after)


def test_where_a_phone_was_is_not_carried_over(tmp_path: Path) -> None:
    tags = {"title": "secret-place", "comment": "+51.5-0.1/"}
    source = encode(tmp_path / "a.m4a", tone(440, 1.0), 16_000, "aac", tags)
    assert b"secret-place" in source.read_bytes()
    write_flac(source, tmp_path / "a.flac")
    with av.open(str(tmp_path / "a.flac")) as container:
        assert not {"title", "comment"} & {key.lower() for key in container.metadata}
    assert b"secret-place" not in (tmp_path / "a.flac").read_bytes()


def test_what_is_no_recording_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    path.write_text("not sound" * 100)
    with pytest.raises(NotRecordingError):
        write_flac(path, tmp_path / "a.flac")
