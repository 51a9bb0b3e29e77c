"""`add` of what is there already: half added, without a date, of another day."""

from __future__ import annotations

import wave
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, tzinfo
from pathlib import Path
from typing import Any, Self

import numpy as np
import pytest

from tests.audio.making import encode
from tests.cli.run import Voicelog, typed_file
from voicelog.app.intake import Intake, RecognitionSetup
from voicelog.audio.files import AudioReader
from voicelog.cli import options
from voicelog.grammar.data_folders import data_folder
from voicelog.grammar.grammar import Grammar
from voicelog.model import Dog, Event, Reading, Roster, Utterance, Verdict
from voicelog.safety.settings import Settings
from voicelog.store import Log

SESSION = ("start session bracken", "level three came", "here", "no button came", "strike that")
DATE = "2026-04-18T07:30"


@pytest.fixture(autouse=True)
def _bracken(voicelog: Voicelog) -> None:
    voicelog("dogs", "put", "Bracken", "--top", "20")


def opened(tmp_path: Path) -> Log:
    return Log.open(tmp_path / "data", now=lambda: datetime.now().astimezone())


def killed(
    voicelog: Voicelog, monkeypatch: pytest.MonkeyPatch, *command: object, after: int = 2
) -> None:
    """`add`, killed once it has committed that many utterances."""
    real, left = Log.append, [after]

    class KilledError(BaseException):
        pass

    def append(log: Log, new: Sequence[Event], **seen: tuple[str, int]) -> int:
        if not left[0]:
            raise KilledError
        left[0] -= 1
        return real(log, new, **seen)

    with monkeypatch.context() as patch:
        patch.setattr(Log, "append", append)
        with pytest.raises(KilledError):
            voicelog("add", *command)


def words(log: Log) -> list[tuple[str, str]]:
    (kept,) = log.recordings()
    assert kept.complete
    return [(e.id, e.words) for e in log.events(kept.id) if e.event == "verdict"]


# --- cut short ----------------------------------------------------------------------------


@pytest.mark.parametrize("change", ["none", "more dogs", "dog gone", "settings"])
def test_what_was_cut_short_is_completed_with_what_it_was_begun_with(
    voicelog: Voicelog, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, change: str
) -> None:
    path = typed_file(tmp_path, *SESSION, "x yz", "wren here")
    whole = ("--typed", path, "--dog", "Bracken", "--at", DATE)
    assert voicelog("add", *whole, "--data-dir", tmp_path / "other").code == 2  # no dog there
    voicelog("dogs", "put", "Bracken", "--top", "20", "--data-dir", tmp_path / "other")
    voicelog("add", *whole, "--data-dir", tmp_path / "other")

    killed(voicelog, monkeypatch, *whole)
    match change:
        case "more dogs":
            voicelog("dogs", "put", "Wren", "--top", "20", "--cue", "hup")
            voicelog("dogs", "put", "Bracken", "--top", "8", "--cue", "come")
        case "dog gone":
            voicelog("dogs", "remove", "Bracken")
        case "settings":
            (tmp_path / "data" / "settings.toml").write_text("press_s = 2.0\n")
    again = voicelog("add", *whole)
    assert (again.code, again.err) == (0, "")
    assert again.out.startswith("session.tsv: 5 notes sure, ")
    told = "Completed with the dogs and settings it was begun with." in again.out
    assert told == (change in ("more dogs", "dog gone", "settings"))
    with opened(tmp_path) as log, Log.open(tmp_path / "other", now=datetime.now) as other:
        assert words(log) == words(other)
        (mine,), (theirs,) = log.recordings(), other.recordings()
        assert mine.model_dump(exclude={"added_at"}) == theirs.model_dump(exclude={"added_at"})
    assert voicelog("check").code == 0


def test_what_a_newer_program_began_ends_in_a_sentence(
    voicelog: Voicelog, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = typed_file(tmp_path, *SESSION)
    killed(voicelog, monkeypatch, "--typed", path, "--at", DATE)
    with opened(tmp_path) as log:
        (kept,) = log.recordings()
        newer = kept.model_copy(update={"settings": {"a_newer_threshold": 1}})
        log.begin_recording(newer)
    again = voicelog("add", "--typed", path, "--at", DATE)
    assert again.code == 1
    assert again.err.count("\n") == 1
    assert "a_newer_threshold" in again.err


def test_what_was_committed_stands_where_other_listeners_cut_the_sound_otherwise() -> None:
    class Heard:
        """Sound that was heard as these utterances (s)."""

        note, id = None, "f" * 64

        def __init__(self, *spans: tuple[float, float]) -> None:
            self.spans = spans

        def facts(self) -> Mapping[str, Any]:
            return {"duration_s": 20.0}

        def heard(self) -> Iterator[tuple[Utterance, tuple[Reading, ...], Verdict]]:
            for start_s, end_s in self.spans:
                name = f"u-{start_s}"
                verdict = Verdict(
                    id=f"{name}.v",
                    utterance=name,
                    status="rejected",
                    words="",
                    confidence=0,
                    judge="one",
                )
                yield (
                    Utterance(id=name, recording=self.id, start_s=start_s, end_s=end_s),
                    (),
                    verdict,
                )

    setup = RecognitionSetup(
        grammar=Grammar.load(roster=Roster(dogs=(Dog(name="Bracken"),))), settings=Settings()
    )
    begun = [event for batch in Intake(Heard((0, 4), (5, 8)), setup) for event in batch]
    again = Intake(Heard((0, 1.5), (2, 4), (5, 8.1), (8.1, 9), (10, 12)), setup, begun=begun)
    assert [batch[0].id for batch in again] == ["u-8.1", "u-10"]
    assert again.events[: len(begun)] == tuple(begun)


def noise(path: Path) -> Path:
    rng = np.random.default_rng(1)
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(16_000)
        file.writeframes(rng.integers(-900, 900, 32_000).astype("<i2").tobytes())
    return path


# --- another day --------------------------------------------------------------------------


def test_the_same_typed_words_of_another_day_are_another_session(
    voicelog: Voicelog, tmp_path: Path
) -> None:
    path = typed_file(tmp_path, *SESSION)
    for day in (18, 19):
        done = voicelog("add", "--typed", path, "--at", f"2026-04-{day}T07:30")
        assert done.out.startswith("session.tsv: 5 notes sure, ")
    shown = voicelog("summary", "--all").out
    assert "18 Apr 2026" in shown
    assert "19 Apr 2026" in shown
    again = voicelog("add", "--typed", path, "--at", "2026-04-19T07:30")
    assert again.out == "session.tsv: already in the log, left as it is\n"
    assert voicelog("check").err == ""

    assert voicelog("delete", "session", "Bracken", "--day", "2026-04-18", "--yes").code == 0
    assert voicelog("check").err == "", "the other day keeps its file"
    gone = voicelog("add", "--typed", path, "--at", "2026-04-18T07:30")
    assert "was deleted from this log" in gone.err
    third = voicelog("add", "--typed", path, "--at", "2026-04-20T07:30")
    assert third.out.startswith("session.tsv: 5 notes sure, ")


def test_another_time_of_the_same_day_is_said_with_how_to_mend_it(
    voicelog: Voicelog, tmp_path: Path
) -> None:
    path = typed_file(tmp_path, *SESSION)
    voicelog("add", "--typed", path, "--at", DATE)
    later = ("add", "--typed", path, "--at", "2026-04-18T09:15")
    assert voicelog(*later).out == (
        "session.tsv: already in the log as of Sat 18 Apr 2026, 7:30, not Sat 18 Apr 2026, 9:15, "
        "and left unchanged; if Sat 18 Apr 2026, 9:15 is right, add it again with --redate\n"
    )
    assert voicelog(*later, "--redate").out == (
        "session.tsv: already in the log; its date is now Sat 18 Apr 2026, 9:15 instead of "
        "Sat 18 Apr 2026, 7:30\n"
    )
    assert voicelog(*later).out == "session.tsv: already in the log, left as it is\n"
    assert "9:15" in voicelog("summary", "--all").out


def test_what_has_no_date_is_said_and_takes_the_one_that_is_given(
    voicelog: Voicelog, tmp_path: Path
) -> None:
    path = typed_file(tmp_path, *SESSION)
    first = voicelog("add", "--typed", path)
    assert (
        "It has no date, which rules of the day need: add it again with --at 'DAY TIME', when "
        "it began.\n" in first.out
    )
    again = voicelog("add", "--typed", path)
    assert again.out.startswith("session.tsv: already in the log, left as it is; it has no date, ")
    dated = voicelog("add", "--typed", path, "--at", "2026-04-17T07:30")
    assert dated.out == (
        "session.tsv: already in the log; its date is now Fri 17 Apr 2026, 7:30, which it "
        "did not have\n"
    )
    assert "17 Apr 2026" in voicelog("summary", "--all").out
    other = voicelog("add", "--typed", path, "--at", "2026-04-18T07:30")
    assert other.out.startswith("session.tsv: 5 notes sure, ")
    with opened(tmp_path) as log:
        assert len(log.recordings()) == 2


def test_a_date_is_set_as_often_as_it_is_given(voicelog: Voicelog, tmp_path: Path) -> None:
    path = typed_file(tmp_path, *SESSION)
    voicelog("add", "--typed", path, "--at", DATE)
    for day, words in ((20, "Mon 20"), (18, "Sat 18"), (20, "Mon 20")):
        done = voicelog("add", "--typed", path, "--redate", "--at", f"2026-04-{day}T08:00")
        assert f"its date is now {words} Apr 2026, 8:00" in done.out
    assert "20 Apr 2026" in voicelog("summary", "--all").out
    wrong = voicelog("add", "--typed", path, "--redate")
    assert (wrong.code, wrong.err) == (
        2,
        "voicelog: --redate needs the right date: add --at, as in --at '18 Apr 7:30'.\n",
    )


@pytest.mark.parametrize("year", ["9999", "1066"])
def test_a_year_that_cannot_be_meant_is_refused(
    voicelog: Voicelog, tmp_path: Path, year: str
) -> None:
    path = typed_file(tmp_path, *SESSION)
    result = voicelog("add", "--typed", path, "--at", f"{year}-04-18T07:30")
    assert (result.code, result.err) == (
        2,
        f"voicelog: Found the year {int(year)} for --at, wanted one from 1900 to 2199; "
        "correct it.\n",
    )


def test_a_time_that_is_still_to_come_is_refused(
    voicelog: Voicelog, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Night(datetime):
        @classmethod
        def now(cls, tz: tzinfo | None = None) -> Self:
            return cls(2026, 11, 27, 1, 51, tzinfo=tz)

    monkeypatch.setattr(options, "datetime", Night)
    path = typed_file(tmp_path, "start session bracken", "came")
    early = voicelog("add", "--typed", path, "--at", "today 7:30")
    assert early.code == 2
    assert "which is still to come; correct it" in early.err
    for written in ("28 Nov 2026 8:00", "2026-11-28T08:00", "2026-11-28T08:00+00:00"):
        early = voicelog("add", "--typed", path, "--at", written)
        assert (early.code, "which is still to come; correct it" in early.err) == (2, True)
    lacking = voicelog("add", "--typed", path, "--at", "28 Nov 8:00")
    assert lacking.code == 2
    assert "type its year too if it was Friday, 28 Nov 2025" in lacking.err
    assert "(that of this year is still to come)" in lacking.err
    assert voicelog("summary").out == ""
    assert voicelog("add", "--typed", path, "--at", "yesterday 7:30").code == 0


def test_sound_of_another_date_is_said_with_how_to_mend_it(
    voicelog: Voicelog, tmp_path: Path
) -> None:
    """Sound is one recording for ever, whatever date is given with it."""
    path = noise(tmp_path / "noise.wav")
    quick = ("add", path, "--listener", "quick", "--at")
    assert voicelog(*quick, DATE).code == 0
    other = voicelog(*quick, "2026-04-19T07:30")
    assert other.out.startswith(
        "noise.wav: already in the log as of Sat 18 Apr 2026, 7:30, not Sun 19 "
    )
    with opened(tmp_path) as log:
        assert len(log.recordings()) == 1


# --- the same sound in another format -----------------------------------------------------


def test_the_same_sound_in_another_format_is_asked_about(
    voicelog: Voicelog, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with AudioReader(data_folder("demo_audio") / "day2-wren" / "day2-wren.opus") as reader:
        speech = np.concatenate([block for block, _ in zip(reader, range(600), strict=False)])
    speech = speech[: 9 * 16_000]
    path = encode(tmp_path / "a.wav", speech, 16_000, "pcm_s16le")
    again = encode(tmp_path / "a.mp3", speech, 16_000, "libmp3lame")
    other = encode(tmp_path / "b.mp3", speech[::-1].copy(), 16_000, "libmp3lame")
    add = ("add", "--listener", "quick", "--dog", "Bracken", "--at", DATE)
    assert voicelog(*add, path).code == 0

    def kept() -> int:
        with opened(tmp_path) as log:
            return len(log.recordings())

    refused = voicelog(*add, again)
    assert refused.code == 1
    assert refused.err == (
        f"voicelog: {again} sounds like 'a.wav', which is in the log, begun Sat 18 Apr 2026, "
        "7:30, so it was left out; if it is another recording, add it with --anyway.\n"
    )
    assert kept() == 1
    assert voicelog(*add, other).code == 0
    monkeypatch.setattr("voicelog.cli.add.typer.confirm", lambda *_, **__: True)
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    assert voicelog(*add, again).code == 0
    assert kept() == 3


def test_a_dog_can_be_deleted_once_the_half_added_recording_is_gone(
    voicelog: Voicelog, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = typed_file(tmp_path, *SESSION)
    killed(voicelog, monkeypatch, "--typed", path, "--at", DATE)
    refused = voicelog("delete", "dog", "Bracken", "--yes")
    command = f"voicelog delete half {path.name}"
    assert (refused.code, f"'{command}'" in refused.err) == (1, True)
    wrong = voicelog("delete", "half", "other.tsv", "--yes")
    assert (wrong.code, f"({path.name})" in wrong.err) == (1, True)
    assert voicelog(*command.split()[1:], "--yes").code == 0
    assert voicelog("delete", "half", "--yes").out == "No recording is half added.\n"
    assert voicelog("delete", "dog", "Bracken", "--yes").code == 0


@pytest.mark.parametrize("command", ["add", "read"])
@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("notes.txt", b"ss bracken\nl3 c\n"),
        ("Notes.MD", b"# Saturday\n\nss bracken\n"),
        ("notes", "ss bracken\nl3 c, \u00fcbel\n".encode()),
        ("long", "\u00fc".encode() * 3000),
    ],
)
def test_notes_taken_for_sound_are_told_how_to_be_typed(
    voicelog: Voicelog, tmp_path: Path, command: str, name: str, content: bytes
) -> None:
    path = tmp_path / name
    path.write_bytes(content)
    told = voicelog(command, path, "--dog", "Bracken")
    assert told.code == 1
    assert told.err.endswith("Ogg Vorbis or Opus; if these are notes, add --typed.\n")


def test_what_is_neither_sound_nor_text_is_not_taken_for_notes(
    voicelog: Voicelog, tmp_path: Path
) -> None:
    for name, content in (("bytes", bytes(range(256))), ("no text", b"a\x00b" * 30)):
        path = tmp_path / name
        path.write_bytes(content)
        told = voicelog("add", path, "--dog", "Bracken")
        assert told.code == 1
        assert "--typed" not in told.err


def test_notes_of_no_dog_are_said_to_be_of_none_and_how_to_say_whose(
    voicelog: Voicelog, tmp_path: Path
) -> None:
    path = typed_file(tmp_path, "here level three came")
    told = voicelog("add", "--typed", path, "--at", DATE).out
    (line,) = [one for one in told.splitlines() if "no dog was named" in one]
    command = line.partition("'voicelog ")[2].partition("'")[0].replace("DOG", "Bracken").split()
    assert voicelog(*command).code == 0
    assert "Bracken" in voicelog("summary", "Bracken").out
    other = typed_file(tmp_path, "here level two came", name="other.txt")
    assert "no dog" not in voicelog("add", "--typed", other, "--dog", "Wren", "--at", DATE).out


def test_sore_skin_of_no_dog_is_told_when_it_is_added_and_in_the_kennel(
    voicelog: Voicelog, tmp_path: Path
) -> None:
    path = typed_file(tmp_path, "skin sore")
    told = voicelog("add", "--typed", path, "--at", DATE).out
    assert "no dog was named, so its notes count for none" in told
    seen = " ".join(voicelog("kennel").out.split())
    assert "STOP no dog: 1 matter open of notes that name no dog" in seen
    assert "until you say whose: voicelog matters list." in seen
    assert "Nothing: no stop" not in seen
