"""What is made to be endless, deep or huge is refused in one sentence, soon and with little memory.

Each case hung, ran out of memory or showed a traceback before it was refused.
"""

from __future__ import annotations

import os
import signal
import sqlite3
import struct
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

from tests.store.log_cases import NOON, recording
from tests.store.merging import ticking
from voicelog.app.typed_file import TypedFile
from voicelog.app.typed_lines import TypedFormatError
from voicelog.audio.errors import StrangeRateError
from voicelog.audio.files import AudioReader
from voicelog.grammar.grammar import Grammar
from voicelog.model import Action, Event, Utterance
from voicelog.model.input_limits import OddFileError, checked_file
from voicelog.safety.settings_file import SettingsError, load_settings
from voicelog.store import Log
from voicelog.store.backup import restore, write_backup
from voicelog.store.bagit import BagItArchive, BagItError, is_bagit, open_bagit, write_bagit
from voicelog.store.bundle import _owners
from voicelog.store.records import StoredRecording


@contextmanager
def seconds(limit: int) -> Iterator[None]:
    """An end to what does not end, in seconds of the processor."""

    def too_long(_signal: int, _frame: object) -> None:
        raise TimeoutError

    before = signal.signal(signal.SIGPROF, too_long)
    signal.setitimer(signal.ITIMER_PROF, limit)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before)


SETTINGS = {
    "deep": "a = " + "[" * 100_000,
    "digits": f"presses_adult = {'9' * 5000}",
    "many digits": f"presses_adult = {'9' * 4000}",
    "points": f"{'.'.join('a' * 20_000)} = 1",
    "long": "# settings\n" * 30_000,
}


@pytest.mark.parametrize("name", SETTINGS)
def test_settings_made_to_do_harm_are_one_short_sentence(tmp_path: Path, name: str) -> None:
    path = tmp_path / "settings.toml"
    path.write_text(SETTINGS[name])
    with seconds(5), pytest.raises(SettingsError) as refused:
        load_settings(path)
    assert len(str(refused.value)) - len(str(path)) < 200
    assert "\n" not in str(refused.value)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="there are no such files here")
def test_what_is_no_file_is_not_read(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    for path in (tmp_path / "pipe", Path("/dev/zero"), tmp_path):
        with pytest.raises(OddFileError):
            checked_file(path)
        with pytest.raises(SettingsError):
            load_settings(path)
        with pytest.raises(OddFileError), open_bagit(path):
            pass
        assert not is_bagit(path)
    checked_file(tmp_path / "missing")


def sound(rate: int) -> bytes:
    data = b"\1\2" * 2000
    head = struct.pack("<IHHIIHH", 16, 1, 1, rate, min(rate * 2, 2**32 - 1), 2, 16)
    body = b"WAVEfmt " + head + b"data" + struct.pack("<I", len(data)) + data
    return b"RIFF" + struct.pack("<I", len(body)) + body


@pytest.mark.parametrize("rate", [1, 100, 2_000_000])
def test_a_rate_that_no_recorder_has_is_refused(tmp_path: Path, rate: int) -> None:
    path = tmp_path / "odd.wav"
    path.write_bytes(sound(rate))
    with pytest.raises(StrangeRateError, match=f"{rate} samples a second"):
        AudioReader(path)


def test_a_line_of_typed_notes_has_an_end(tmp_path: Path) -> None:
    path = tmp_path / "notes.txt"
    path.write_text("start session bracken\n" + "level three came " * 30_000)
    with seconds(5), pytest.raises(TypedFormatError, match="Line 2"):
        TypedFile(path, Grammar.load())


def test_a_chain_of_undo_costs_as_much_as_it_is_long(tmp_path: Path) -> None:
    """Each takes back the one after it in the file, so that none is known when it is met."""
    kept = recording()
    row = StoredRecording.model_validate(kept.model_dump() | {"added_at": NOON, "complete": True})
    count = 30_000
    chain: list[Event] = [
        Action(id=f"a{n}", action="undo", target=f"a{n - 1}" if n else "u", who="Anna")
        for n in reversed(range(count))
    ]
    chain.append(Utterance(id="u", recording=kept.id, start_s=0, end_s=1))
    path = tmp_path / "bag.zip"
    with write_bagit(path, NOON, {}) as bag:
        bag.add_text("recordings.jsonl", [])
    with open_bagit(path) as opened, seconds(5):
        owner = _owners(opened, chain, {kept.id: row})
    assert len(owner) == count + 1
    assert isinstance(opened, BagItArchive)


HARM = {
    "a view that never ends": (
        "ALTER TABLE events RENAME TO was",
        "CREATE VIEW events AS WITH RECURSIVE n(seq) AS (SELECT 1 UNION ALL SELECT seq + 1 "
        "FROM n) SELECT seq, seq AS id, seq AS recording, '' AS about, '' AS body, "
        "'' AS committed_at FROM n",
    ),
    "a version that is a view": (
        "DROP TABLE alembic_version",
        "CREATE VIEW alembic_version AS WITH RECURSIVE n(version_num) AS "
        "(SELECT 1 UNION ALL SELECT version_num + 1 FROM n) SELECT version_num FROM n",
    ),
    "a column that is computed": (
        "CREATE TABLE more(a, b AS (hex(zeroblob(40000000))))",
        "INSERT INTO more(a) VALUES (1)",
    ),
    "a trigger that acts": (
        "CREATE TRIGGER more AFTER DELETE ON derived BEGIN DELETE FROM matter_events; END",
    ),
    "a value without end": (
        "UPDATE recordings SET file_name = hex(zeroblob(20000000))",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", HARM)
def test_a_backup_holds_the_tables_of_the_log_and_nothing_else(tmp_path: Path, name: str) -> None:
    with Log.open(tmp_path / "log", now=ticking()) as log:
        log.begin_recording(recording(sound=None))
        write_backup(log, tmp_path / "good.zip", None)
    with open_bagit(tmp_path / "good.zip") as bag:
        (tmp_path / "log.sqlite3").write_bytes(b"".join(bag.chunks("log.sqlite3")))
    with closing(sqlite3.connect(tmp_path / "log.sqlite3")) as other, other:
        for statement in HARM[name]:
            other.execute(statement)
    with write_bagit(tmp_path / "bad.zip", NOON, {}) as writer:
        writer.add_file("log.sqlite3", tmp_path / "log.sqlite3")
    with Log.open(tmp_path / "new", now=ticking()) as new, seconds(5):
        with pytest.raises(BagItError) as refused:
            restore(new, tmp_path / "bad.zip", tmp_path / "settings.toml")
        assert "\n" not in str(refused.value)
        assert new.recordings() == ()
        restore(new, tmp_path / "good.zip", tmp_path / "settings.toml")
        assert len(new.recordings()) == 1
