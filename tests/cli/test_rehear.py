"""Kept recordings are heard again, the change is shown first, and taken over when agreed."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest

from tests.cli.run import Voicelog, made_once, typed_file
from voicelog.model import Reading, Utterance
from voicelog.store import Log

NOBODY = "No entry of these was reviewed by a person, so there is nothing to measure it by.\n"


@pytest.fixture
@made_once
def _recording(voicelog: Voicelog, tmp_path: Path) -> None:
    voicelog("dogs", "put", "Bracken")
    path = typed_file(tmp_path, "start session bracken", "level three came", "hup no button came")
    voicelog("add", "--typed", path, "--dog", "Bracken", "--at", "2026-04-18T07:30")


@pytest.fixture
def log(_recording: None, tmp_path: Path) -> Path:
    """A log with one recording, in which a cue was said that nobody had told of."""
    return tmp_path / "data"


def told(voicelog: Voicelog) -> None:
    """Tell of the cue."""
    voicelog("dogs", "put", "Bracken", "--cue", "hup")


def events(folder: Path) -> int:
    with Log.open(folder, now=datetime.now) as log:
        return log.event_seq()


CHANGE = 'session.tsv: 1 change.\n    0:08  check "no button came" -> sure "hup no button came"\n'


def test_with_the_same_listener_and_vocabulary_nothing_changes(
    voicelog: Voicelog, log: Path
) -> None:
    before = events(log)
    done = voicelog("rehear", "--yes")
    assert (done.code, done.out) == (0, f"session.tsv: nothing changes.\n{NOBODY}")
    assert events(log) == before


def test_the_change_is_only_shown_until_it_is_agreed(voicelog: Voicelog, log: Path) -> None:
    told(voicelog)
    before = events(log)
    assert voicelog("rehear", "--dry-run").out == CHANGE + NOBODY
    assert voicelog("rehear").out == (
        f"{CHANGE}{NOBODY}Nothing was taken over; add --yes to take it.\n"
    )
    assert events(log) == before
    assert voicelog("rehear", "--yes").out == f"{CHANGE}{NOBODY}1 change taken over.\n"
    assert events(log) > before
    assert voicelog("rehear").out == f"session.tsv: nothing changes.\n{NOBODY}"


@pytest.mark.parametrize(("answer", "end"), [("y\n", "1 change taken over.\n"), ("n\n", "")])
def test_one_is_asked_where_one_can_answer(
    voicelog: Voicelog, log: Path, monkeypatch: pytest.MonkeyPatch, answer: str, end: str
) -> None:
    told(voicelog)
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    monkeypatch.setattr("typer.confirm", lambda text: f"{text}{answer}" == f"{ASKED}y\n")
    assert voicelog("rehear").out == CHANGE + NOBODY + end


ASKED = "Take over 1 change?"


def test_what_a_person_has_read_stays_and_measures_the_hearing(
    voicelog: Voicelog, log: Path
) -> None:
    with Log.open(log, now=datetime.now) as opened:
        (kept,) = opened.recordings()
        third = [e for e in opened.events(kept.id) if isinstance(e, Utterance)][2]
        opened.append([Reading(id="p", utterance=third.id, words="came", by="person", who="Anna")])
    told(voicelog)
    assert voicelog("rehear", "--yes").out == (
        "session.tsv: nothing changes.\n"
        '    0:08  stays sure "came"; today heard sure "hup no button came"\n'
        "On 1 entry that people have reviewed:\n"
        "  sure and right, or rightly not understood     0 before     0 today\n"
        "  to check, the right one offered               0 before     0 today\n"
        "  to check, the right one not offered           1 before     0 today\n"
        "  not understood                                0 before     0 today\n"
        "  sure and wrong                                0 before     1 today\n"
    )


def test_recordings_are_chosen_by_dog_and_day(voicelog: Voicelog, log: Path) -> None:
    for choice in (["bracken"], ["--day", "2026-04-18"], ["Bracken", "--day", "2026-04-18"]):
        assert voicelog("rehear", *choice).out.startswith("session.tsv: ")
    assert voicelog("rehear", "Juno").err == (
        "voicelog: Found no recording of 'Juno' in the log, wanted a dog that has one (Bracken); "
        "correct the name or add a recording.\n"
    )
    assert voicelog("rehear", "--day", "2026-04-19").err == (
        "voicelog: Found no recording on 19 Apr 2026 to hear again, wanted at least one; see "
        "'voicelog summary --all'.\n"
    )


def test_a_recording_whose_sound_is_gone_fails_and_the_others_go_on(
    voicelog: Voicelog, log: Path, tmp_path: Path
) -> None:
    other = typed_file(tmp_path, "start session bracken", "here came", name="other.tsv")
    voicelog("add", "--typed", other, "--dog", "Bracken", "--at", "2026-04-17T07:30")
    (sound,) = (p for p in (log / "sound").iterdir() if "hup" in p.read_text())
    sound.unlink()
    done = voicelog("rehear")
    assert done.code == 1
    assert done.out.startswith("other.tsv: nothing changes.\n")
    assert done.err == (
        "voicelog: Found no sound of 'session.tsv' in the log, wanted it to hear it again; it "
        "was deleted, so its entries stay as they are.\n"
    )


def test_dry_run_and_yes_contradict_each_other(voicelog: Voicelog, log: Path) -> None:
    done = voicelog("rehear", "--dry-run", "--yes")
    assert (done.code, done.err) == (
        2,
        "voicelog: Found --dry-run and --yes together, wanted one of them; leave one out.\n",
    )


def test_an_empty_log_has_nothing_to_hear(voicelog: Voicelog) -> None:
    assert voicelog("rehear").err == (
        "voicelog: Found no recording to hear again, wanted at least one; see 'voicelog summary "
        "--all'.\n"
    )
