"""Every command still works after any import: bundles, backups and settings made to do harm.

One case is a small log, something spoiled that is taken into it, and then every command on what
has become of it. The session that was there before must still be told by all of them, and only
`check` may say that something is wrong.
"""

from __future__ import annotations

import contextlib
import io
import json
import random
import re
import shutil
import signal
import sqlite3
import sys
import tempfile
import zipfile
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from functools import lru_cache
from pathlib import Path
from typing import Any

from voicelog.cli import main
from voicelog.store.bagit import write_bagit

__all__ = ["imports"]

LIMIT_S = 10
"""Of the processor's time for one command, s."""

NOW = datetime(2026, 4, 20, 20, 0, tzinfo=UTC)
GOOD = ("start session bracken", "here level three came", "here no button came")
SENT = (
    *("start session bracken", "collar fitted", "drill recall", "here level four yelped", "came"),
    *("strike that", "here no button came", "next dog wren", "here came", "growling", "skin sore"),
)
_BAD_TEXT = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")

VALUES: tuple[Any, ...] = (
    *(None, "", "x" * 300, -1, 0, 1e308, 10**30, [], {}, True, "../../x", "nan", "undo", "Wren"),
    *("\u202eBracken\x1b[2J", "BRACKEN", "bracke\u0301n", "level nine", "start session wren"),
    *("2026-04-17T07:30:00", "9999-12-31T23:59:59", "0001-01-01T00:00:00+14:00", 9_999_999.5),
    *([["a"]], {"a": {"b": 1}}, "\ud83d", "confirm", "void", "clock", "move", "amend", "person"),
)


def said(*args: object) -> tuple[int, str, str]:
    """Run a command in this process: its code, what it printed, and its errors. A limit of the
    processor's time that is running begins anew: it is for each command."""
    if signal.getitimer(signal.ITIMER_PROF)[0]:
        signal.setitimer(signal.ITIMER_PROF, LIMIT_S)
    out, err = io.StringIO(), io.StringIO()
    argv, sys.argv = sys.argv, ["voicelog", *map(str, args)]
    code = 0
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            main()
    except SystemExit as stop:
        code = int(stop.code or 0)
    finally:
        sys.argv = argv
    return code, out.getvalue(), err.getvalue()


def _typed(folder: Path, name: str, lines: tuple[str, ...]) -> Path:
    path = folder / name
    path.write_text("".join(f"{4 * n}\t{4 * n + 2}\t{words}\n" for n, words in enumerate(lines)))
    return path


@lru_cache(maxsize=1)
def _material() -> tuple[Path, dict[str, bytes], dict[str, bytes], str]:
    """A log to take things into, the files of a bundle and of a backup, and a settings file."""
    folder = Path(tempfile.mkdtemp(prefix="fuzz-"))
    for place, lines, day in (("log", GOOD, 17), ("sender", SENT, 18)):
        at = ("--data-dir", folder / place)
        said("dogs", "put", "Bracken", "--top", "20", *at)
        said("dogs", "put", "Wren", "--top", "10", *at)
        words = _typed(folder, f"{place}.tsv", lines)
        code, _, err = said("add", "--typed", words, "--at", f"2026-04-{day}T07:30", *at)
        assert code == 0, err
    at = ("--data-dir", folder / "sender")
    change = ("--entry", "3", "--words", "here level two came", "--as", "Anna")
    assert said("correct", "Bracken", *change, *at)[0] == 0
    said("export", folder / "out", "--format", "bundle", "--dog", "Bracken", *at)
    said("backup", folder / "backup.zip", *at)
    return (
        folder / "log",
        _files(folder / "out" / "bracken.zip"),
        _files(folder / "backup.zip"),
        said("settings", *at)[1],
    )


def _files(path: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(path) as archive:
        names = [name for name in archive.namelist() if "/data/" in name]
        return {name.split("/data/")[1]: archive.read(name) for name in names}


def _spoilt(value: Any, chance: random.Random, depth: int = 0) -> Any:
    """JSON with one value, somewhere in it, put in place of another, doubled or taken out."""
    if isinstance(value, dict) and value and depth < 6 and chance.random() < 0.9:
        key = chance.choice(sorted(value))
        match chance.randrange(12):
            case 0:
                return {name: one for name, one in value.items() if name != key}
            case 1:
                return value | {
                    chance.choice(["extra", "id", "by", "target"]): chance.choice(VALUES)
                }
            case _:
                return value | {key: _spoilt(value[key], chance, depth + 1)}
    if isinstance(value, list) and value and chance.random() < 0.8:
        at = chance.randrange(len(value))
        one = _spoilt(value[at], chance, depth + 1)
        return chance.choice([[*value[:at], one, *value[at + 1 :]], [*value, one], value[:at]])
    if isinstance(value, str) and chance.random() < 0.3:
        return value[: chance.randrange(len(value) + 1)] + str(chance.choice(VALUES))
    if isinstance(value, int | float) and chance.random() < 0.5:
        return value * chance.choice([-1, 2, 1000, 0]) + chance.choice([0, 1, 0.5])
    return chance.choice(VALUES)


def _spoilt_line(line: str, chance: random.Random) -> str:
    if chance.random() < 0.03:
        return chance.choice(["[" * 5000, '{"a":' * 5000, "9" * 5000, line[:-3], ""])
    text = json.dumps(_spoilt(json.loads(line), chance))
    return text.replace(": 4", f": {'9' * 5000}", 1) if chance.random() < 0.01 else text


def _spoilt_lines(data: bytes, chance: random.Random) -> list[str]:
    lines = data.decode().splitlines()
    for _ in range(chance.choice([1, 1, 2, 5])):
        match chance.randrange(8):
            case 0:
                chance.shuffle(lines)
            case 1:
                lines.insert(chance.randrange(len(lines) + 1), chance.choice(lines))
            case 2 if len(lines) > 1:
                del lines[chance.randrange(len(lines))]
            case _:
                at = chance.randrange(len(lines))
                with contextlib.suppress(ValueError, RecursionError):  # spoilt once already
                    lines[at] = _spoilt_line(lines[at], chance)
    return lines or [""]


def _bundle(folder: Path, chance: random.Random) -> Path:
    files = _material()[1]
    path = folder / "spoilt.zip"
    chosen = chance.choice([name for name in files if name.endswith(".jsonl")])
    with write_bagit(path, NOW, {}) as bag:
        for name, data in files.items():
            if name == chosen:
                lines = _spoilt_lines(data, chance)
                bag.add_text(name, (one.encode("utf-8", "replace").decode() for one in lines))
            else:
                (folder / "part").write_bytes(data)
                bag.add_file(name, folder / "part")
    return path


_HARM = (
    "CREATE VIEW more AS SELECT * FROM events",
    "DROP TRIGGER events_no_delete",
    "CREATE TRIGGER harm AFTER INSERT ON derived BEGIN DELETE FROM tombstones; END",
    "UPDATE alembic_version SET version_num = '9999'",
    "DELETE FROM alembic_version",
    "DELETE FROM profiles",
    "DROP TABLE profiles",
    "CREATE TABLE endless(a, b AS (hex(zeroblob(400000000))))",
)
_ENDLESS = "WITH RECURSIVE n(a) AS (SELECT 1 UNION ALL SELECT a + 1 FROM n) SELECT a FROM n"


def _backup(folder: Path, chance: random.Random) -> Path:
    files = _material()[2]
    path, database = folder / "spoilt.zip", folder / "log.sqlite3"
    database.write_bytes(files["log.sqlite3"])
    with closing(sqlite3.connect(database)) as other, other:
        if chance.random() < 0.25:
            with contextlib.suppress(sqlite3.Error):
                other.execute(chance.choice(_HARM))
        elif chance.random() < 0.1:
            for name in ("events", "recordings"):
                other.execute(f"ALTER TABLE {name} RENAME TO was_{name}")
            other.execute(f"CREATE VIEW events AS {_ENDLESS}")
            other.execute(f"CREATE VIEW recordings AS {_ENDLESS}")
        else:
            _spoil_rows(other, chance)
    with write_bagit(path, NOW, {}) as bag:
        for name, data in files.items():
            (folder / "part").write_bytes(database.read_bytes() if name == "log.sqlite3" else data)
            bag.add_file(name, folder / "part")
    return path


def _spoil_rows(other: sqlite3.Connection, chance: random.Random) -> None:
    triggers = other.execute(
        "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"
    ).fetchall()
    for name, _ in triggers:
        other.execute(f"DROP TRIGGER {name}")
    for _ in range(chance.choice([1, 1, 2, 4])):
        table = chance.choice(["events", "events", "recordings", "profiles", "matter_events"])
        columns = [row[1] for row in other.execute(f"PRAGMA table_info({table})")]
        row = other.execute(f"SELECT * FROM {table} ORDER BY random() LIMIT 1").fetchone()
        if row is None:
            continue
        at = chance.randrange(1, len(columns))
        value: Any = row[at]
        with contextlib.suppress(ValueError, TypeError):
            value = json.dumps(_spoilt(json.loads(value), chance))
        if value == row[at]:
            value = chance.choice(
                [None, "", "x", 1e308, -1, b"\xff\xfe", "9999-12-31T23:59:59.999999Z"]
            )
        with contextlib.suppress(sqlite3.Error, UnicodeEncodeError):
            other.execute(f"UPDATE {table} SET {columns[at]} = ? WHERE seq = ?", (value, row[0]))
    for _, made in triggers:
        other.execute(made)


def _settings(folder: Path, chance: random.Random) -> Path:
    from tests.bench.fuzz import misspelt  # that module imports this one

    path = folder / "settings.toml"
    text = _material()[3]
    odd = ["a = " + "[" * 5000, f"presses_adult = {'9' * 5000}", ".".join("a" * 3000) + " = 1"]
    text = chance.choice(odd) if chance.random() < 0.2 else misspelt(text, chance)
    path.write_text(text, "utf-8", "surrogatepass")
    return path


def _every_command(data: Path, folder: Path) -> Iterator[tuple[str, tuple[int, str, str]]]:
    at = ("--data-dir", data)
    on = ("--on", "2026-04-20")
    commands: dict[str, tuple[object, ...]] = {
        "check": ("check",),
        "summary": ("summary", "--all"),
        "progress": ("progress", "Bracken", *on),
        "plan": ("plan", "Bracken", *on),
        "kennel": ("kennel", *on),
        "matters": ("matters", "list"),
        "questions": ("questions", "--help"),
        "learn": ("learn",),
        "dogs": ("dogs", "list"),
        "export json": ("export", folder / "out"),
        "export csv": ("export", folder / "out", "--format", "csv"),
        "export record": ("export", folder / "out", "--format", "record"),
        "export bundle": ("export", folder / "out", "--format", "bundle", "--dog", "Bracken"),
        "rebuild": ("rebuild",),
        "add": ("add", "--typed", folder / "another.tsv", "--at", "2026-04-19T07:30"),
        "backup": ("backup", folder / "backup.zip"),
        "restore": ("restore", folder / "backup.zip", "--data-dir", folder / "new"),
        "delete aside": ("delete", "aside", "--yes"),
        "delete dog": ("delete", "dog", "Bracken", "--yes"),
        "check again": ("check",),
    }
    for name, command in commands.items():
        yield name, said(*command, *(() if "--data-dir" in command or "--help" in command else at))


_MAY_FAIL = {"check", "restore", "check again", "delete aside", "matters", "questions"}
"""Commands that tell by their code that something is set aside, or was left out."""


_MAY_SAY = (
    ("add", "put the dog on the roster"),  # a newer profile took it off
    ("delete dog", "is only half added"),  # what came says that it is
)
"""What a command may refuse for, since it is so in what was taken in."""


def imports(folder: Path) -> Callable[[random.Random], str]:
    """Cases of spoiled imports, each followed by every command."""
    template = _material()[0]
    _typed(folder, "another.tsv", (*GOOD, "here level two came"))

    def case(chance: random.Random) -> str:
        with _copied(template, folder) as data:
            kind = chance.choice([_bundle, _bundle, _bundle, _backup, _backup, _settings])
            path = kind(folder, chance)
            before = said("export", folder / "before", "--data-dir", data)
            if kind is _settings:
                shutil.copyfile(path, data / "settings.toml")
                code, _, err = said("add", "--typed", folder / "another.tsv", "--data-dir", data)
            elif kind is _bundle:
                code, _, err = said("add", path, "--data-dir", data)
            else:
                code, _, err = said("restore", path, "--data-dir", data)
            assert code in (0, 1), (code, err)
            assert code == 0 or re.fullmatch(r"voicelog: [^\n]+\n", err), err
            whole = kind is not _settings or code == 0
            if not whole:
                return "settings refused"
            changed = before != said("export", folder / "before", "--data-dir", data)
            if code == 1 and not changed and chance.random() < 0.9:
                return f"refused ({kind.__name__})"
            for name, (code, out, err) in _every_command(data, folder):
                right = any(name == one and words in err for one, words in _MAY_SAY)
                assert code == 0 or right or name in _MAY_FAIL, (name, code, err)
                assert not _BAD_TEXT.search(out + err), (name, out, err)
                lines = err.splitlines()
                assert all(one.startswith("voicelog: ") for one in lines), (name, err)
                if name == "summary":
                    assert "17 Apr 2026" in out, (name, out)
            return f"borne ({kind.__name__})"

    return case


@contextmanager
def _copied(template: Path, folder: Path) -> Iterator[Path]:
    for name in ("data", "new", "out", "before"):
        shutil.rmtree(folder / name, ignore_errors=True)
    for name in ("backup.zip", "spoilt.zip"):
        (folder / name).unlink(missing_ok=True)
    shutil.copytree(template, folder / "data")
    yield folder / "data"
