"""Broken input, by the thousand: no traceback, no hang, no unbounded memory, nothing kept.

    python -m tests.bench.fuzz readings 100000
    python -m tests.bench.fuzz audio 2000
    python -m tests.bench.fuzz grammars 2000
    python -m tests.bench.fuzz settings 2000
    python -m tests.bench.fuzz databases 500
    python -m tests.bench.fuzz bundles 1000
    python -m tests.bench.fuzz page 2000
    python -m tests.bench.fuzz imports 2000

Every case follows from `--seed` and its number, and can be run alone: `--only NUMBER`. What
the program refuses in a sentence (VoicelogError) is right; any other exception is a failure,
as is a case that takes more than 10 s of work, 90 s on the clock, or 2 GB. Counts are printed;
failures end with 1.
"""

from __future__ import annotations

import argparse
import os
import random
import resource
import signal
import sys
import tempfile
import traceback
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from functools import lru_cache, partial
from pathlib import Path
from typing import Any

from tests.bench.fuzz_imports import imports
from voicelog.model import VoicelogError
from voicelog.safety.settings_file import SettingsError

__all__ = ["FUZZERS", "Case", "run"]

LIMIT_S = 10
"""Of the processor's time, s; a busy machine is no hang."""
PATIENCE_S = 90
"""On the clock, s."""
MEMORY = 2 << 30
"""Bytes of address space that a case may add."""

Case = Callable[[random.Random], str]
"""One case: what came of it, in a word or two; raises what should not be raised."""


class TooLongError(Exception):
    """A case that did not end."""


def run(fuzzer: str, count: int, seed: int = 1, only: int | None = None) -> Counter[str]:
    """Run cases in this process, or in children where the fuzzer asks for it; their outcomes.

    The outcomes of failures begin with "FAILED" and name the case.
    """
    make, apart = FUZZERS[fuzzer]
    with tempfile.TemporaryDirectory(prefix="fuzz-") as folder:
        case = make(Path(folder))
        outcomes: Counter[str] = Counter()
        for number in [only] if only is not None else range(count):
            chance = random.Random(f"{fuzzer} {seed} {number}")
            guarded = partial(_guarded, case, chance, verbose=only is not None)
            outcome = _in_a_child(guarded) if apart else guarded()
            if outcome.startswith("FAILED"):
                print(f"case {number}: {outcome}", file=sys.stderr, flush=True)
                outcome = f"FAILED at {number}: {outcome.removeprefix('FAILED ')}"
            outcomes[outcome] += 1
    return outcomes


def _guarded(case: Case, chance: random.Random, verbose: bool = False) -> str:
    try:
        with _time_limit():
            return case(chance)
    except VoicelogError as error:
        said = str(error)
        # All that is wrong with settings is told at once, a sentence on each line.
        lines = said.split("\n") if isinstance(error, SettingsError) else [said]
        if "Traceback" in said or not all(line and "\n" not in line for line in lines):
            return f"FAILED not one sentence: {said[:200]}"
        return f"refused ({type(error).__name__})"
    except Exception as error:
        if verbose:
            traceback.print_exc()
        where = traceback.extract_tb(error.__traceback__)[-1]
        return f"FAILED {type(error).__name__} in {Path(where.filename).name}:{where.lineno}"


@contextmanager
def _time_limit() -> Iterator[None]:
    def too_long(_signal: int, _frame: object) -> None:
        raise TooLongError

    signal.signal(signal.SIGPROF, too_long)
    signal.signal(signal.SIGALRM, too_long)
    signal.setitimer(signal.ITIMER_PROF, LIMIT_S)
    signal.alarm(PATIENCE_S)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.alarm(0)


def _in_a_child(work: Callable[[], str]) -> str:
    """Do it in a forked child with a limit of memory; a crash or a hang is an outcome."""
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        size = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
        resource.setrlimit(resource.RLIMIT_AS, (size + MEMORY, size + MEMORY))
        # C code does not let Python's own limit through; this one kills.
        resource.setrlimit(resource.RLIMIT_CPU, (2 * LIMIT_S, 2 * LIMIT_S))
        os.write(writer, work().encode("utf-8", "replace")[:500])
        os._exit(0)
    os.close(writer)
    with os.fdopen(reader, "rb") as pipe:
        said = pipe.read().decode()
    _, status = os.waitpid(child, 0)
    if os.WIFSIGNALED(status):
        return f"FAILED killed by {signal.Signals(os.WTERMSIG(status)).name}"
    return said or "FAILED said nothing"


def mutated(data: bytes, chance: random.Random) -> bytes:
    """Bytes changed a little or much: flipped, cut, doubled, overwritten, moved."""
    out = bytearray(data)
    for _ in range(chance.choice([1, 1, 2, 5, 20])):
        if not out:
            break
        at = chance.randrange(len(out))
        head = chance.random() < 0.5  # headers are where formats are decided
        at = min(at, chance.randrange(200)) if head else at
        match chance.randrange(7):
            case 0:
                out[at] ^= 1 << chance.randrange(8)
            case 1:
                out[at : at + 4] = chance.choice(
                    [b"\xff\xff\xff\xff", b"\0\0\0\0", b"\x7f\xff\xff\xff", b"\xff\xff\xff\x7f"]
                )
            case 2:
                del out[at : at + chance.randrange(1, 2000)]
            case 3:
                out[at:at] = chance.randbytes(chance.randrange(1, 500))
            case 4:
                out[at : at + 50] = out[chance.randrange(len(out)) :][:50]
            case 5:
                del out[at:]
            case _:
                out[at:at] = out[at : at + chance.randrange(1, 3000)]
    return bytes(out)


def misspelt(text: str, chance: random.Random) -> str:
    """Text changed: characters, words and lines dropped, doubled, exchanged, made strange."""
    parts = list(text) if chance.random() < 0.5 else text.splitlines(keepends=True)
    strange = ["\0", "\u202e", "é", "\U0001f415", "<", ";", "{", "}", "[", "]", "=", '"', "(", "|"]
    strange += [
        "-",
        "9" * 400,
        "*",
        "#",
        "\n",
        "'",
        "e999",
        "nan",
        "inf",
        "\\",
        "/",
        "$",
        "import ",
    ]
    for _ in range(chance.choice([1, 2, 4, 12])):
        at = chance.randrange(len(parts) + 1)
        match chance.randrange(4):
            case 0:
                del parts[at : at + chance.choice([1, 1, 3, 30])]
            case 1:
                parts[at:at] = [chance.choice(strange)] * chance.choice([1, 1, 2, 50])
            case 2:
                parts[at:at] = parts[at : at + chance.randrange(1, 6)]
            case _:
                if parts:
                    other = chance.randrange(len(parts))
                    parts[at : at + 1] = [parts[other]]
    return "".join(parts)


# --- readings ---------------------------------------------------------------------------

READINGS = 20
"""In a session; one case is one session."""


def _readings(_folder: Path) -> Case:
    from voicelog.app.derive import derive
    from voicelog.app.session_entries import entries_of
    from voicelog.grammar.grammar import Grammar
    from voicelog.model import (
        Action,
        Document,
        Dog,
        Reading,
        Roster,
        Transmitter,
        Utterance,
        Verdict,
    )
    from voicelog.report import html, tables, text
    from voicelog.report.summary import summarise
    from voicelog.store.records import Recording

    roster = Roster(
        dogs=(
            Dog(name="Bracken", transmitter=Transmitter(top=20)),
            Dog(name="Wren", cues=("come", "hup"), default_mode="momentary"),
        ),
        handlers=("Anna",),
    )
    grammar = Grammar.load(roster=roster)
    forms = [
        [part if isinstance(part, str) else None for part in form.parts] for form in grammar.forms
    ]
    numbers = ["one", "two", "three", "fifteen", "ninety nine", "hundred", "0", "7", "120", "zero"]

    def said(chance: random.Random) -> str:
        words: list[str] = []
        for _ in range(chance.choice([1, 1, 1, 2, 3, 5])):
            form = chance.choice(forms)
            words += [chance.choice(numbers) if part is None else part for part in form]
        line = " ".join(words)
        return misspelt(line, chance) if chance.random() < 0.3 else line

    def case(chance: random.Random) -> str:
        events: list[object] = []
        at = 0.0
        for number in range(READINGS):
            at += chance.choice([0.0, 0.5, 2.0, 5.0, 12.0, 61.0, 130.0])
            name = f"u{number}"
            words = said(chance) if number or chance.random() < 0.2 else "start session bracken"
            alternatives = tuple(said(chance) for _ in range(chance.randrange(3)))
            events += [
                Utterance(id=name, recording="r", start_s=at, end_s=at + chance.random() * 4),
                Reading(id=f"r{number}", utterance=name, words=words, by="listener", who="fuzz"),
                Verdict(
                    id=f"v{number}",
                    utterance=name,
                    status=chance.choice(["accepted", "accepted", "doubtful", "rejected"]),
                    words=words,
                    confidence=chance.random(),
                    alternatives=alternatives,
                    judge="fuzz",
                ),
            ]
            if chance.random() < 0.2:
                target = f"u{chance.randrange(number + 2)}"
                kind = chance.choice(["confirm", "void", "move", "undo", "amend", "flag", "clock"])
                value = chance.choice([None, "Wren", "Bracken", "nobody", f"{target}.1"])
                if kind == "clock":
                    value = "2026-04-18T07:30:00"
                if kind == "undo":
                    target = f"a{chance.randrange(number + 2)}"
                cause = chance.choice([None, None, name])
                events.append(
                    Action.model_validate(
                        {"id": f"a{number}", "action": kind, "target": target}
                        | {"value": value, "cause": cause}
                    )
                )
            if chance.random() < 0.1:
                events.append(
                    Reading(
                        id=f"p{number}", utterance=name, words=said(chance), by="person", who=""
                    )
                )
        began = chance.choice([None, datetime(2026, 4, 18, 7, 30, tzinfo=UTC)])
        recording = Recording(id="r", roster=roster, started_at=began, dog="Bracken")
        whole = derive(recording, events, grammar)  # type: ignore[arg-type]
        document = Document(recordings=(whole.line,))
        again = Document.model_validate_json(tables.dump(document))
        assert again.recordings[0].entries == whole.line.entries
        for session in whole.sessions:
            summary = summarise(
                session, whole.line.findings, entries_of(whole.line, session.id), began
            )
            assert text.render(summary)
            if chance.random() < READINGS / 200:
                assert "<script" not in html.render(summary)
        return "derived"

    return case


# --- audio ------------------------------------------------------------------------------


@lru_cache(maxsize=1)
def _sounds() -> dict[str, bytes]:
    """A short recording in every format."""
    import numpy as np

    from tests.audio.making import encode, noise, write

    found: dict[str, bytes] = {}
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        sound = noise(1.2, 0.1)
        two = np.stack([sound, sound[::-1]], axis=1)
        for subtype in ("PCM_U8", "PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE", "ULAW"):
            found[f"{subtype}.wav"] = write(folder / "a.wav", two, 44_100, subtype).read_bytes()
        for suffix in ("flac", "aiff", "au", "w64", "caf", "ogg"):
            subtype = "VORBIS" if suffix == "ogg" else "PCM_16"
            found[f"a.{suffix}"] = write(
                folder / f"a.{suffix}", sound, 16_000, subtype
            ).read_bytes()
        for name, codec, rate in (
            ("a.mp3", "libmp3lame", 44_100),
            ("a.m4a", "aac", 44_100),
            ("a.aac", "aac", 16_000),
            ("a.opus", "libopus", 48_000),
            ("a.webm", "libopus", 48_000),
            ("a.mka", "flac", 16_000),
        ):
            found[name] = encode(folder / name, sound, rate, codec).read_bytes()
    return found


def _audio(folder: Path) -> Case:
    from voicelog.audio.files import AudioReader
    from voicelog.audio.flac import write_flac
    from voicelog.audio.level_meter import LevelMeter

    sounds = _sounds()

    def case(chance: random.Random) -> str:
        data = mutated(sounds[chance.choice(sorted(sounds))], chance)
        if chance.random() < 0.1:
            data += chance.choice(sorted(sounds.values()))
        path = folder / f"{os.getpid()}.bin"
        path.write_bytes(data)
        try:
            meter = LevelMeter()
            with AudioReader(path) as reader:
                for block in reader:
                    meter.add(block)
                recording = reader.recording
            meter.result()
            write_flac(path, path.with_suffix(".flac"))
            return "read with a note" if recording.note else "read"
        finally:
            path.unlink()
            path.with_suffix(".flac").unlink(missing_ok=True)

    return case


# --- grammars and settings --------------------------------------------------------------


def _grammars(folder: Path) -> Case:
    from voicelog.grammar.data_folders import data_folder
    from voicelog.grammar.grammar import Grammar
    from voicelog.model import Dog, Roster

    texts = {p.name: p.read_text("utf-8") for p in (data_folder("grammars") / "en").glob("*.jsgf")}
    roster = Roster(dogs=(Dog(name="Bracken"),))
    for name, text in texts.items():
        (folder / name).write_text(text, "utf-8")

    def case(chance: random.Random) -> str:
        name = chance.choice(sorted(texts))
        try:
            if chance.random() < 0.2:
                (folder / name).write_bytes(mutated(texts[name].encode(), chance))
            else:
                spoilt = misspelt(texts[name], chance)
                (folder / name).write_text(spoilt, "utf-8", "surrogatepass")
            grammar = Grammar.load(folder, roster)
            for words in (
                "level three came neck twitch",
                "here",
                "nonsense",
                "start session bracken",
            ):
                grammar.interpret(words)
            return "loaded"
        finally:
            (folder / name).write_text(texts[name], "utf-8")

    return case


def _settings(folder: Path) -> Case:
    from voicelog.safety.settings import changed
    from voicelog.safety.settings_file import default_toml, load_settings

    text = default_toml().replace("# [dog.Juno]", "[dog.Juno]").replace("# presses_a", "presses_a")
    path = folder / "settings.toml"

    def case(chance: random.Random) -> str:
        if chance.random() < 0.1:
            path.write_bytes(mutated(text.encode(), chance))
        else:
            path.write_text(misspelt(text, chance), "utf-8", "surrogatepass")
        changed(load_settings(path, ["Juno"]))
        return "loaded"

    return case


# --- databases and bundles --------------------------------------------------------------


@lru_cache(maxsize=1)
def _small_log() -> tuple[bytes, bytes, bytes, dict[str, tuple[dict[str, bytes], str]]]:
    """The database of a small log, a bundle and a backup of it, and the bundle's files."""
    from tests.store.merging import corrected, taken_in, ticking, wav, whole
    from voicelog.store import Log
    from voicelog.store.backup import write_backup
    from voicelog.store.bundle import write_bundle

    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        with Log.open(folder / "log", now=ticking()) as log:
            recording = taken_in(log, wav(folder / "a.wav", 0.3), utterances=30)
            corrected(log, recording, 0, "level two", "Anna")
            write_bundle(log, folder / "b.zip", [whole(log, recording)], ["Bramble"])
            write_backup(log, folder / "c.zip", None)
        database = (folder / "log" / "log.sqlite3").read_bytes()
        return database, (folder / "b.zip").read_bytes(), (folder / "c.zip").read_bytes(), {}


def _databases(folder: Path) -> Case:
    from tests.store.log_cases import clock, spoken
    from voicelog.store import Log
    from voicelog.store.integrity import check_integrity

    database = _small_log()[0]
    older = sorted((Path(__file__).parents[1] / "store" / "data").glob("*.sqlite3"))
    sources = [database, database, *(path.read_bytes() for path in older)]

    def case(chance: random.Random) -> str:
        with tempfile.TemporaryDirectory(dir=folder) as name:
            data = bytearray(chance.choice(sources))
            if chance.random() < 0.4:
                data = bytearray(mutated(bytes(data), chance))
            else:
                for _ in range(chance.choice([1, 3, 30])):
                    at = chance.randrange(len(data))
                    data[at : at + 1] = chance.randbytes(1)
            (Path(name) / "log.sqlite3").write_bytes(data)
            with Log.open(Path(name), now=clock) as log:
                check_integrity(log)
                log.roster()
                for kept in log.recordings():
                    log.derived_get(kept.id)
                    log.append(spoken(kept.id, 77))
                log.derived_clear()
        return "opened and read"

    return case


def _bundles(folder: Path) -> Case:
    import json
    import zipfile

    from tests.store.log_cases import NOON
    from tests.store.merging import ticking
    from voicelog.store import Log
    from voicelog.store.backup import restore
    from voicelog.store.bagit import write_bagit
    from voicelog.store.bundle import merge_bundle

    _, bundle, backup, _ = _small_log()
    log = Log.open(folder / "target", now=ticking())
    with tempfile.TemporaryDirectory() as name:
        (Path(name) / "b.zip").write_bytes(bundle)
        with zipfile.ZipFile(Path(name) / "b.zip") as archive:
            files = {
                n.split("/data/")[1]: archive.read(n) for n in archive.namelist() if "/data/" in n
            }
    values: list[Any] = [None, "", "x" * 300, -1, 1e308, 10**30, [], {}, True]
    values += ["../../x", "\u202e", "nan"]

    def spoilt(line: str, chance: random.Random) -> str:
        if chance.random() < 0.3:
            return misspelt(line, chance).replace("\n", " ")
        try:
            whole = json.loads(line)
        except ValueError:  # spoilt before
            return line
        if not isinstance(whole, dict):
            return line
        inner = chance.choice([whole, *(v for v in whole.values() if isinstance(v, dict))])
        if inner:
            inner[chance.choice(sorted(inner))] = chance.choice(values)
        return json.dumps(whole)

    def made(path: Path, chance: random.Random) -> None:
        """A bag whose checksums agree, and whose content does not."""
        with write_bagit(path, NOON, {}) as bag:
            for name, data in files.items():
                if name.endswith(".jsonl"):
                    lines = data.decode().splitlines()
                    for _ in range(chance.choice([1, 2, 5])):
                        at = chance.randrange(len(lines))
                        lines[at] = spoilt(lines[at], chance)
                    bag.add_text(name, (ln.encode("utf-8", "replace").decode() for ln in lines))
                else:
                    part = path.with_name("part")
                    part.write_bytes(mutated(data, chance) if chance.random() < 0.3 else data)
                    bag.add_file(name, part)

    def state() -> list[object]:
        return [(one.id, one.sound, log.stamped_events(one.id)) for one in log.recordings()]

    def case(chance: random.Random) -> str:
        path = folder / "b.zip"
        kind = chance.randrange(3)
        if kind == 0:
            made(path, chance)
        else:
            path.write_bytes(mutated(bundle if kind == 1 else backup, chance))
        before = state()
        try:
            if kind == 2:
                restore(log, path, folder / "target" / "settings.toml")
            else:
                merge_bundle(log, path)
        except VoicelogError:
            assert state() == before, "something was kept of what was refused"
            raise
        finally:
            outside = {p.name for p in folder.iterdir()} - {"target", "b.zip", "part"}
            assert not outside, f"written outside: {outside}"
            left = [p.name for p in (folder / "target" / "sound").glob("*.part")]
            assert not left, f"left behind: {left}"
        return "taken in"

    return case


# --- the page ---------------------------------------------------------------------------


def _page(folder: Path) -> Case:
    from starlette.testclient import TestClient

    from tests.store.merging import taken_in, ticking, wav
    from voicelog.app.review.review_service import ReviewService
    from voicelog.model import Dog
    from voicelog.store import Log
    from voicelog.store.integrity import check_integrity
    from voicelog.web.app import make_app

    log = Log.open(folder / "log", now=ticking())
    log.put_dog(Dog(name="Bramble"))
    recording = taken_in(log, wav(folder / "a.wav", 0.3), utterances=6)
    app = make_app(ReviewService(log, log.now), hosts=["testserver"], token="token", who="Anna")
    client = TestClient(app, raise_server_exceptions=False)
    known = [recording, "Bramble", f"{recording[:8]}-1", "1", "clock", "confirm", "void", "undo"]
    known += ["../../etc/passwd", "%2e%2e%2f", "\0", "\u202e", "<script>", "'; --", "x" * 5000, ""]
    paths = ["/", "/session/{}", "/dogs", "/dogs/{}", "/new-dog", "/dogs/{}/progress"]
    paths += ["/dogs/{}/plan", "/kennel", "/enter", "/sound/{}.wav", "/api/session/{}", "/{}"]
    paths += ["/api/session/{}/readings", "/api/history/{}/{}", "/api/dog", "/api/alike"]
    paths += ["/api/prefs", "/static/{}", "/papers.css"]
    names = [
        "dog",
        "since",
        "until",
        "worst",
        "check",
        "text",
        "page",
        "from",
        "to",
        "start",
        "end",
    ]
    names += [
        "entry",
        "words",
        "do",
        "seq",
        "seen",
        "name",
        "cues",
        "top",
        "who",
        "budget",
        "value",
    ]

    def value(chance: random.Random) -> object:
        if chance.random() < 0.5:
            return chance.choice(known)
        return chance.choice([None, -1, 10**30, 1e308, [], {}, True, ["x"], {"do": "void"}, 3])

    def case(chance: random.Random) -> str:
        from urllib.parse import quote

        path = chance.choice(paths)
        while "{}" in path:
            part = chance.choice(known)
            path = path.replace("{}", quote(part, safe="%") if chance.random() < 0.8 else "a", 1)
        fields = {chance.choice(names): value(chance) for _ in range(chance.randrange(5))}
        headers = {"x-voicelog-token": "token", "origin": "http://testserver"}
        method = chance.choice(["GET", "GET", "POST", "POST", "HEAD", "PUT", "DELETE"])
        body: object = None
        match chance.randrange(3) if method == "POST" else 3:
            case 0:
                body = {"json": fields}
            case 1:
                body = {"data": {name: str(one) for name, one in fields.items()}}
            case 2:
                body = {"content": mutated(repr(fields).encode() + b"{}", chance)}
            case _:
                body = {"params": {name: str(one)[:200] for name, one in fields.items()}}
        if chance.random() < 0.2:
            headers["range"] = chance.choice(["bytes=-", "bytes=5-2", "bytes=0-99999999999", "x"])
        if chance.random() < 0.2:
            headers["cookie"] = chance.choice(["voicelog=%", "a=b; voicelog_pass=%ff", "=", ";;"])
        assert isinstance(body, dict)
        answer = client.request(method, path, headers=headers, follow_redirects=False, **body)
        assert answer.status_code < 500, f"{method} {path}: {answer.status_code}"
        assert "Traceback" not in answer.text
        html = answer.headers.get("content-type", "").startswith("text/html")
        assert not html or "<script>" not in answer.text, f"{method} {path}: not escaped"
        if chance.random() < 0.01:
            check_integrity(log)
        return f"answered {answer.status_code}"

    return case


FUZZERS: dict[str, tuple[Callable[[Path], Case], bool]] = {
    "readings": (_readings, False),
    "audio": (_audio, True),
    "grammars": (_grammars, False),
    "settings": (_settings, False),
    "databases": (_databases, True),
    "bundles": (_bundles, False),
    "page": (_page, False),
    "imports": (imports, False),
}
"""By name: how cases are made, and whether each runs in a child of its own."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one fuzzer and print its counts."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("fuzzer", choices=sorted(FUZZERS))
    parser.add_argument("count", type=int)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", type=int)
    chosen = parser.parse_args(arguments)
    unit = READINGS if chosen.fuzzer == "readings" else 1
    outcomes = run(chosen.fuzzer, -(-chosen.count // unit), chosen.seed, chosen.only)
    print(f"{chosen.fuzzer}, seed {chosen.seed}: {sum(outcomes.values()) * unit} cases")
    for outcome, number in outcomes.most_common():
        print(f"  {number * unit:7d} {outcome}")
    usage = max(
        resource.getrusage(who).ru_maxrss
        for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
    )
    print(f"  largest memory {usage // 1024} MB")
    return int(any(outcome.startswith("FAILED") for outcome in outcomes))


if __name__ == "__main__":
    sys.exit(main())
