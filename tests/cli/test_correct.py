"""The log is corrected from the terminal, with the history and the undo of the page."""

from __future__ import annotations

import getpass
import io
import sqlite3
import sys
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import numpy as np
import pytest
import typer

from tests.audio.stand_in import StandIn
from tests.cli.run import Voicelog, made_once, typed_file
from tests.web.evening import NOW, ROSTER, keep, tone
from voicelog.audio import microphone
from voicelog.cli import note_player
from voicelog.store import Log

LINES = ("start session bracken", "here level three came", "level fiv came", "hup", "here yelpd")


@pytest.fixture
@made_once
def key(voicelog: Voicelog, tmp_path: Path) -> str:
    """A log with one session; its id."""
    voicelog("dogs", "put", "Bracken", "--top", "20")
    voicelog("dogs", "put", "Wren")
    path = typed_file(tmp_path, *LINES)
    assert voicelog("add", "--typed", path, "--at", "2026-04-18T07:30").code == 0
    return voicelog("correct", "Bracken").out.splitlines()[0].rpartition(" ")[2]


@pytest.fixture
def answers(monkeypatch: pytest.MonkeyPatch) -> Callable[..., None]:
    """Sit somebody at the terminal who gives these answers."""

    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    def give(*said: str) -> None:
        left = iter(said)
        monkeypatch.setattr(sys, "stdin", Terminal())
        monkeypatch.setattr(typer, "prompt", lambda *_, **__: next(left))

    return give


def test_what_is_to_check_is_listed_first_and_alone(voicelog: Voicelog, key: str) -> None:
    assert voicelog("correct").out == (
        f"Bracken, 18 Apr 2026, session {key}\n"
        "To check, what may matter most for the dog first; the numbers go by time.\n"
        "   5   0:16  check  'here yelpd' (rep 3) (no note as typed; may be a strong sign of "
        "stress)\n"
        "            1: 'here yelped'\n"
        "   3   0:08  check  'level fiv came' (rep 2) (no note as typed; a caution depends on it)\n"
        "            1: 'level five came'\n"
        "   4   0:12  not understood  'hup' (in no count)\n"
        "Correct one with --entry 5 and --confirm, --take 1, --words 'l9 c', --void or --to DOG; "
        "--play plays it. 2 more entries: --all.\n"
    )
    every = voicelog("correct", "--session", key, "--all").out.splitlines()
    assert [line.split()[0] for line in every if line[3].isdigit()] == list("53412")
    assert "   2   0:04  sure  'here level three came' (rep 1)" in every
    assert voicelog("correct", "--entry", "4").out.splitlines()[1].endswith("'hup' (in no count)")


def test_words_void_and_dog_are_corrected_and_undone(voicelog: Voicelog, key: str) -> None:
    def done(*args: str) -> str:
        result = voicelog("correct", "Bracken", "--as", "Anna", *args)
        assert result.code == 0, result.err
        return result.out

    assert "level" not in done("--entry", "4", "--void")
    lines = done("--entry", "3", "--words", "l9 c").splitlines()
    assert lines[0].startswith("New, ")
    assert any(line.startswith("Rep 2") for line in lines)
    assert done("--entry", "5", "--take", "1")
    told = done("--entry", "3", "--history")
    assert "Anna" in told
    assert "read it as 'level nine came'" in told
    assert done("--entry", "2", "--void")
    assert done("--entry", "2", "--restore")
    assert "No entry to check; 1 rep to check, with a question below. Every entry of" in done()
    assert "--take 1" not in done()  # there is none on offer
    assert done("--all").splitlines()[1] == "In order of time."
    done("--undo")
    done("--redo")
    done("--start", "2026-04-19 8:15")
    assert "19 Apr 2026" in done()
    done("--to", "wren")
    assert voicelog("correct").out.startswith("Wren, 19 Apr 2026, session ")
    assert voicelog("correct", "Wren", "--undo").code == 0
    assert voicelog("correct").out.startswith("Bracken, ")


@pytest.mark.parametrize(
    ("args", "code", "said"),
    [
        (("--void",), 2, "--void needs the number of an entry, as in --entry 4;"),
        (("--entry", "9", "--void"), 2, "There is no entry 9, they go from 1 to 5"),
        (
            ("--entry", "3", "--take", "7"),
            2,
            "There is no reading 7 on offer for this",
        ),
        (("--entry", "3", "--void", "--confirm"), 2, "--confirm and --void are not done at once"),
        (("--entry", "3", "--words", "levle 3 cmae"), 1, "did you mean 'level three came'?"),
        (("--entry", "3", "--words", "ss wrne"), 1, "'wrne' stands where a name belongs"),
        (("--entry", "3", "--words", "l3 c, at the gate"), 1, "I cannot read 'at the gate' in 'l3"),
        (("--entry", "3", "--words", "l3 b"), 1, "did you mean 'level three broke'?"),
        (("--entry", "3", "--confirm"), 1, "type a note such as"),
        (("--start", "03/04/2026"), 2, "'03/04/2026' is not clear for --start"),
        (("--entry", "2", "--restore"), 1, "This entry is not void"),
        (("--redo",), 1, "Nothing is left to redo in this recording."),
        (("--entry", "2", "--to", "Wren"), 1, "There is no session of 'Wren' in this recording"),
        (("--session", "none"), 1, "There is no such session in the log"),
    ],
)
def test_what_cannot_be_done_is_said_and_nothing_is_changed(
    voicelog: Voicelog, key: str, args: tuple[str, ...], code: int, said: str
) -> None:
    before = voicelog("correct", "--all").out
    result = voicelog("correct", *args)
    assert result.code == code
    assert said in result.err
    assert voicelog("correct", "--all").out == before


def test_the_id_printed_before_a_correction_of_the_first_note_still_works(
    voicelog: Voicelog, tmp_path: Path
) -> None:
    path = typed_file(tmp_path, "yelled at, here", "here level three came", "here no button came")
    voicelog("dogs", "put", "Bracken", "--cue", "here")
    voicelog("add", "--typed", path, "--dog", "Bracken", "--at", "2026-04-18T09:30")

    def shown(*args: str) -> str:
        result = voicelog("correct", *args)
        assert result.code == 0, result.err
        return result.out

    first = shown().split("session ")[1].split()[0]
    shown("--session", first, "--entry", "1", "--words", "drill recall")
    second = shown("--all").split("session ")[1].split()[0]
    assert second != first
    assert shown("--session", first, "--all") == shown("--session", second, "--all")
    shown("--session", first, "--entry", "1", "--void")
    third = shown("--all").split("session ")[1].split()[0]
    assert third != second
    assert shown("--session", second, "--all") == shown("--session", third, "--all")
    shown("--session", second, "--undo")
    assert f"session {second}" in shown("--session", first)
    shown("--session", second, "--entry", "1", "--void")
    told = voicelog("delete", "session", "Bracken", "--day", "2026-04-18", "--id", second, "--yes")
    assert (told.code, third in told.err) == (1, True)


def test_the_id_of_a_session_that_is_gone_is_never_that_of_another(
    voicelog: Voicelog, tmp_path: Path
) -> None:
    path = typed_file(tmp_path, "start session bracken", "start session wren", "here l3 c")
    voicelog("dogs", "put", "Bracken")
    voicelog("dogs", "put", "Wren", "--cue", "here")
    voicelog("add", "--typed", path, "--at", "2026-04-18T09:30")
    gone = voicelog("correct", "Bracken").out.split("session ")[1].split()[0]
    assert voicelog("correct", "--session", gone, "--entry", "1", "--void").code == 0
    assert voicelog("correct", "--session", gone).code == 1


def test_of_several_sessions_one_has_to_be_named(
    voicelog: Voicelog, tmp_path: Path, key: str
) -> None:
    path = typed_file(tmp_path, "start session wren", "l3 c", name="other.txt")
    voicelog("add", "--typed", path, "--at", "2026-04-18T09:30")
    result = voicelog("correct")
    assert result.code == 2
    assert f"Bracken, 18 Apr 2026: {key}" in result.err
    told = voicelog("correct", "Wren")
    assert told.out.endswith(
        "Still to check or to answer: Bracken, 18 Apr 2026 (3).\n"
        f"The first of them: voicelog correct --session {key}\n"
    )
    assert "Still to" not in voicelog("correct", "--session", key).out
    assert "Still to check or to answer: Bracken, 18 Apr 2026 (3)." in voicelog("questions").out


def test_at_a_terminal_each_is_asked_about(
    voicelog: Voicelog, key: str, answers: Callable[..., None]
) -> None:
    answers("?", "levl 3", "9", "s", "1", "v")
    asked = voicelog("correct", "Bracken")
    assert asked.code == 0
    assert asked.out.count("Enter: right as it stands.") == 2
    assert "did you mean 'level three'?" in asked.out
    assert "There is no reading 9 on offer for this entry, only 1;" in asked.out
    answers("", "here y", "v", "u", "here yelped")  # what was only guessed is not confirmed unseen
    asked = voicelog("correct", "Bracken")
    assert "Counts: no longer '" in asked.out
    assert "I cannot read 'yelpd' in 'here yelpd'" in asked.out
    assert "I cannot read 'here y' as a note" in asked.out
    answers()
    assert "Nothing to check." in voicelog("correct", "Bracken").out


def test_stopping_says_what_is_kept_and_what_is_left(
    voicelog: Voicelog, key: str, answers: Callable[..., None]
) -> None:
    answers("q")
    assert voicelog("correct", "Bracken").out.endswith(
        "Nothing was changed. In this session: 3 entries left to check.\n"
    )
    answers("1", "q")
    told = voicelog("correct", "Bracken", "--as", "Anna").out
    kept = "Every answer is kept. Signed: Anna (another name: --as). In this session: "
    assert f"{kept}2 entries and 1 rep left to check.\n" in told
    answers("v", "v")
    told = voicelog("correct", "Bracken", "--as", "Anna").out
    assert f"{kept}1 rep left to check.\n" in told


def test_ctrl_d_stops_as_q_does(
    voicelog: Voicelog,
    key: str,
    answers: Callable[..., None],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    answers()

    def gone(*_: object, **__: object) -> str:
        raise typer.Abort

    monkeypatch.setattr(typer, "prompt", gone)
    told = voicelog("correct", "Bracken")
    assert (told.code, told.err) == (0, "")
    assert "Nothing was changed. In this session: 3 entries left to check." in told.out


def test_reps_that_are_a_question_are_shown_too(voicelog: Voicelog, tmp_path: Path) -> None:
    voicelog("dogs", "put", "Wren")
    path = tmp_path / "notes.txt"
    path.write_text("0:01 ss wren\n0:10 here l3\n1:00 here l2 c\n1:20 es\n", encoding="utf-8")
    voicelog("add", tmp_path / "notes.txt", "--typed", "--at", "2026-04-18T07:30")
    shown = voicelog("correct", "Wren").out
    assert "Reps to check, each with a question ('voicelog questions'):" in shown
    assert "Rep 1 at 0:10: how it ended was not said." in shown
    assert voicelog("questions", "Wren", "--rep", "1", "--answer", "lh").code == 0
    assert "question" not in voicelog("correct", "Wren").out


def test_what_was_corrected_of_one_entry_is_undone_alone(voicelog: Voicelog, key: str) -> None:
    def states() -> list[str]:
        listed = voicelog("correct", "--all").out.splitlines()
        return sorted(line for line in listed if line[:4].strip().isdecimal())

    before = states()
    voicelog("correct", "--entry", "3", "--words", "l9 c")
    once = states()
    voicelog("correct", "--entry", "3", "--words", "l4 c")
    voicelog("correct", "--entry", "4", "--void")
    told = voicelog("correct", "--entry", "3", "--undo").out
    assert told.startswith("Undone: read 0:08 as 'level four came'.\n")
    assert [one for one in states() if one[3] == "3"] == [one for one in once if one[3] == "3"]
    assert "void  'hup'" in "".join(states())
    voicelog("correct", "--entry", "3", "--undo")
    assert [one for one in states() if one[3] == "3"] == [one for one in before if one[3] == "3"]
    refused = voicelog("correct", "--entry", "3", "--undo")
    assert (refused.code, refused.err) == (
        1,
        "voicelog: Nothing of this entry was corrected, so nothing is undone.\n",
    )
    assert voicelog("correct", "--undo").out.startswith("Undone: void 0:12.\nSigned: ")
    assert states() == before


MENDED = "here ignored level 6 came"


@pytest.mark.parametrize(
    ("said", "words", "also", "merged"),
    [
        (MENDED, "came slow", "here ignored level six", "here ignored level six came slow"),
        (MENDED, "l5", "here ignored came", "here ignored level five came"),
        (MENDED, "ignored", "here level six", "here level six ignored"),
        (MENDED, "came slow, l5", "here ignored", "here ignored level five came slow"),
        ("here l3 yelped c", "here l3 c", "yelped", "here level three yelped came"),
        ("here nb ignored", "came", "here no button", "here no button came"),
    ],
)
def test_words_that_would_drop_the_rest_of_a_sure_entry_are_asked_about(
    voicelog: Voicelog, tmp_path: Path, key: str, said: str, words: str, also: str, merged: str
) -> None:
    path = typed_file(tmp_path, "start session wren", said, name="w.txt")
    voicelog("add", "--typed", path, "--at", "2026-04-19T07:30")
    typed = ("correct", "Wren", "--entry", "2", "--words", words)
    before = voicelog("correct", "Wren", "--all").out
    refused = voicelog(*typed)
    assert (refused.code, refused.err) == (
        2,
        f"voicelog: Entry 2 also says '{also}', which '{words}' would drop, so nothing was "
        f"changed; give the whole note (--words '{merged}'), or add --whole if that is all that "
        "was said.\n",
    )
    assert voicelog("correct", "Wren", "--all").out == before
    assert voicelog("correct", "Wren", "--entry", "2", "--words", merged).code == 0
    assert f"'{merged}'" in voicelog("correct", "Wren", "--entry", "2").out
    assert voicelog(*typed, "--whole").code == 0


def test_the_part_of_a_typed_line_that_is_no_note_is_listed_until_it_was_read(
    voicelog: Voicelog, tmp_path: Path, key: str
) -> None:
    path = typed_file(tmp_path, "start session wren", "here l3 c, at the gate", name="w.txt")
    voicelog("add", "--typed", path, "--at", "2026-04-19T07:30")
    listed = voicelog("correct", "Wren").out.splitlines()
    (at,) = [at for at, line in enumerate(listed) if line.startswith("   2 ")]
    assert listed[at + 1] == "            no note in it: 'at the gate'"
    refused = voicelog("correct", "Wren", "--entry", "2", "--confirm")
    assert "I cannot read 'at the gate' in 'here" in refused.err
    voicelog("correct", "Wren", "--entry", "2", "--words", "here l3 c")
    assert "no note in it" not in voicelog("correct", "Wren", "--all").out


def test_the_only_handler_signs_and_it_is_said(voicelog: Voicelog, key: str) -> None:
    void = ("correct", "--entry", "4", "--void")
    user = getpass.getuser()
    assert voicelog(*void).out.endswith(f"Signed: {user} (another name: --as).\n")
    voicelog("correct", "--undo")
    voicelog("dogs", "handler", "Anna")
    assert voicelog(*void).out.endswith("Signed: Anna (another name: --as).\n")
    assert "Anna" in voicelog("correct", "--entry", "4", "--history").out
    voicelog("correct", "--undo")
    assert "Signed: Ben (" in voicelog(*void, "--as", "Ben").out
    voicelog("correct", "--undo")
    voicelog("dogs", "handler", "Ben")
    assert f"Signed: {user} (" in voicelog(*void).out  # which of the two, nobody said


def test_a_level_above_the_collars_top_is_kept_only_once_that_is_said(
    voicelog: Voicelog, key: str, answers: Callable[..., None]
) -> None:
    asked = "Level 30 is above the top of Bracken's collar, 20"
    for given in (("--entry", "3", "--words", "l30 c"), ("--entry", "3", "--words", "ceiling 30")):
        refused = voicelog("correct", *given)
        assert (refused.code, asked in refused.err) == (2, True)
    assert "level fiv came" in voicelog("correct", "--entry", "3").out
    answers("1", "l30 c", "k", "q")
    told = voicelog("correct", "Bracken").out
    assert f"{asked}. Type the note with the level that it was; k: keep 30." in told
    assert "level thirty came" in voicelog("correct", "--entry", "3").out
    voicelog("correct", "--entry", "3", "--undo")
    answers("l30 c", "l3 c", "q")
    voicelog("correct", "Bracken")
    assert "level three came" in voicelog("correct", "--entry", "3").out
    kept = voicelog("correct", "--entry", "3", "--words", "l30 c", "--above-top")
    assert kept.code == 0
    voicelog("correct", "--entry", "3", "--undo")
    voicelog("dogs", "put", "Bracken", "--top", "40")  # as the collar goes so high
    assert voicelog("correct", "--entry", "3", "--words", "l30 c").code == 0


def test_enter_keeps_no_level_above_the_collars_top(
    voicelog: Voicelog, tmp_path: Path, answers: Callable[..., None]
) -> None:
    with Log.open(tmp_path / "data", now=lambda: NOW) as log:
        keep(log, ("start session wren", "?level thirty came | level three came"))
    answers("", "", "q")
    told = voicelog("correct", "Wren").out
    assert told.count("Level 30 is above the top of Wren's collar, 20. Type the note") == 2
    assert "Nothing was changed." in told
    answers("", "k")
    assert "In this session: 1 rep left to check." in voicelog("correct", "Wren").out


@pytest.mark.parametrize(
    ("options", "found"),
    [
        (("--entry", "3", "--void", "--history"), "--void and --history are not done at once"),
        (("--entry", "3", "--redo"), "--redo is for the whole session"),
        (("--entry", "3", "--void", "--above-top"), "--above-top belongs to --confirm"),
        (("--entry", "3", "--void", "--whole"), "--whole belongs to --words"),
        (("--entry", "3", "--start", "24 Nov 7:42"), "--start is for the whole session"),
    ],
)
def test_options_that_would_be_passed_over_are_refused(
    voicelog: Voicelog, key: str, options: tuple[str, ...], found: str
) -> None:
    done = voicelog("correct", "Bracken", *options)
    assert done.code == 2
    assert found in done.err


class Waits:
    """A clock's sleep that takes no time, and how long it was asked for, s."""

    def __init__(self) -> None:
        self.asked: list[float] = []

    def sleep(self, seconds: float) -> None:
        self.asked.append(seconds)


@pytest.fixture
def played(monkeypatch: pytest.MonkeyPatch) -> tuple[StandIn, Waits]:
    """A headset, which keeps what it is given, and a clock that does not wait."""
    devices, waits = StandIn([("USB Headset", 0, 2, 48_000)]), Waits()
    monkeypatch.setattr(microphone, "portaudio", lambda: devices)
    monkeypatch.setattr(note_player, "time", waits)
    return devices, waits


def with_sound(folder: Path) -> str:
    """Keep a recording of three notes, 1.5 s each, 4 s apart, in the log of this test."""
    with Log.open(folder, now=lambda: NOW) as log:
        for dog in ROSTER.dogs:
            log.put_dog(dog)
        return keep(log, ("start session bracken", "here", "?came | ignored"), sound=tone(12.0))


def test_a_note_is_played_where_something_can_sound(
    voicelog: Voicelog,
    tmp_path: Path,
    played: tuple[StandIn, Waits],
    answers: Callable[..., None],
) -> None:
    devices, waits = played
    with_sound(tmp_path / "data")
    assert voicelog("correct", "--entry", "3", "--play").code == 0
    assert waits.asked == [pytest.approx(1.5 + 2 * 0.7)]
    (stream,) = devices.streams
    heard = np.concatenate([block[:, 0] for block in stream.written])
    # the tone rises by 100 Hz a second: 7.3 s to 10.2 s of it, and no other
    rate = stream.options["samplerate"]
    length = len(heard) / rate
    assert length == pytest.approx(2.9, abs=0.1)
    begins = np.abs(np.fft.rfft(heard[: rate // 10])).argmax() * 10
    assert begins == pytest.approx(735, abs=25)
    answers("p", "s")
    asked = voicelog("correct", "Bracken")
    assert "p: play its sound." in asked.out
    assert len(waits.asked) == 2
    assert asked.out.count("'came'") == 2  # it is asked about again once it was heard


def test_where_nothing_can_sound_that_is_said_in_a_sentence(
    voicelog: Voicelog, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, key: str
) -> None:
    monkeypatch.setattr(microphone, "portaudio", lambda: StandIn([]))
    done = voicelog("correct", "--session", key, "--entry", "3", "--play")
    assert done.code == 1
    assert done.err == "voicelog: This recording was typed, so there is no sound to play.\n"
    assert voicelog("correct", "Bracken", "--play").code == 2
    with_sound(tmp_path / "data")
    done = voicelog("correct", "--day", "2026-04-20", "--entry", "3", "--play")
    assert done.code == 1
    assert done.err == (
        "voicelog: Found no earphone, wanted one; plug it in and try again. On the page you hear "
        "it too: 'voicelog review'.\n"
    )


STOP_DAY = """8:00 am here
8:01 am here yelpd l5
8:02 am came
8:03 am skin red left side
8:04 am here l3 came
"""
YELP_DAY = "9:00 am here\n9:01 am here yelpd\n9:02 am came\n"


def _typed(voicelog: Voicelog, folder: Path, words: str, at: str) -> None:
    path = folder / f"{at[:10]}.txt"
    path.write_text(words, encoding="utf-8")
    voicelog("add", str(path), "--typed", "--dog", "Juno", "--at", at)


def test_what_a_stop_depends_on_comes_before_what_may_be_a_strong_sign(
    voicelog: Voicelog, tmp_path: Path
) -> None:
    """Though it was typed later."""
    voicelog("dogs", "put", "Juno")
    _typed(voicelog, tmp_path, STOP_DAY, "2026-04-18 08:00")
    listed = voicelog("correct", "Juno").out
    assert 0 < listed.index("a stop depends on it") < listed.index("may be a strong sign")


def test_a_stop_that_depends_on_another_session_is_said_first(
    voicelog: Voicelog, tmp_path: Path
) -> None:
    voicelog("dogs", "put", "Juno")
    _typed(voicelog, tmp_path, STOP_DAY, "2026-04-18 08:00")
    _typed(voicelog, tmp_path, YELP_DAY, "2026-04-19 09:00")
    listed = voicelog("correct", "Juno").out
    assert "may be a strong sign" in listed
    first = listed.splitlines()[0]
    assert first.startswith("First: a stop of Juno, 18 Apr 2026, depends on an entry to check:")
    shown = voicelog("correct", *first.split("voicelog correct ")[1].split()).out
    assert shown.startswith("Juno, 18 Apr 2026")
    assert "First: a stop" not in shown


@pytest.mark.parametrize("asked", [("Bracken",), ()])
def test_after_another_program_only_the_dog_that_is_corrected_is_derived_first(
    voicelog: Voicelog, tmp_path: Path, asked: tuple[str, ...]
) -> None:
    for day, dog in enumerate(("Wren", "Bracken"), start=1):
        voicelog("dogs", "put", dog, "--top", "20")
        path = typed_file(tmp_path, f"start session {dog}", "here came", name=f"{dog}.tsv")
        assert voicelog("add", "--typed", path, "--at", f"2026-04-0{day}T07:30").code == 0
    with closing(sqlite3.connect(tmp_path / "data" / "log.sqlite3")) as database:
        database.execute("UPDATE derived SET stamp = 'older' || substr(stamp, 6)")
        database.commit()
    done = voicelog("correct", *asked, "--entry", "2", "--words", "here came slow", "--as", "Anna")
    assert done.code == 0
    with closing(sqlite3.connect(tmp_path / "data" / "log.sqlite3")) as database:
        older = "SELECT DISTINCT dog FROM derived WHERE stamp LIKE 'older%' AND dog IS NOT NULL"
        assert database.execute(older).fetchall() == [("Wren",)]
