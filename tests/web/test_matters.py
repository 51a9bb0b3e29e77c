"""The page of open matters: the list with session and sound, and closing one with a name."""

from __future__ import annotations

import re
from datetime import datetime
from pathlib import Path

from starlette.testclient import TestClient

from tests.web.evening import ROSTER, keep, tone
from tests.web.test_app import TOKEN, page
from voicelog.app.add import add_file
from voicelog.app.open_file import IntakeOptions
from voicelog.app.review.review_service import ReviewService
from voicelog.safety.settings import Settings
from voicelog.store import Log
from voicelog.web.app import make_app

__all__ = ["page"]

SNAPPED = ("start session bracken", "here no button snapped", "came")


def test_a_matter_is_shown_heard_and_closed(
    page: TestClient, log: Log, service: ReviewService
) -> None:
    assert "Nothing is open." in page.get("/matters").text
    keep(log, SNAPPED, at=datetime(2026, 4, 18, 7, 30), sound=tone(20.0))
    service.refresh_stale()
    text = page.get("/matters").text
    assert "Snapped on 18 Apr 2026 (rep 1): open." in text
    (sound,) = re.findall(r'src="(/sound/[^"]+)"', text)
    assert page.get(sound.replace("&amp;", "&")).status_code == 200
    (session,) = re.findall(r'href="(/session/[^"]+)"', text)
    assert page.get(session).status_code == 200
    (name,) = re.findall(r'data-matter="(\w+)"', text)
    (version,) = re.findall(r'data-version="(\w+)"', text)
    deed = {
        "do": "close",
        "id": name,
        "version": version,
        "reason": "seen by the vet",
        "consulted": "",
    }
    for wrong in (
        {},
        {"consulted": "Dr Fern", "reason": " "},
        {"consulted": "Dr Fern", "version": "00000000"},
        {"consulted": "Dr Fern", "do": "forget"},
        {"consulted": ["Dr Fern"]},
    ):
        answer = page.post("/api/matter", json=deed | wrong, headers=TOKEN)
        assert answer.status_code == 400
        assert not log.matter_events()
    assert page.post("/api/matter", json=deed).status_code == 403
    unnamed = make_app(service, hosts=["testserver"], token="token", who="root", named=False)
    nobody = TestClient(unnamed, base_url="http://testserver")
    told = nobody.post("/api/matter", json=deed | {"consulted": "Dr Fern"}, headers=TOKEN)
    assert told.status_code == 400
    assert "I do not know who you are" in told.json()["error"]["message"]
    assert not log.matter_events()
    done = page.post("/api/matter", json=deed | {"consulted": "Dr Fern"}, headers=TOKEN)
    assert done.json()["ok"]
    (event,) = log.matter_events()
    assert (event.who, event.reason, event.consulted) == ("Anna", "seen by the vet", "Dr Fern")
    assert "Open it again" in page.get("/matters").text
    again = page.post("/api/matter", json=deed | {"do": "reopen"}, headers=TOKEN)
    assert "opened again by Anna: seen" in again.json()["words"]


def test_a_matter_has_the_terminals_word_for_its_weight_and_typed_notes_no_player(
    page: TestClient, log: Log, service: ReviewService, tmp_path: Path
) -> None:
    notes = tmp_path / "notes.txt"
    notes.write_text("here tap three yelped came\nno contact\n", encoding="utf-8")
    options = IntakeOptions(ROSTER, Settings(), dog="Wren", typed=True)
    add_file(log, notes, options)
    service.refresh_stale()
    text = page.get("/matters").text
    assert "<b>CAUTION</b> Strong sign: yelped" in text
    assert "OPEN" not in text
    assert "<audio" not in text
