"""The page of what is heard right: honest while little was read, then counts, links, escaping."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from starlette.testclient import TestClient

from tests.web.evening import keep
from voicelog.app.review.review_service import ReviewService
from voicelog.model import Reading
from voicelog.store import Log
from voicelog.web import app

HTML = {"accept": "text/html"}
LINES = ("start session bracken", *["level five came"] * 30)


@pytest.fixture
def page(service: ReviewService, log: Log) -> Iterator[TestClient]:
    (log.folder / "settings.toml").write_text("learn_entries = 20\n", encoding="utf-8")
    made = app.make_app(service, hosts=["testserver"], token="token", who="Anna")
    with TestClient(made, raise_server_exceptions=False) as client:
        yield client
    made.state.clips.close()


def corrected(log: Log, recording: str, count: int, words: str = "level nine came") -> None:
    """The first lines after the opening one are read as `words`."""
    log.append(
        [
            Reading(
                id=f"p-{number}",
                utterance=f"u-{recording[:12]}-{number:06d}",
                words=words,
                by="person",
                who="Anna",
            )
            for number in range(1, count + 1)
        ]
    )


def test_with_little_read_it_says_how_many_are_missing(page: TestClient, log: Log) -> None:
    corrected(log, keep(log, LINES), 12)
    reply = page.get("/learn", headers=HTML)
    assert reply.status_code == 200
    assert "12 entries have been reviewed by a person so far; 8 more are needed" in reply.text
    assert "learn_entries" not in reply.text
    assert "heard as" not in reply.text


def test_then_it_shows_shares_confusions_and_links_to_where_they_were(
    page: TestClient, service: ReviewService, log: Log
) -> None:
    recording = keep(log, LINES)
    none = page.get("/learn").text
    assert "No entry has been reviewed by a person yet; 20 are needed to say how well" in none
    corrected(log, recording, 21)
    service.refresh_stale()
    text = page.get("/learn", headers=HTML).text
    assert "0 of 21 (0%, 0% to 15%) right" in text  # Wilson: z² / (21 + z²), z = 1.96
    assert "heard as &#34;five&#34; 21 times of the 21 it was said" in text
    key = service.session_catalog.line(recording).sessions[0].id
    entry = f"u-{recording[:12]}-000021"
    link = f'href="/session/{key}#e-{entry}"'
    assert link in text
    assert f'"id":"{entry}"' in page.get(f"/session/{key}", headers=HTML).text


def test_what_was_said_or_heard_is_escaped(
    page: TestClient, service: ReviewService, log: Log
) -> None:
    evil = "<script>alert(1)</script>"
    recording = keep(log, ("start session bracken", *[f"level {evil} came"] * 21))
    corrected(log, recording, 21)
    service.refresh_stale()
    text = page.get("/learn", headers=HTML).text
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in text
    assert evil not in text
