"""Pages and JSON over HTTP: what is shown, one shape of error, and who is kept out."""

from __future__ import annotations

import html
import json
import re
import time
from collections.abc import Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any, Protocol, get_args
from urllib.parse import quote

import pytest
from starlette.routing import Mount, Route
from starlette.testclient import TestClient

from tests.known import known
from tests.web.evening import FULL, LEVELS, ROSTER, keep, tone
from voicelog.app.add import add_file
from voicelog.app.open_file import IntakeOptions
from voicelog.app.review.errors import ForbiddenError
from voicelog.app.review.review_service import ReviewService
from voicelog.cli.app import COMMANDS
from voicelog.model import Dog, Transmitter
from voicelog.model.review import Do
from voicelog.report.review_words import DONE
from voicelog.safety.settings import Settings
from voicelog.store import Log, SessionFilter
from voicelog.web import app, entrance, security
from voicelog.web.dogs import dog_with_version
from voicelog.web.played_sound import PlayedSound
from voicelog.web.security import Authenticator

TOKEN = {"x-voicelog-token": "token"}
HTML = {"accept": "text/html"}


@pytest.fixture
def page(service: ReviewService) -> Iterator[TestClient]:
    made = app.make_app(service, hosts=["testserver"], token="token", who="Anna")
    with TestClient(made, raise_server_exceptions=False) as client:
        yield client
    made.state.clips.close()


def first_key(service: ReviewService, recording: str) -> str:
    service.refresh_stale()
    return service.session_catalog.line(recording).sessions[0].id


class Reply(Protocol):
    """What the client gives back; its class is of one of two libraries, as is installed."""

    @property
    def status_code(self) -> int: ...
    @property
    def text(self) -> str: ...
    @property
    def headers(self) -> Mapping[str, str]: ...
    def json(self) -> Any: ...


def error_of(reply: Reply) -> tuple[int, str, str]:
    told = reply.json()
    assert set(told) == {"ok", "error"}
    assert set(told["error"]) == {"code", "message", "offers"}
    assert told["ok"] is False
    return reply.status_code, told["error"]["code"], told["error"]["message"]


def test_the_list_shows_when_which_dog_reps_to_check_and_the_worst(
    page: TestClient, service: ReviewService, log: Log
) -> None:
    keep(log, LEVELS)
    service.refresh_stale()
    text = page.get("/").text
    for shown in (
        "Mon 20 Apr 2026, 7:30",
        "Bracken",
        "<b>2</b>",
        'class="caution">caution',
    ):
        assert shown in text
    assert "No session matches all of that" in page.get("/?dog=Wren").text


def test_an_empty_log_says_what_to_do(page: TestClient) -> None:
    assert "begin with Add" in page.get("/").text
    evening = page.get("/evening").text
    assert "Nothing is in the log yet." in evening
    assert 'href="/add"' in evening.partition('class="none"')[2]


def test_the_list_has_leaves_that_keep_the_filter(
    page: TestClient, service: ReviewService, log: Log, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(app, "LEAF", 2)
    start = datetime(2026, 1, 1, 7, 30)
    for day in range(3):
        keep(log, ("start session wren", "here came"), f"{day}", at=start + timedelta(days=day))
    service.refresh_stale()
    first = page.get("/?dog=Wren").text
    assert "1 to 2 of 3" in first
    assert 'href="/?dog=Wren&amp;leaf=2" rel="next"' in first
    second = page.get("/?dog=Wren&leaf=2").text
    assert "3 to 3 of 3" in second
    assert 'rel="next"' not in second


@pytest.mark.parametrize("query", ["since=soon", "worst=dire", "until=2026-99-99"])
def test_a_filter_that_is_none_is_refused(page: TestClient, query: str) -> None:
    reply = page.get(f"/?{query}", headers=HTML)
    assert reply.status_code == 400
    assert "choose again" in reply.text


def test_the_menu_leads_to_the_plan_of_each_dog(page: TestClient, log: Log) -> None:
    assert '<a href="/plan"' in page.get("/more").text
    shown = page.get("/plan").text
    for dog in log.roster().dogs:
        assert f'href="/dogs/{dog.name}/plan"' in shown
        assert page.get(f"/dogs/{dog.name}/plan").status_code == 200


def test_the_menu_leads_to_the_progress_of_each_dog_that_was_worked(
    page: TestClient, service: ReviewService, log: Log
) -> None:
    assert "Add a recording or notes" in page.get("/progress").text
    keep(log, ("start session bracken", "here came"))
    service.refresh_stale()
    reply = page.get("/progress", follow_redirects=False)
    assert (reply.status_code, reply.headers["location"]) == (303, "/dogs/Bracken/progress")
    keep(log, ("start session wren", "here no button came"), "other")
    service.refresh_stale()
    shown = page.get("/progress").text
    assert '<a href="/progress" class="rest" aria-current="page">Progress</a>' in shown
    for dog in ("Bracken", "Wren"):
        assert f'href="/dogs/{dog}/progress"' in shown
        assert page.get(f"/dogs/{dog}/progress").status_code == 200


def test_the_menu_leads_to_the_only_dogs_plan(page: TestClient, log: Log) -> None:
    log.remove_dog("Wren")
    reply = page.get("/plan", follow_redirects=False)
    assert (reply.status_code, reply.headers["location"]) == (303, "/dogs/Bracken/plan")


@pytest.mark.parametrize("typed", [True, False])
def test_a_session_without_sound_says_so_once_and_has_no_button_to_play(
    page: TestClient, service: ReviewService, log: Log, typed: bool
) -> None:
    lines = ("start session bracken", "here level three yelped", "here level two")
    recording = keep(log, lines, listeners=("typed 1",) if typed else ("quick 1",))
    key = first_key(service, recording)
    shown = page.get(f"/session/{key}").text
    why = "was typed, so there is no sound to play" if typed else "Found no sound of morning.wav"
    assert shown.partition('<script type="application/json"')[0].count(why) == 1
    assert 'data-sound=""' in shown
    assert ">Play" not in shown
    groups = re.findall(r'data-group="([^"]+)"', shown)
    told = [
        page.get(f"/api/session/{key}/findings", params={"group": html.unescape(one)}).json()[
            "html"
        ]
        for one in groups
    ]
    assert any("Show rep 1" in one for one in told)
    assert not any("Hear rep" in one for one in told)


def test_what_to_do_next_time_and_what_is_open_is_there_without_unfolding(
    page: TestClient, service: ReviewService, log: Log
) -> None:
    key = first_key(service, keep(log, ("start session bracken", "here level three yelped")))
    shown = re.sub(r"<details.*?</details>", "", page.get(f"/session/{key}").text, flags=re.DOTALL)
    assert (
        "Next time: At such a sign thumb off at once, a minute of rest, and look at fit and coat."
        in shown
    )
    assert '<a href="/matters">1 open matter: see Open matters</a>' in shown
    assert shown.index("<h2>Next session</h2>") < shown.index("<h2>Counts</h2>")


def test_notes_typed_without_times_show_none(
    page: TestClient, service: ReviewService, log: Log, tmp_path: Path
) -> None:
    notes = tmp_path / "notes.txt"
    notes.write_text(
        "start session wren\nskin red left side\nhere tap three ear flick\nhere no button came\n"
    )
    add_file(log, notes, IntakeOptions(ROSTER, Settings(), dog="Wren", typed=True))
    service.refresh_stale()
    (key,) = re.findall(r'href="/session/([^"]+)"', page.get("/?dog=Wren").text)
    shown = page.get(f"/session/{key}").text
    state = json.loads(html.unescape(shown.split('id="state">')[1].split("</script>")[0]))
    assert {one["at"] for one in state["rows"]} == {""}
    assert {one["at"] for one in state["reps"]} == {""}
    assert "<b>Rep 1</b>: how it ended was not said" in shown
    assert "red (check)" in shown
    assert "0:00" not in shown.replace('placeholder="3:07"', "")
    assert {one["at"] for one in page.get("/api/evening").json()["cards"]} == {""}


def test_typed_lines_that_were_not_understood_wait_on_the_page_and_in_the_evening(
    page: TestClient, service: ReviewService, log: Log, tmp_path: Path
) -> None:
    notes = tmp_path / "notes.txt"
    notes.write_text("here no button came\nhere level 3 twice came\nlovely day\nyelpd at 7\n")
    add_file(log, notes, IntakeOptions(ROSTER, Settings(), dog="Wren", typed=True))
    service.refresh_stale()
    listed = page.get("/?dog=Wren").text
    assert '<td data-name="to check"><b>3</b></td>' in listed  # as many as wait in the evening
    (key,) = re.findall(r'href="/session/([^"]+)"', listed)
    shown = html.unescape(page.get(f"/session/{key}").text)
    assert "one may tell of pain or stress: 'yelpd at 7'" in shown
    assert "Nothing to check" not in shown
    state = json.loads(shown.split('id="state">')[1].split("</script>")[0])
    first, second, third = (
        next(row for row in state["rows"] if row["id"] == name) for name in state["check"]
    )
    assert (first["said"], first["why"]) == (
        "yelpd at 7",
        "in no count; may tell of pain or stress",
    )
    assert second["offers"] == [
        "here level three called twice came",
        "here level three level three came",
    ]
    assert (third["said"], third["weighs"]) == ("lovely day", False)
    cards = page.get("/api/evening").json()["cards"]
    assert [one["said"] for one in cards] == [
        "yelpd at 7",
        "here level 3 twice came",
        "lovely day",
    ]
    assert not any(one["confirm"] for one in cards)
    for at in ("/kennel", "/dogs/Wren/plan", "/dogs/Wren/progress"):
        told = page.get(at, headers=HTML).text.partition("<main")[2]
        assert re.search(r'<a href="/evening">[^/]*3 lines of your notes', told), at
    for one in cards:
        deed = {"do": "void", "entry": one["id"], "version": one["version"]}
        assert page.post(f"/api/evening/{key}", json=deed, headers=TOKEN).json()["ok"] is True
    assert page.get("/api/evening").json()["cards"] == []
    assert "Nothing to check" in page.get(f"/session/{key}").text


def test_no_line_that_may_tell_of_harm_waits_for_another_evening(
    page: TestClient, service: ReviewService, log: Log, tmp_path: Path
) -> None:
    notes = tmp_path / "notes.txt"
    harmful = (
        "here no button, no yelp, came",
        "he cried",
        "skin not clear",
        "blew past the whistle",
    )
    lines = ("here no button came", "here level 3? came", "lovely day", "skin rd", *harmful)
    notes.write_text("\n".join(lines) + "\n")
    add_file(log, notes, IntakeOptions(ROSTER, Settings(), dog="Wren", typed=True))
    service.refresh_stale()
    page.post("/api/prefs", json={"who": "Anna", "budget": 1}, headers=TOKEN)
    (key,) = re.findall(r'href="/session/([^"]+)"', page.get("/?dog=Wren").text)
    for done in (False, True):
        shown = html.unescape(page.get(f"/session/{key}").text)
        state = json.loads(shown.split('id="state">')[1].split("</script>")[0])
        said = {row["id"]: row["said"] for row in state["rows"]}
        ordered = [said[name] for name in state["check"]]
        assert set(ordered[: state["tonight"]]) >= set(harmful)
        assert ordered[state["tonight"] :] == ["lovely day"]
        assert ("the rest may wait, but not what may tell of harm" in shown) == done
        (read,) = (row for row in state["rows"] if row["said"] == "here no button came")
        deed = {"do": "confirm", "entry": read["id"], "version": read["version"]}
        if not done:
            assert page.post(f"/api/session/{key}", json=deed, headers=TOKEN).json()["ok"] is True


def test_the_page_never_takes_the_accounts_name_for_a_persons(
    service: ReviewService, log: Log
) -> None:
    made = app.make_app(service, hosts=["testserver"], token="token", who="root", named=False)
    with TestClient(made) as page:
        shown = page.get("/more").text
        assert "Your name?" in shown
        assert "root" not in shown
        log.put_handler("Anna")
        assert "You: <bdi>Anna</bdi>" in page.get("/more").text
        log.put_handler("Ben")
        assert "Your name?" in page.get("/more").text
        page.post("/api/prefs", json={"who": "", "budget": 4}, headers=TOKEN)
        assert "Your name?" in page.get("/more").text
        page.post("/api/prefs", json={"who": "Ben", "budget": 4}, headers=TOKEN)
        assert "You: <bdi>Ben</bdi>" in page.get("/more").text
    made.state.clips.close()


_PAPERS = ("/progress", "/plan", "/kennel", "/matters", "/learn")


def test_what_is_reached_by_way_of_more_marks_more_as_the_place(page: TestClient) -> None:
    """The phone's bar shows no other word for it."""
    marked = re.compile(r'<a href="([^"]+)"[^>]* aria-current="(page|true)"')
    listed = re.findall(r'<li><a href="([^"]+)"', page.get("/more").text)
    assert {"/plan", "/settings", "/delete"} < set(listed)
    for at in listed:
        own = [(at, "page")] if at in _PAPERS else []
        found = marked.findall(page.get(at).text)
        assert found == [*own, ("/more", "true")], at
    assert marked.findall(page.get("/more").text) == [("/more", "page")]
    assert marked.findall(page.get("/add").text) == [("/add", "page")]
    assert not marked.findall(page.get("/new-dog").text)


def test_no_page_sends_to_the_terminal_for_what_the_page_has(
    page: TestClient, service: ReviewService, log: Log
) -> None:
    """A session with a rep to answer for, more open matters than the kennel shows, all other
    pages."""
    bad = ("start session bracken", "here level three yelped", "here level nine", "growled")
    keys = []
    for day in range(1, 5):
        recording = keep(log, bad, f"day{day}", at=datetime(2026, 4, day, 7))
        keys.append(first_key(service, recording))
    pages = [f"/session/{keys[0]}", "/kennel", "/plan", "/more", "/matters", "/evening", "/learn"]
    pages += [f"/dogs/Bracken{at}" for at in ("", "/progress", "/plan", "/before")]
    pages += ["/", "/dogs", "/people", "/names", "/settings", "/words", "/take-out", "/voice"]
    pages += [
        "/phone",
        "/watch",
        "/rehear",
        "/share",
        "/upkeep",
        "/lock",
        "/delete",
        "/add",
        "/live",
    ]
    named = re.compile(rf"voicelog ({'|'.join(COMMANDS)})\b")
    told = {at: page.get(at, headers=HTML).text for at in pages}
    assert {at: named.findall(text) for at, text in told.items() if named.search(text)} == {}
    assert re.search(r"[Rr]eps? [\d, and]+.*, (each )?with a question, asked above", told[pages[0]])
    kennel = re.findall(
        r"<a href=\"/matters\">(?:<bdi>)?([^<]*open: see Open matters\.)", told["/kennel"]
    )
    assert kennel, told["/kennel"]
    for at in ("/dogs/Bracken/progress", "/dogs/Bracken/plan", "/dogs/Bracken/before"):
        assert '<a href="/matters">' in told[at].partition("<main")[2], at
        assert not re.search(r"<b>(<bdi>)?\d{8}", told[at]), at


def test_everything_said_or_typed_is_escaped(
    page: TestClient, service: ReviewService, log: Log
) -> None:
    evil = '<script>alert("x")</script>'
    log.put_dog(Dog(name=evil))
    recording = keep(log, (*LEVELS, f"x {evil}"), evil[:8])
    key = first_key(service, recording)
    page.post("/api/prefs", json={"who": evil, "budget": 4}, headers=TOKEN)
    entry = service.session_catalog.line(recording).entries[0].id
    version = service.view(key).entries[entry].version
    deed = {"do": "confirm", "entry": entry, "version": version}
    parts = page.post(f"/api/session/{key}", json=deed, headers=TOKEN).json()["parts"]
    pages = ["".join(parts.values())] + [
        page.get(at).text for at in ("/", f"/session/{key}", "/dogs")
    ]
    for text in pages:
        assert "<script>alert" not in text
    assert "\\u003cscript>alert" in pages[2]
    assert "&lt;script&gt;" in pages[3]


def test_a_change_answers_with_what_changed_and_no_more(
    page: TestClient, service: ReviewService, log: Log
) -> None:
    recording = keep(log, LEVELS)
    key = first_key(service, recording)
    row = service.view(key).rows[3]
    deed = {"do": "read", "entry": row.entry.id, "version": row.version, "words": "level nine"}
    stamp = page.get(f"/api/session/{key}").json()["whole"]["stamp"]
    told = page.post(f"/api/session/{key}?seen={stamp}", json=deed, headers=TOKEN).json()
    assert told["ok"]
    assert told["changed"][0].startswith("Rep 1: mark sure")
    assert told["counts"] == ["1 rep changed", "3 findings changed", "1 to check"]
    since = told["since"]
    assert [one["id"] for one in since["rows"]["changed"]] == [row.entry.id]
    assert since["check"] == {"gone": [row.entry.id], "added": []}
    assert [one["cells"][1] for one in since["reps"]["changed"]] == ["cont. 9"]
    assert "levels" in since["parts"]
    assert "next" not in since["parts"] or "set" not in since["parts"]
    again = page.post(f"/api/session/{key}", json=deed, headers=TOKEN)
    status, code, message = error_of(again)
    assert (status, code) == (409, "changed")
    assert "now reads 'level nine' (Anna)" in message


def test_a_word_that_is_none_is_answered_with_offers(
    page: TestClient, service: ReviewService, log: Log
) -> None:
    key = first_key(service, keep(log, LEVELS))
    row = service.view(key).rows[3]
    deed = {"do": "read", "entry": row.entry.id, "version": row.version, "words": "levle nine"}
    reply = page.post(f"/api/session/{key}", json=deed, headers=TOKEN)
    assert error_of(reply)[:2] == (422, "not-a-note")
    assert reply.json()["error"]["offers"][0] == "level nine"


def test_page_and_json_tell_the_same_sentence(page: TestClient) -> None:
    status, code, message = error_of(page.get("/session/none"))
    assert (status, code) == (404, "not-there")
    reply = page.get("/session/none", headers=HTML)
    assert reply.status_code == 404
    assert message in reply.text
    assert 'data-code="not-there"' in reply.text
    assert error_of(page.get("/nowhere"))[:2] == (404, "not-there")
    assert error_of(page.get("/api/dog"))[:2] == (400, "bad-request")


@pytest.mark.parametrize(
    "body", [b"", b"[]", b"{", b'{"do": "erase", "version": ""}', b'{"do": "void", "x": 1}']
)
def test_a_request_this_page_does_not_make_is_refused(
    page: TestClient, service: ReviewService, log: Log, body: bytes
) -> None:
    key = first_key(service, keep(log, LEVELS))
    reply = page.post(f"/api/session/{key}", content=body, headers=TOKEN)
    assert error_of(reply)[:2] == (400, "bad-request")


def test_a_damaged_database_is_said_so_and_nothing_of_the_inside(
    page: TestClient, service: ReviewService, log: Log
) -> None:
    keep(log, LEVELS)
    service.refresh_stale()
    log.close()
    with (log.folder / "log.sqlite3").open("r+b") as file:
        file.write(b"\xff" * 8192)
    status, code, message = error_of(page.get("/"))
    assert (status, code) == (500, "failed")
    assert "is damaged" in message
    assert "Traceback" not in page.get("/", headers=HTML).text


def test_a_mistake_inside_tells_nothing_of_the_inside(
    page: TestClient, service: ReviewService, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise RuntimeError("secret path")

    monkeypatch.setattr(service.session_catalog, "headings", broken)
    status, _, message = error_of(page.get("/"))
    assert status == 500
    assert "secret" not in message


# --- sound ------------------------------------------------------------------------------


def test_sound_comes_whole_or_in_the_part_that_is_asked_for(page: TestClient, log: Log) -> None:
    recording = keep(log, LEVELS, sound=tone(4.0))
    whole = page.get(f"/sound/{recording}.wav?from=1&to=2")
    assert (whole.status_code, len(whole.content)) == (200, 44 + 32_000)
    part = page.get(f"/sound/{recording}.wav?from=1&to=2", headers={"range": "bytes=10-19"})
    assert (part.status_code, part.content) == (206, whole.content[10:20])
    assert part.headers["content-range"] == f"bytes 10-19/{len(whole.content)}"


def test_a_guess_at_talk_is_taken_only_where_its_sound_was_played(
    service: ReviewService, log: Log, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Held here, not in the page: a reload forgets nothing, and no other can claim it."""
    passed = [100.0]
    monkeypatch.setattr(app, "PlayedSound", lambda: PlayedSound(lambda: passed[0]))
    lines = ("start session wren", "here no button came", "x whined retrieve")
    recording = keep(log, lines, sound=tone(20.0))
    key = first_key(service, recording)
    lock = Authenticator()
    made = app.make_app(service, hosts=["testserver"], token="token", who="Anna", lock=lock)
    with TestClient(made) as mine, TestClient(made) as other:
        for client in (mine, other):
            client.get(f"/open/{lock.secret}")
        rows = mine.get(f"/api/session/{key}").json()["whole"]["rows"]
        row = next(one for one in rows if one["confirm"] == "take")
        deed = {"do": "confirm", "entry": row["id"], "version": row["version"]}
        stretch = {"from": f"{row['from'] - 0.7:.2f}", "to": f"{row['to'] + 0.7:.2f}"}
        short = {"from": stretch["from"], "to": f"{row['to'] - 0.5:.2f}"}

        def take(client: TestClient, at: str = "session") -> Reply:
            return client.post(f"/api/{at}/{key}", json=deed, headers=TOKEN)

        def says(heard: Mapping[str, str]) -> bool:
            at = f"/api/played/{recording}"
            return bool(mine.post(at, json=heard, headers=TOKEN).json()["heard"])

        def opens(client: TestClient) -> bool:
            return row["id"] in html.unescape(
                known(re.search('data-heard="(.*?)"', client.get(f"/session/{key}").text)).group(1)
            )

        assert says(stretch) is False  # no sound was sent
        for heard in (stretch, short):
            mine.get(f"/sound/{recording}.wav", params=heard)
        passed[0] += 1.0
        assert says(stretch) is False  # it lasts longer
        passed[0] += 10.0
        assert says(short) is True
        assert opens(mine) is False
        for at in ("session", "evening"):
            status, _, message = error_of(take(mine, at))
            assert (status, "play it once to its end" in message) == (400, True)
        assert says(stretch) is True
        assert (opens(mine), opens(other)) == (True, False)
        assert take(other).status_code == 400
        assert take(mine).json()["ok"] is True
    made.state.clips.close()


def test_what_a_stop_may_hang_on_is_decided_only_where_its_sound_was_played(
    service: ReviewService, log: Log, monkeypatch: pytest.MonkeyPatch
) -> None:
    passed = [100.0]
    monkeypatch.setattr(app, "PlayedSound", lambda: PlayedSound(lambda: passed[0]))
    lines = ("start session wren", "here level three", "?yelped | head turn", "came")
    recording = keep(log, lines, sound=tone(20.0))
    key = first_key(service, recording)
    made = app.make_app(service, hosts=["testserver"], token="token", who="Anna")
    with TestClient(made) as page:

        def card() -> dict[str, Any]:
            found = page.get("/api/evening").json()["cards"]
            return next(one for one in found if one["said"] == "yelped")

        first = card()
        assert (first["must"], first["heard"]) == (True, False)
        deed = {"do": "read", "words": "head turn"}
        deed |= {"entry": first["id"], "version": first["version"]}
        status, _, message = error_of(page.post(f"/api/evening/{key}", json=deed, headers=TOKEN))
        assert (status, "A stop may hang on this entry" in message) == (400, True)
        stretch = {"from": f"{first['from'] - 0.7:.2f}", "to": f"{first['to'] + 0.7:.2f}"}
        page.get(f"/sound/{recording}.wav", params=stretch)
        passed[0] += 10.0
        page.post(f"/api/played/{recording}", json=stretch, headers=TOKEN)
        assert card()["heard"] is True
        assert page.post(f"/api/evening/{key}", json=deed, headers=TOKEN).json()["ok"] is True
    made.state.clips.close()


@pytest.mark.parametrize(
    "address", ["nothing.wav?from=0&to=1", "..%2Flog.sqlite3.wav?from=0&to=1", "x/../y.wav"]
)
def test_no_sound_of_anything_else(page: TestClient, address: str) -> None:
    assert page.get(f"/sound/{address}").status_code == 404


# --- dogs -------------------------------------------------------------------------------


def test_a_profile_is_kept_and_what_sounds_alike_is_pointed_out(page: TestClient, log: Log) -> None:
    assert "Bracken" in page.get("/dogs").text
    assert 'value="20"' in page.get("/dogs/Bracken").text
    new = {"name": "Bird", "cues": ["here"], "transmitter": {"top": 10}}
    alike = page.post("/api/alike", json=new, headers=TOKEN).json()["alike"]
    assert any("is a word of the notes as well. Another is safer" in line for line in alike)
    told = page.post("/api/dog", json={"was": "", "dog": new}, headers=TOKEN).json()
    assert told["alike"] == alike
    bird = log.roster().dog("bird")
    assert known(known(bird).transmitter).top == 10
    again = page.post("/api/dog", json={"was": "", "dog": new}, headers=TOKEN)
    assert error_of(again)[:2] == (409, "changed")
    new["transmitter"] = {"top": 0}
    bad = page.post("/api/dog", json={"was": told["was"], "dog": new}, headers=TOKEN)
    assert error_of(bad)[:2] == (400, "bad-request")


def test_the_full_dog_is_full() -> None:
    for whole, bare in ((FULL, Dog(name="")), (FULL.transmitter, Transmitter())):
        for field in type(whole).model_fields:
            assert getattr(whole, field) != getattr(bare, field), field


@pytest.mark.parametrize("field", [name for name in Dog.model_fields if name != "name"])
def test_saving_one_field_of_a_dog_leaves_every_other(
    page: TestClient, service: ReviewService, log: Log, field: str
) -> None:
    log.put_dog(FULL)
    _, _, was = dog_with_version(service, [(FULL, 0)], "Fern")
    value = Dog(name="").model_dump(mode="json").get(field, [])
    if field == "transmitter":
        value = {"top": 20}
    reply = page.post(
        "/api/dog", json={"was": was, "dog": {"name": "Fern", field: value}}, headers=TOKEN
    )
    assert reply.json()["ok"], reply.text
    now = log.roster().dog("Fern")
    assert now is not None
    unit = FULL.transmitter.model_copy(update={"top": 20})
    changed = unit if field == "transmitter" else getattr(Dog(name=""), field)
    update = {field: changed} | ({"cue_meanings": ()} if field == "cues" else {})
    assert now == FULL.model_copy(update=update)  # a cue that is gone means nothing


def test_a_dog_with_a_slash_in_its_name_has_its_pages(page: TestClient, log: Log) -> None:
    for name in ("a/b", "/", "plan"):
        log.put_dog(Dog(name=name))
        step = quote(name, safe="")
        assert f'href="/dogs/{step}"' in page.get("/dogs").text
        assert f'value="{name}"' in page.get(f"/dogs/{step}").text
        assert page.get(f"/dogs/{step}/plan").status_code == 200


def test_a_name_that_cannot_be_said_is_refused_with_what_to_type(page: TestClient) -> None:
    for address in ("/api/dog", "/api/alike"):
        new = {"name": "Rex 2", "cues": ["here"]}
        content = {"was": "", "dog": new} if address == "/api/dog" else new
        reply = page.post(address, json=content, headers=TOKEN)
        status, code, message = error_of(reply)
        assert (status, code) == (400, "bad-request")
        assert "numbers as words" in message


def test_papers_over_weeks_link_each_rep_to_where_it_is_heard(
    page: TestClient, service: ReviewService, log: Log
) -> None:
    start = datetime(2026, 4, 1, 7, 30)
    for day in range(3):
        keep(log, ("start session wren", "drill recall", "here no button came"), f"{day}",
             at=start + timedelta(days=day))  # fmt: skip
    service.refresh_stale()
    key = service.session_catalog.headings(SessionFilter(dog="Wren")).rows[0].key
    text = page.get("/dogs/Wren/progress").text
    assert f'href="/session/{key}#rep-1"' in text
    assert " style=" not in text
    assert page.get("/dogs/Wren/plan").status_code == 200
    assert "Wren" in page.get("/kennel").text
    assert ".paper" in page.get("/papers.css").text
    assert "/dogs/Wren/progress" in page.get("/dogs/Wren").text
    assert "/dogs/Bracken/progress" not in page.get("/dogs/Bracken").text
    assert page.get("/dogs/Bracken/plan").status_code == 200
    assert error_of(page.get("/dogs/Bracken/progress"))[:2] == (404, "not-there")
    assert error_of(page.get("/dogs/Nobody/plan"))[:2] == (404, "not-there")


# --- who is kept out --------------------------------------------------------------------


@pytest.mark.parametrize("host", ["evil.example", "testserver:99", "", "testserver.evil.example"])
def test_another_sites_name_for_this_machine_is_refused(page: TestClient, host: str) -> None:
    for address in ("/", "/static/page.js", "/enter"):
        assert error_of(page.get(address, headers={"host": host}))[:2] == (403, "forbidden")


@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"x-voicelog-token": "guess"},
        TOKEN | {"origin": "https://evil.example"},
        TOKEN | {"origin": "null"},
        TOKEN | {"sec-fetch-site": "cross-site"},
        TOKEN | {"sec-fetch-site": "same-site"},
    ],
)
def test_a_change_from_elsewhere_is_refused(page: TestClient, headers: dict[str, str]) -> None:
    reply = page.post("/api/prefs", json={"who": "x", "budget": 4}, headers=headers)
    assert error_of(reply)[:2] == (403, "forbidden")


def test_every_answer_forbids_everything_from_elsewhere(page: TestClient) -> None:
    for address in ("/", "/static/review.css", "/nowhere", "/session/none"):
        policy = page.get(address).headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert "*" not in policy
    text = page.get("/", headers=HTML).text
    assert " style=" not in text
    assert "<style" not in text
    assert " on" + "click" not in text


def test_a_long_request_is_refused(page: TestClient) -> None:
    reply = page.post("/api/prefs", content=b"x" * (security.LONGEST_BODY + 1), headers=TOKEN)
    assert error_of(reply)[:2] == (413, "too-large")


def test_a_slow_request_is_refused(page: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(security, "SLOWEST_BODY_S", 0.0)

    def slowly() -> Iterator[bytes]:
        for _ in range(3):
            time.sleep(0.01)
            yield b"x"

    reply = page.post("/api/prefs", content=slowly(), headers=TOKEN)
    assert error_of(reply)[0] in (400, 413)


def test_preferences_stay_in_this_browser(page: TestClient) -> None:
    assert page.post("/api/prefs", json={"who": "Joë", "budget": 7}, headers=TOKEN).json()["ok"]
    text = page.get("/").text
    assert 'value="Joë"' in text
    assert 'value="7"' in text
    for budget in (0, 100, "4", None):
        reply = page.post("/api/prefs", json={"who": "Joe", "budget": budget}, headers=TOKEN)
        assert error_of(reply)[:2] == (400, "bad-request")


@pytest.fixture
def networked(service: ReviewService) -> Iterator[TestClient]:
    lock = Authenticator("abcd-efgh")
    made = app.make_app(service, hosts=["testserver"], token="token", who="Anna", lock=lock)
    with TestClient(made, base_url="https://testserver", follow_redirects=False) as client:
        yield client


def test_on_the_network_nothing_is_shown_without_the_code(networked: TestClient) -> None:
    assert error_of(networked.get("/"))[:2] == (401, "no-code")
    assert networked.get("/", headers=HTML).headers["location"] == "/enter"
    assert error_of(networked.get("/sound/x.wav"))[:2] == (401, "no-code")
    assert error_of(networked.post("/api/dog", headers=TOKEN))[:2] == (401, "no-code")
    wrong = networked.post("/enter", data={"code": "guess"})
    assert wrong.status_code == 403
    assert "not the access code" in wrong.text
    right = networked.post("/enter", data={"code": " ABCD-efgh "})
    cookie = right.headers["set-cookie"]
    assert all(part in cookie for part in ("HttpOnly", "Secure", "SameSite=strict"))
    assert networked.get("/").status_code == 200


def test_after_five_wrong_codes_even_the_right_one_has_to_wait(networked: TestClient) -> None:
    for _ in range(security.TRIES):
        networked.post("/enter", data={"code": "guess"})
    assert "wait a minute" in networked.post("/enter", data={"code": "abcd-efgh"}).text


def test_wrong_codes_of_one_machine_keep_no_other_waiting() -> None:
    lock = Authenticator("abcd-efgh")
    for _ in range(security.TRIES):
        with pytest.raises(ForbiddenError):
            lock.try_code("guess", "192.0.2.7")
    with pytest.raises(ForbiddenError, match="wait a minute"):
        lock.try_code("abcd-efgh", "192.0.2.7")
    assert lock.try_code("abcd-efgh", "192.0.2.8")


# --- on this machine: who opened the printed address -------------------------------------


class Home:
    """The page as it is on this machine, and the browsers and programs that ask for it."""

    def __init__(self, service: ReviewService) -> None:
        self.told: list[str] = []
        self.lock = Authenticator(cookie="pass", told=self.told.append)
        self.app = app.make_app(
            service, hosts=["testserver"], token="token", who="Anna", lock=self.lock
        )

    def client(self) -> TestClient:
        return TestClient(self.app, follow_redirects=False)

    def open(self, client: TestClient, secret: str) -> Reply:
        return client.get(f"/open/{secret}", headers=HTML)


@pytest.fixture
def home(service: ReviewService) -> Iterator[Home]:
    made = Home(service)
    yield made
    made.app.state.clips.close()


def test_without_the_printed_address_nothing_is_answered(home: Home, log: Log) -> None:
    client = home.client()
    routes = [route for route in home.app.routes if isinstance(route, Route | Mount)]
    paths = {route.path for route in routes} - {"/open/{secret}"}
    assert {"/", "/static", "/api/dog", "/sound/{recording}.wav"} <= paths
    for path in sorted(paths | {"/static/page.js", "/nowhere"}):
        for method in ("GET", "HEAD", "POST"):
            reply = client.request(method, path, headers=TOKEN)
            assert reply.status_code == 403, (method, path)
    assert error_of(client.get("/"))[1] == "closed"
    dog = {"was": "", "dog": {"name": "Rover"}}
    message = error_of(client.post("/api/dog", json=dog, headers=TOKEN))[2]
    assert "open the newest address that stands there" in message
    assert message in html.unescape(client.get("/", headers=HTML).text)
    assert log.roster().dog("Rover") is None
    client.cookies.set("pass", "guess")
    assert client.get("/").status_code == 403


def test_the_printed_address_opens_once_and_becomes_a_cookie(home: Home) -> None:
    client, secret = home.client(), home.lock.secret
    opened = home.open(client, secret)
    assert (opened.status_code, opened.headers["location"]) == (303, "/")
    cookie = opened.headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=strict" in cookie
    assert "max-age" not in cookie.lower()
    assert secret not in cookie
    assert opened.headers["referrer-policy"] == "same-origin"
    assert opened.headers["cache-control"] == "no-store"
    shown = client.get("/", headers=HTML)
    assert shown.status_code == 200
    assert secret not in shown.text
    other = home.client()
    again = home.open(other, secret)
    assert again.status_code == 403
    assert "open the newest that" in again.text
    assert "set-cookie" not in again.headers
    assert other.get("/").status_code == 403


def test_another_browser_has_the_next_address_and_the_first_stays_in(home: Home) -> None:
    first, second = home.client(), home.client()
    old = home.lock.secret
    home.open(first, old)
    assert home.told == [home.lock.secret]
    assert home.open(first, old).status_code == 303  # loaded again, it is still let in
    assert home.open(first, home.lock.secret).status_code == 303
    assert len(home.told) == 1  # and uses up nothing
    assert home.open(second, home.told[0]).status_code == 303
    assert first.get("/").status_code == second.get("/").status_code == 200
    assert len({old, *home.told}) == 3


def test_a_wrong_address_and_a_look_ahead_use_up_nothing(home: Home) -> None:
    client, secret = home.client(), home.lock.secret
    for wrong in ("guess", secret[:-1], f"{secret}x", "%ff", "é"):
        assert home.open(client, wrong).status_code == 403
    assert client.head(f"/open/{secret}").status_code == 400
    assert home.open(client, secret).status_code == 303


def test_another_user_who_read_the_address_in_time_is_refused(
    home: Home, monkeypatch: pytest.MonkeyPatch
) -> None:
    secret = home.lock.secret
    with TestClient(home.app, base_url="http://testserver:80", follow_redirects=False) as client:
        monkeypatch.setattr(entrance, "is_another_user", lambda client_port, own: own == 80)
        monkeypatch.setattr(entrance, "_own_port", lambda request: 80)
        refused = home.open(client, secret)
        assert refused.status_code == 403
        assert "another user's" in html.unescape(refused.text)
        monkeypatch.undo()
        assert home.open(client, secret).status_code == 303


def test_of_two_at_once_one_is_let_in(home: Home) -> None:
    secret = home.lock.secret
    with ThreadPoolExecutor(8) as pool:
        replies = list(pool.map(lambda _: home.open(home.client(), secret).status_code, range(8)))
    assert sorted(replies) == [303] + [403] * 7


def test_where_nobody_else_can_ask_nothing_is_asked(page: TestClient) -> None:
    for path in ("/enter", "/open/anything"):
        assert page.get(path, follow_redirects=False).headers["location"] == "/"


def test_every_edit_has_a_sentence_for_when_it_is_done() -> None:
    assert set(DONE) == set(get_args(Do))


def test_a_rep_that_is_a_question_can_be_answered_on_the_page(
    page: TestClient, service: ReviewService, log: Log
) -> None:
    key = first_key(service, keep(log, ("start session bracken", "here level three")))
    shown = page.get(f"/session/{quote(key)}", headers=HTML).text
    assert "Reps to check, each with a question" in shown
    assert "how it ended was not said" in shown
    assert "1 rep to check" in shown
    assert [words in shown for words in ('data-answer="came"', 'data-answer="line help"')] == [
        True,
        True,
    ]
    (asked,) = service.view(key).questions
    deed = {"do": "answer", "rep": asked.question.id, "version": asked.version, "words": "came"}
    answer = page.post(f"/api/session/{quote(key)}", json=deed, headers=TOKEN).json()
    assert answer["ok"]
    assert "Reps to check, each with a question" not in answer["parts"]["questions"]


def test_a_question_counts_as_to_check_in_the_list(service: ReviewService, log: Log) -> None:
    keep(log, ("start session bracken", "here level three"))
    service.refresh_stale()
    (row,) = service.session_catalog.headings(SessionFilter(check=True)).rows
    assert row.counts["look"] == 1


@pytest.mark.parametrize(
    ("listeners", "why"),
    [
        (("pocketsphinx 5.1.1 en-us",), "not heard clearly by the quick listener alone; "),
        (("pocketsphinx 5.1.1 en-us", "whisper tiny.en (ctranslate2 4.8)"), "not heard clearly; "),
        (("typed 1",), "no note as typed; "),
    ],
)
def test_an_entry_to_check_says_who_was_not_sure(
    page: TestClient, service: ReviewService, log: Log, listeners: tuple[str, ...], why: str
) -> None:
    keep(log, LEVELS, listeners=listeners)
    service.refresh_stale()
    cards = page.get("/api/evening").json()["cards"]
    whys = [one["why"] for one in cards if one["kind"] == "entry"]
    assert [one.startswith(why) for one in whys if one != "in no count"] == [True, True]
    assert ("in no count" in whys) == (listeners == ("typed 1",))  # talk is mostly talk


def test_reps_are_counted_alike_in_the_list_the_session_and_before_deleting(
    page: TestClient, log: Log, service: ReviewService
) -> None:
    came = "here no button came"
    pressed = "here level three ignored"
    said = ("start session wren", came, pressed, "no contact", came, f"?{pressed}")
    keep(log, said, at=datetime(2026, 4, 18, 7, 30))
    service.refresh_stale()
    (key,) = re.findall(r'href="/session/([^"]+)"', page.get("/?dog=Wren").text)
    for address in ("/?dog=Wren", f"/session/{key}", "/delete?dog=Wren"):
        assert "3 reps (1 to check) and 1 void" in page.get(address).text, address


def test_cards_come_in_one_order_which_the_page_is_told(
    page: TestClient, service: ReviewService, log: Log
) -> None:
    """Of two sessions without a date each stands by itself, whichever was added first."""
    for name in ("b", "a"):
        keep(log, ("start session wren", "?here", "?here"), name, at=None)
    keep(log, ("start session wren", "?here"), "dated")
    service.refresh_stale()
    cards = page.get("/api/evening").json()["cards"]
    assert len({card["order"][0] for card in cards}) == 1
    assert [card["order"] for card in cards] == sorted(card["order"] for card in cards)
    keys = [card["key"] for card in cards]
    assert keys == [keys[0], *[keys[1]] * 2, *[keys[3]] * 2]
    assert cards[0]["day"].startswith("Mon 20 Apr 2026")
