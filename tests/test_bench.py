"""The benchmark's own counting, since every figure that is reported rests on it."""

from __future__ import annotations

import struct
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.bench import human
from tests.bench.conditions import Condition, mix
from tests.bench.field_noise import FIELD
from tests.bench.judging import forced_right, judge_utterances
from tests.bench.links import LINKS
from tests.bench.parts import Parts
from tests.bench.propack import MAGIC, unpacked
from tests.bench.quarter_core import make_group
from tests.bench.voices import RATE, Sound
from voicelog.grammar.grammar import Grammar
from voicelog.model import Status, Utterance, Verdict

Entry = tuple[float, float, Status, str, tuple[str, ...]]


@pytest.fixture(scope="module")
def grammar() -> Grammar:
    return Grammar.load()


def said(*lines: tuple[float, float, str]) -> dict[str, Any]:
    return {
        "utterances": [
            {"start_s": start, "end_s": end, "words": words.removeprefix("talk: "),
             "kind": "talk" if words.startswith("talk: ") else "command"}
            for start, end, words in lines
        ]
    }  # fmt: skip


def counted(grammar: Grammar, truth: dict[str, Any], *entries: Entry) -> tuple[Any, Any]:
    events = [
        (
            Utterance(id=f"{start}", recording="r", start_s=start, end_s=end),
            (),
            Verdict(
                id=f"{start}.v",
                utterance=f"{start}",
                status=status,
                words=words,
                confidence=0.9,
                alternatives=others,
                judge="test",
            ),
        )
        for start, end, status, words, others in entries
    ]
    said_counts, entry_counts, _ = judge_utterances(grammar, truth, events, "here")
    return dict(said_counts), dict(entry_counts)


def test_a_reading_that_says_all_is_right_and_one_that_says_less_is_wrong(
    grammar: Grammar,
) -> None:
    truth = said((1, 3, "level seven came"))
    whole = counted(grammar, truth, (1, 3, "accepted", "level seven came", ()))
    assert whole == ({"right": 1}, {"right": 1})
    assert counted(grammar, truth, (1, 3, "accepted", "came", ())) == ({"wrong": 1}, {"wrong": 1})
    other = counted(grammar, truth, (1, 3, "accepted", "level eleven came", ()))
    assert other == ({"wrong": 1}, {"wrong": 1})


def test_two_entries_that_share_an_utterance_may_each_say_a_part(grammar: Grammar) -> None:
    truth = said((1, 3, "level seven came"))
    first: Entry = (1, 2.2, "accepted", "level seven", ())
    assert counted(grammar, truth, first, (2.3, 3, "accepted", "came", ())) == (
        {"right": 1},
        {"right": 2},
    )
    # With its end left out, what was said is not all there, yet no entry is wrong.
    assert counted(grammar, truth, first) == ({"missed": 1}, {"right": 1})


def test_an_entry_may_say_two_utterances_at_once(grammar: Grammar) -> None:
    truth = said((1, 2, "level seven"), (2.6, 3.2, "came"))
    found = counted(grammar, truth, (1, 3.2, "accepted", "level seven came", ()))
    assert found == ({"right": 2}, {"right": 1})


def test_a_doubtful_entry_offers_what_any_of_its_readings_says(grammar: Grammar) -> None:
    truth = said((1, 3, "level fifteen came"))
    offered: Entry = (1, 3, "doubtful", "level fifty came", ("level fifteen came",))
    assert counted(grammar, truth, offered)[0] == {"offered": 1}
    assert counted(grammar, truth, (1, 3, "doubtful", "level fifty came", ()))[0] == {"doubtful": 1}


def test_an_entry_where_no_command_was_said_is_false(grammar: Grammar) -> None:
    truth = said((1, 3, "talk: come on then"))
    assert counted(grammar, truth, (1, 3, "accepted", "came", ())) == ({}, {"false": 1})
    assert counted(grammar, truth, (7, 8, "doubtful", "came", ())) == ({}, {"doubtful talk": 1})


def test_noise_is_mixed_at_the_ratio_asked_for_over_the_speech() -> None:
    rng = np.random.default_rng(1)
    speech = np.zeros(32_000, dtype=np.float32)
    speech[8_000:16_000] = 0.05 * rng.standard_normal(8_000)
    hiss = rng.standard_normal(32_000).astype(np.float32)
    mixed, gain = mix(speech, hiss, 10, [(0.5, 1.0)])
    added = mixed / gain - speech
    ratio_db = 20 * np.log10(speech[8_000:16_000].std() / added.std())
    assert ratio_db == pytest.approx(10, abs=0.2)


@pytest.mark.parametrize(
    ("text", "kind", "snr_db", "link"),
    [
        ("clean", None, 0, None),
        ("pink10", "pink", 10, None),
        ("real15-band8", "real", 15, "band8"),
        ("gsm", None, 0, "gsm"),
    ],
)
def test_a_condition_says_what_it_means(
    text: str, kind: str | None, snr_db: float, link: str | None
) -> None:
    assert Condition.parse(text) == Condition(kind, snr_db, link)


def test_a_forced_choice_takes_the_first_reading_of_every_entry(grammar: Grammar) -> None:
    truth = said((1, 3, "level seven came"), (4, 6, "tap two"), (8, 9, "level three came"))
    events = [
        (
            Utterance(id=f"{start}", recording="r", start_s=start, end_s=start + 2),
            (),
            Verdict(
                id=f"{start}.v",
                utterance=f"{start}",
                status=status,
                words=words,
                confidence=0.5,
                judge="test",
            ),
        )
        for start, status, words in (
            (1, "doubtful", "level seven came"),
            (4, "rejected", "tap two"),
            (7, "accepted", "level nine came"),
        )
    ]
    assert forced_right(grammar, truth, events) == 2


@pytest.mark.parametrize("link", LINKS)
def test_a_link_leaves_sound_where_it_was(link: str) -> None:
    rng = np.random.default_rng(2)
    loud = np.zeros(16_000, np.float32)
    loud[6_400:9_600] = 0.2 * np.sin(np.arange(3_200) * (2 * np.pi * 700 / 16_000))
    heard = LINKS[link](loud + 1e-4 * rng.standard_normal(16_000).astype(np.float32))
    assert heard.shape == loud.shape
    power = np.square(heard).reshape(-1, 800).mean(axis=1)
    assert power[8:12].min() > 20 * max(power[:7].max(), power[13:].max())


def test_what_a_game_packed_is_unpacked() -> None:
    # Packed by hand, each number with its bits, the lowest first: codes for the runs 0 and 2 to 3,
    # for 3 back, for 3 to copy; two steps; a run of 3, copy, a run of none.
    told = ((0, 2), (3, 5), (1, 4), (0, 4), (1, 4), (3, 5), (0, 4), (0, 4), (1, 4), (2, 5), (0, 4),
            (1, 4), (2, 16), (1, 1), (1, 1), (0, 1), (0, 1), (0, 1), (0, 1))  # fmt: skip
    stream = at = 0
    for number, bits in told:
        stream |= number << at
        at += bits
    packed = MAGIC + struct.pack(">I", 6) + bytes(10) + stream.to_bytes(10, "little") + b"abc"
    assert unpacked(packed) == b"abcabc"
    with pytest.raises(ValueError, match="at the start"):
        unpacked(b"RIFF")


def test_a_condition_that_is_none_is_refused_with_those_there_are() -> None:
    with pytest.raises(ValueError, match="clean, band8"):
        Condition.parse("rain")


def test_parts_of_a_measurement_are_kept_and_what_is_missing_is_known(tmp_path: Path) -> None:
    path = tmp_path / "parts.json"
    Parts("calm both", path).keep(3, {"warned": {}})
    Parts("calm both", path).keep(10, {"warned": {"heat": 1}})
    Parts("calm quick", path).keep(1, {"warned": {}})
    Parts("calm both", path).keep(3, {"warned": {"skin": 2}})
    again = Parts("calm both", path)
    assert {number: one["warned"] for number, one in again.results.items()} == {
        3: {"skin": 2},
        10: {"heat": 1},
    }
    assert again.missing([1, 3, 10]) == [1]


@pytest.mark.parametrize(
    ("place", "limits"),
    [
        (".", {"cpu.max": "25000 100000"}),
        ("cpu", {"cpu.cfs_quota_us": "25000", "cpu.cfs_period_us": "100000"}),
        (None, {}),
    ],
)
def test_a_quarter_of_a_core_is_a_control_group_of_either_version(
    tmp_path: Path, place: str | None, limits: dict[str, str]
) -> None:
    if place == ".":
        (tmp_path / "cgroup.controllers").write_text("cpu")
    elif place is not None:
        (tmp_path / place).mkdir()
    group = make_group(tmp_path)
    if place is None:
        assert group is None
        return
    assert group is not None
    assert group.parent == tmp_path / place
    assert {path.name: path.read_text() for path in group.iterdir()} == limits


def test_a_line_of_the_game_finds_the_script_of_its_scene(monkeypatch: pytest.MonkeyPatch) -> None:
    """The files are invented; the byte before a text of 45 letters looks like a dash."""
    long = b"I saw the green door*02It was open all day*03"
    assert len(long) == ord("-")
    talk = bytes(24) + (7).to_bytes(2, "big") + bytes(4)
    files = {
        "MAN1.DOG": talk + b"-" + long + b"\0\0\x05Hm...",
        "MAN2.DOG": bytes(30) + b"\x09Elsewhere",
        "C15B.CUT": bytes(30) + b"*FRGo away",
        "QUEEN2.JAS": bytes(30) + b"A lamp*24\r\nA rope",
    }
    monkeypatch.setattr(human, "_script_files", lambda: files)
    assert human.script("070006J1.SB") == ("I saw the green door", "It was open all day", "Hm...")
    assert human.script("C15B_022.SB") == ("Go away",)
    assert human.script("JOE00231.SB") == ("A lamp", "A rope")


SPANS = [(1.0, 2.0), (3.5, 4.0)]


def in_field(kind: str, snr_db: float = 5.0) -> tuple[Sound, Sound]:
    """A voice (a hum of 1 kHz in SPANS), and what the microphone gets of it."""
    voice = np.zeros(6 * RATE, np.float32)
    for start_s, end_s in SPANS:
        time = np.arange(round((end_s - start_s) * RATE)) / RATE
        voice[round(start_s * RATE) : round(end_s * RATE)] = 0.1 * np.sin(2e3 * np.pi * time)
    heard, what = Condition.parse(f"{kind}{snr_db:g}").apply(voice, SPANS, "test", 3)
    assert what == kind
    assert len(heard) == len(voice)
    assert heard.dtype == np.float32
    return voice, heard


@pytest.mark.parametrize("kind", [kind for kind in FIELD if kind not in ("gusts", "jacket")])
def test_noise_of_the_field_stands_at_its_ratio_to_the_voice(kind: str) -> None:
    voice, heard = in_field(kind)
    noise = heard - voice
    sounding = np.abs(noise) > 0.01 * np.abs(noise).max()
    within = np.concatenate([voice[round(a * RATE) : round(b * RATE)] for a, b in SPANS])
    above = 10 * np.log10(np.mean(within**2) / np.mean(noise[sounding] ** 2))
    assert above == pytest.approx(5.0, abs=0.1)


@pytest.mark.parametrize("kind", ["overbark", "overpips"])
def test_barks_and_pips_lie_over_notes_or_shortly_before(kind: str) -> None:
    voice, heard = in_field(kind)
    loud = np.flatnonzero(np.abs(heard - voice) > 0.01) / RATE
    assert len(loud)
    assert all(any(a - 0.5 <= at <= b + 1.2 for a, b in SPANS) for at in loud)
    before = voice[: round(0.4 * RATE)]
    assert not np.any(heard[: len(before)] - before)


def test_gusts_pass_full_scale_now_and_then_and_rumble_below_the_voice() -> None:
    _, heard = in_field("gusts", -10.0)
    assert np.mean(np.abs(heard) >= 1.0) == pytest.approx(0.003, abs=0.0005)
    power = np.abs(np.fft.rfft(heard)) ** 2
    frequency = np.fft.rfftfreq(len(heard), 1 / RATE)
    assert power[frequency < 300].sum() > 0.8 * power.sum()


def test_a_jacket_takes_the_bright_of_a_voice_and_leaves_the_dull() -> None:
    muffled = FIELD["jacket"].voice
    time = np.arange(RATE) / RATE

    def left_db(hertz: float) -> float:
        tone = np.sin(2 * np.pi * hertz * time).astype(np.float32)
        return float(10 * np.log10(np.mean(muffled(tone) ** 2) / np.mean(tone**2)))

    assert left_db(700) > 0
    assert left_db(300) > -3
    assert left_db(1_500) > left_db(3_000) > left_db(6_000)
    assert left_db(4_000) < -10
