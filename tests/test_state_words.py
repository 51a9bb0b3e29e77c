"""Every face names the four states of an entry by the same four words, and by no others."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import get_args

import pytest

pytest.importorskip("starlette", reason="the page needs voicelog[review]")

from starlette.testclient import TestClient

from tests.analysis.dogs import good
from tests.app.test_soundcheck import LINE, heard
from tests.cli.conftest import voicelog as voicelog
from tests.cli.run import Voicelog, typed_file
from tests.report.build import full
from tests.web.evening import keep, tone
from voicelog.app.review.review_service import ReviewService
from voicelog.app.soundcheck import phrase_statuses
from voicelog.live import screen
from voicelog.model import Dog, Reading, Status, Utterance
from voicelog.report import html, markdown, text
from voicelog.report.data_package import datapackage
from voicelog.report.owner_report import build
from voicelog.report.state_words import StateWord, entry_word, state_class, status_word
from voicelog.safety.settings import Settings
from voicelog.store import Log
from voicelog.web import app

WORDS = set(get_args(StateWord))
OTHERS = re.compile(
    r"unheard|\bstruck\b|unclear|doubt|\bunsure\b|not sure\b|not heard for sure|not for the log"
    r"|to be checked|to look at|to be looked at|\blooks?\b(?! (?:at|for)\b)|\bvoided\b|rejected",
    re.IGNORECASE,
)
"""Other words for the four states. "Look at the skin" is advice; "strike that" a command."""
SAY = re.compile(r"all\|doubtful\|none|doubtful: those to check|default: doubtful")
"""The option `--say doubtful`, which keeps its name and says what it means."""
NOW = datetime(2026, 4, 20, 20, tzinfo=UTC)
LINES = (
    "start session bracken",
    "here level three came",
    "here levle three came",
    "what a lovely morning",
    "here level nine came",
    "strike that",
    "flag that",
)


def holds(face: str) -> None:
    assert (found := OTHERS.search(face)) is None, face[max(0, found.start() - 80) :][:160]


@pytest.fixture
def log(voicelog: Voicelog, tmp_path: Path) -> Path:
    """A log with a session in which every state occurs."""
    voicelog("dogs", "put", "Bracken", "--top", "20")
    path = typed_file(tmp_path, *LINES)
    holds(voicelog("add", "--typed", path, "--at", "2026-04-18T07:30").out)
    return tmp_path / "data"


def read_by_anna(log: Log, recording: str) -> None:
    said = [event.id for event in log.events(recording) if isinstance(event, Utterance)]
    log.append(
        [
            Reading(id=f"p-{one}", utterance=one, words="level nine came", by="person", who="Anna")
            for one in said[1:]
        ]
    )


@pytest.fixture
def page(log: Path) -> Iterator[TestClient]:
    with Log.open(log, now=lambda: NOW) as opened:
        service = ReviewService(opened, lambda: NOW)
        service.refresh_stale()
        made = app.make_app(service, hosts=["testserver"], token="token", who="Anna")
        with TestClient(made) as client:
            yield client
        made.state.clips.close()


def test_a_state_has_one_word_and_one_class() -> None:
    statuses: tuple[Status, ...] = get_args(Status)
    assert {status_word(status) for status in statuses} | {"void"} == WORDS
    assert {state_class(word) for word in get_args(StateWord)} == {
        "sure", "check", "not-understood", "void",
    }  # fmt: skip


def test_the_summary_in_every_form() -> None:
    made = full()
    assert {rep.word for rep in made.reps} == WORDS - {"not understood"}
    for face in (
        text.render(made),
        text.render(made, plain=True),
        markdown.render(made),
        html.render(made),
    ):
        holds(face)
        for word in ("check", "void", "1 sound not understood", "2 entries to check"):
            assert word in " ".join(face.split())


def test_every_command_that_tells_of_entries(voicelog: Voicelog, log: Path) -> None:
    for command in (
        ("summary", "Bracken"),
        ("summary", "Bracken", "--format", "markdown"),
        ("progress", "Bracken", "--all"),
        ("plan", "Bracken"),
        ("kennel",),
        ("rehear",),
        ("words", "try", "levle three came"),
        ("delete", "sound", "--older-than", "0"),
    ):
        done = voicelog(*command)
        assert done.code == 0, (command, done.err)
        holds(done.out)
    assert "Not counted: rep 2 (check) and rep 3 (void)" in " ".join(
        voicelog("summary", "Bracken").out.split()
    )
    for name in ("add", "listen", "rehear", "review", "soundcheck", "voice", "learn", "summary"):
        holds(SAY.sub("", " ".join(voicelog(name, "--help").out.split())))


def test_what_was_learnt(voicelog: Voicelog, log: Path) -> None:
    (log / "settings.toml").write_text("learn_entries = 20\n", encoding="utf-8")
    lines = [LINES[0], *["level five came", "?level five | level nine came", "x talk"] * 8]
    with Log.open(log, now=lambda: NOW) as opened:
        (typed,) = opened.recordings()
        read_by_anna(opened, typed.id)
        read_by_anna(opened, keep(opened, lines, sound=tone(1.0)))
    for command in (("learn",), ("rehear", "--day", "2026-04-18")):
        face = voicelog(*command).out
        holds(face)
        assert "to check, the right one offered" in face
        assert "not understood" in face


def test_the_page(page: TestClient) -> None:
    listed = page.get("/").text
    address = re.findall(r'href="(/session/[^"]+)"', listed)[0]
    shown = page.get(address, headers={"accept": "text/html"}).text
    for face in (listed, shown, page.get("/learn").text, page.get("/kennel").text):
        holds(face)
    state = json.loads(re.findall(r'id="state">(.+?)</script>', shown, flags=re.DOTALL)[0])
    assert {row["word"] for row in state["rows"]} == WORDS
    for entry in (row["id"] for row in state["rows"]):
        key = re.findall(r'data-recording="([^"]+)"', shown)[0]
        holds(" ".join(page.get(f"/api/history/{key}/{entry}").json()["lines"]))


def test_the_pages_script_and_style_know_no_other_word() -> None:
    script = "".join(one.read_text(encoding="utf-8") for one in app.STATIC.glob("*.js"))
    style = (app.STATIC / "review.css").read_text(encoding="utf-8")
    assert set(re.findall(r'\.word [!=]== "([^"]+)"', script)) == WORDS
    holds(style)
    for word in ("check", "not-understood", "void"):
        assert f".row.{word} " in style


def test_the_live_screen_and_the_soundcheck(page: TestClient, log: Path) -> None:
    with Log.open(log, now=lambda: NOW) as opened:
        service = ReviewService(opened, lambda: NOW)
        (line,) = [service.session_catalog.line(kept.id) for kept in opened.recordings()]
    entries = tuple((entry_word(entry), entry.reading) for entry in line.entries)
    face = screen.page(screen.ScreenContent(reps=3, check=1, entries=entries))
    holds(face)
    assert {mark for mark, _ in entries} == WORDS
    assert "3 reps, 1 to check" in face
    found = phrase_statuses(LINE, heard((LINE[1], "accepted"), (LINE[2], "doubtful")))
    assert {status_word(status) for _, status in found} == WORDS - {"void"}


def test_the_owners_report_and_the_tables_description() -> None:
    vague = good(1)._replace(reps=tuple(r._replace(state="check") for r in good(1).reps))
    one = build((good(0), vague), Dog(name="Juno"), Settings(), NOW.date())
    for line in (*one.in_short, *one.does, *one.trained, *one.went_wrong, *one.go_on, *one.stop):
        holds(line)
    for table in json.loads(datapackage())["resources"]:
        holds(table["description"])
        for field in table["schema"]["fields"]:
            if field["name"] != "status":  # says which of the contract's words is which
                holds(field["description"])
