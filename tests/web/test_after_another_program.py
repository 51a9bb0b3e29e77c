"""After another version a page derives first what it is about, and reads nothing that the other
version left of the rest."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import datetime

import pytest
from starlette.testclient import TestClient

from tests.another_program import dogs_that_wait, left_by_another
from tests.web.evening import keep
from voicelog.app.review.review_service import ReviewService
from voicelog.report.deriving_words import page_waits_words
from voicelog.store import Log, SessionFilter
from voicelog.web import app

HURT = ("here level three yelped", "came", "?here level four | here level five", "came")


@pytest.fixture
def page(service: ReviewService) -> Iterator[TestClient]:
    made = app.make_app(service, hosts=["testserver"], token="token", who="Anna")
    with TestClient(made) as client:
        yield client
    made.state.clips.close()


@pytest.fixture
def newest(log: Log, service: ReviewService) -> str:
    """Two sessions of Bracken and, on the last day, one of Wren, which is given."""
    for day, dog in enumerate(("bracken", "bracken", "wren"), start=1):
        words = (f"start session {dog}", *HURT)
        keep(log, words, f"{day}", at=datetime(2026, 4, day, 7, 30))
    service.refresh_stale()
    key = service.session_catalog.headings(SessionFilter(), limit=1).rows[0].key
    left_by_another(log.folder / "log.sqlite3")
    return key


def text_of(page: TestClient, address: str) -> str:
    """A page without the number that each page of a session has of its own."""
    shown = page.get(address)
    assert shown.status_code == 200
    return re.sub('"stamp":"[^"]*"', "", shown.text)


@pytest.mark.parametrize(
    "address", ["/dogs/Wren/progress", "/dogs/Wren/plan", "/dogs/Wren/before", "/session/KEY"]
)
def test_a_page_of_a_dog_derives_that_dog_and_no_other(
    page: TestClient, service: ReviewService, log: Log, newest: str, address: str
) -> None:
    database = log.folder / "log.sqlite3"
    shown = text_of(page, address.replace("KEY", newest))
    assert dogs_that_wait(database) == ["Bracken"]
    service.refresh_stale()
    assert text_of(page, address.replace("KEY", newest)) == shown


def test_a_page_of_all_dogs_says_what_it_waits_for_and_derives_nothing(
    page: TestClient, service: ReviewService, log: Log, newest: str
) -> None:
    assert newest
    for address in ("/kennel", "/matters"):
        assert page_waits_words(3) in page.get(address).text
    assert page.get("/delete").status_code == page.get("/names").status_code == 200
    assert dogs_that_wait(log.folder / "log.sqlite3") == ["Bracken", "Wren"]
    service.refresh_stale()
    for address in ("/kennel", "/matters"):
        text = page.get(address).text
        assert "being read again" not in text
        assert "yelped" in text


def test_the_evening_begins_with_the_dog_of_the_newest_session(
    page: TestClient, log: Log, newest: str
) -> None:
    assert newest
    assert page.get("/api/evening", headers={"x-voicelog-token": "token"}).status_code == 200
    assert dogs_that_wait(log.folder / "log.sqlite3") == ["Bracken"]
