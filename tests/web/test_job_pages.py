"""What the terminal can do, done on the page; and that no form ends in a fault of the server."""

from __future__ import annotations

import io
import json
import re
import shutil
import signal
import threading
import time
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from starlette.testclient import TestClient

from tests.recognition.vosk_files import vosk_folder
from tests.web.evening import LEVELS, keep, tone
from voicelog.app.add import add_file
from voicelog.app.command_process import voicelog_command
from voicelog.app.hearing_process import HearingProcess
from voicelog.app.incoming import hear_incoming
from voicelog.app.listening import LiveProcess
from voicelog.app.open_file import IntakeOptions
from voicelog.app.phone_process import PhoneProcess
from voicelog.app.review.review_service import ReviewService
from voicelog.app.session_catalog import SessionCatalog
from voicelog.app.share import share_now, start_share
from voicelog.app.share_signing import sign_share
from voicelog.app.voice_card import card_for
from voicelog.app.watching import WatchingProcess
from voicelog.model import Dog, UsageError
from voicelog.model.names import name_key, name_skeleton, tidy_name
from voicelog.safety.settings import Settings
from voicelog.store import Log
from voicelog.store.chain import CHAIN_FILE
from voicelog.store.share.signing import fingerprint
from voicelog.web import app
from voicelog.web.long_work import LongWork

TOKEN = {"x-voicelog-token": "token"}


@pytest.fixture
def page(service: ReviewService) -> Iterator[TestClient]:
    made = app.make_app(service, hosts=["testserver"], token="token", who="Anna")
    with TestClient(made, raise_server_exceptions=False) as client:
        yield client
    made.state.clips.close()
    made.state.hearing.close()


def sent(page: TestClient, address: str, **fields: Any) -> dict[str, Any]:
    answer: dict[str, Any] = page.post(address, json=fields, headers=TOKEN).json()
    return answer


# --- names ------------------------------------------------------------------------------


def test_no_two_dogs_look_alike(page: TestClient, log: Log) -> None:
    def put(name: str, **more: Any) -> dict[str, Any]:
        return sent(page, "/api/dog", was="", dog={"name": name, "cues": ["here"], **more})

    cyrillic = "Br\u0430cken"
    for name in (cyrillic, "Brac-ken", "Bracke\u0301n", "8/9", "wr en"):
        message = put(name)["error"]["message"]
        assert "looks like" in message or "slash" in message or "numbers as words" in message
    assert [dog.name for dog in log.roster().dogs] == ["Bracken", "Wren"]
    told = put(" Fern\u202e ")
    assert (told["name"], told["alike"][0][:27]) == ("Fern", "The name is kept as 'Fern',")
    assert "still to come" in put("Juno", born="2031-05-03")["error"]["message"]
    unit = {"top": 10}
    assert "ends at 10" in put("Juno", ceiling=11, transmitter=unit)["error"]["message"]
    assert put("Juno", ceiling=10, transmitter=unit, born="2026-04-20")["ok"]


@settings(max_examples=40)
@given(st.text(max_size=8), st.sampled_from(["\u202e", " ", "\u200d", "\t"]))
def test_names_that_are_one_have_one_skeleton(name: str, unseen: str) -> None:
    for other in (name.swapcase(), f"{unseen}{name}{unseen}", tidy_name(name)):
        if name_key(name) == name_key(other):
            assert name_skeleton(name) == name_skeleton(other)


# --- people, and what is taken out ------------------------------------------------------


def test_handlers_clients_and_litters_are_on_one_page(page: TestClient, log: Log) -> None:
    fern = log.roster().dogs[0].model_copy(update={"client": "Mrs Hollis", "litter": "Spring"})
    log.put_dog(fern)
    assert sent(page, "/api/handler", do="add", name=" Maria ")["ok"]
    assert sent(page, "/api/handler", do="add", name="Anna")["ok"]
    assert sent(page, "/api/handler", do="remove", name="anna")["told"] == [
        "anna is off the roster; sessions stay as they are."
    ]
    assert log.roster().handlers == ("Maria",)
    text = page.get("/people").text
    assert all(words in text for words in ("Maria", "Mrs Hollis", "Spring", "/dogs/Bracken"))
    assert "looks like" in sent(page, "/api/handler", do="add", name="Mari a")["error"]["message"]
    assert sent(page, "/api/dog/off", name="Wren")["go"] == "/dogs"
    assert [dog.name for dog in log.roster().dogs] == ["Bracken"]


def test_all_that_is_exported_is_a_download(
    page: TestClient, service: ReviewService, log: Log
) -> None:
    keep(log, LEVELS, sound=tone(3.0))
    service.refresh_stale()
    shown = page.get("/take-out").text
    assert '<option value="Bracken">' in shown
    document = page.get("/take-out/voicelog.json?contract=1").json()
    assert (document["format"], len(document["recordings"])) == (1, 1)
    for address, holds in (
        ("/take-out/tables.zip", "reps.csv"),
        ("/take-out/bundle.zip?dog=Bracken&day=2026-04-20", "bagit.txt"),
        ("/take-out/backup.zip", "bagit.txt"),
    ):
        reply = page.get(address)
        assert "attachment" in reply.headers["content-disposition"]
        names = zipfile.ZipFile(io.BytesIO(reply.content)).namelist()
        assert any(name.endswith(holds) for name in names), names
    assert page.get("/take-out/record.csv?reason=recall").text.startswith("format,session,date")
    assert not list((log.folder / "outgoing").iterdir())
    pdf = page.get("/dogs/Bracken/owner.pdf?ring=Anna&collar=home")
    assert pdf.content.startswith(b"%PDF")
    assert "goes home" in page.get("/dogs/Bracken/owner").text
    refused = page.get("/dogs/Wren/owner.pdf")
    assert refused.status_code == 400
    assert "no session" in refused.json()["error"]["message"]
    assert page.get("/take-out/bundle.zip?dog=Bracken&day=x").status_code == 400
    assert page.get("/take-out/elsewhere").status_code == 404


# --- handover, words, settings, deletion ------------------------------------------------


def test_another_handler_sees_a_dog_on_one_screen(
    page: TestClient, service: ReviewService, log: Log
) -> None:
    keep(log, ("start session bracken", "drill recall", "here level three yelped", "came"))
    keep(log, ("start session wren", "drill recall", "here level three came"), "noon")
    sent(page, "/api/dog", was="", dog={"name": "Fern"})
    service.refresh_stale()
    text = page.get("/dogs/Bracken/before").text
    in_order = ("Open matters", "yelped", "Button", "No session today.",
                "Last session", "recall", "no more work today")  # fmt: skip
    places = [text.index(words) for words in in_order]
    assert places == sorted(places)
    assert "not said" not in text
    assert "steps under level" not in text
    # the limits are the plan's, in its words; where reps set no ceiling, there is none to tell of
    wren, plan = (page.get(f"/dogs/Wren/{one}").text for one in ("before", "plan"))
    limits = "never above 1 at the start (too few reps), never above 2 later."
    assert limits in wren
    assert limits in plan
    assert "ceiling" not in wren
    # what is open is under a label that does not say so once more
    assert (
        "<b><bdi>matters</bdi></b><bdi>Strong sign: yelped" in page.get("/dogs/Bracken/plan").text
    )
    # and the plan does not deny the one answer that the summary counts
    assert "no level has as many as 3 answered recalls" in plan
    new = page.get("/dogs/Fern/before").text
    assert "Nothing is open." in new
    assert "begin without the button" in new
    assert page.get("/dogs/Nobody/before").status_code == 404
    assert 'href="/dogs/Wren/before"' in page.get("/dogs/Wren").text


def test_a_name_that_is_not_known_is_asked_about_once_and_answered_for_all_its_lines(
    page: TestClient, log: Log, tmp_path: Path
) -> None:
    assert "Every name in the log is known." in page.get("/names").text
    notes = tmp_path / "mon.txt"
    notes.write_text("ss bracken\nbob here l3 c\nbob here nb c\n")
    log.put_dog(Dog(name="Fern"))
    options = IntakeOptions(roster=log.roster(), settings=Settings(), typed=True)
    add_file(log, notes, options)
    shown = page.get("/names").text
    assert "&#39;bob&#39; is a dog that the log does not know (2 times). Who is it?" in shown
    refused = sent(page, "/api/name", name="bob", **{"is": "Nobody"})
    assert "no dog 'Nobody'" in refused["error"]["message"]
    told = sent(page, "/api/name", name="bob", **{"is": "Wren"})["told"]
    assert all("is read with 'Wren' now" in line for line in told[:2])
    assert "Every name in the log is known." in page.get("/names").text


def test_an_answer_about_a_name_tells_what_it_changes_in_a_later_session(
    page: TestClient, log: Log, tmp_path: Path
) -> None:
    options = IntakeOptions(roster=log.roster(), settings=Settings(), typed=True)
    for day, lines in ((24, "here nb c\nbob here l3 yelped c\n"), (26, "here l3 c\n")):
        notes = tmp_path / f"{day}.txt"
        notes.write_text(f"ss bracken\n{lines}")
        add_file(log, notes, replace(options, at=datetime(2026, 4, day, 7, 30)))
    assert "bob" in page.get("/names").text
    told = sent(page, "/api/name", name="bob", **{"is": "Bracken"})["told"]
    now = "1 caution now stands in the session of Bracken on 26 Apr 2026: Level 3 was used in rep 1"
    assert any(line.startswith(now) for line in told), told


def test_words_are_listed_tried_and_compared(
    page: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = [("Names that sound alike", ["name up: sounds like cup"]), ("Others", [])]
    monkeypatch.setattr("voicelog.web.words_page.checked_vocabulary", lambda grammar: found)
    assert "level free came" in page.get("/words?text=level+free+came").text
    assert "neck twitch" in page.get("/words").text
    compared = page.get("/words/check").text
    assert all(words in compared for words in ("sounds like cup", "None."))


def test_a_setting_is_changed_within_its_bounds_and_the_file_stays_as_written(
    page: TestClient, log: Log
) -> None:
    file = log.folder / "settings.toml"
    file.write_text("# mine\npresses_adult = 15 # as we do\n\n[dog.Wren]\npress_s = 2.5\n")

    def change(name: str, value: str, dog: str = "") -> str:
        answer = sent(page, "/api/setting", name=name, value=value, dog=dog)
        return str(answer["told"][0] if answer["ok"] else answer["error"]["message"])

    assert "is 12" in change("presses_adult", "12")
    assert "from 1 to 60" in change("presses_adult", "61")
    assert "is 3 for wren" in change("strong_signs", "3", "wren")
    assert "is 2 for bracken" in change("strong_signs", "2", "bracken")
    assert "ending_signs" in change("ending_signs", "yelped, squealed")
    assert "is F" in change("temperature_unit", "F")
    for name, dog in (("learn_entries", "Wren"), ("no_such", ""), ("press_s", "Nobody")):
        assert "Found no setting" in change(name, "3", dog)
    written = file.read_text()
    assert written.startswith("# mine\npresses_adult = 12\n")
    assert "[dog.Wren]\nstrong_signs = 3\npress_s = 2.5\n" in written
    assert written.endswith('[dog."Bracken"]\nstrong_signs = 2\n')
    assert "is 20" in change("presses_adult", "")
    text = page.get("/settings?dog=Wren").text
    assert 'name="value" value="2.5"' in text
    assert "a whole number from 1 to 3" in text
    file.write_text("ending_signs = [\n 'yelped',\n]\n")
    assert "change it by hand" in change("ending_signs", "squealed")
    assert file.read_text() == "ending_signs = [\n 'yelped',\n]\n"


def test_what_would_go_and_be_forgotten_is_seen_before_anything_is_deleted(
    page: TestClient, service: ReviewService, log: Log
) -> None:
    keep(log, ("start session bracken", "here level three yelped", "came"))
    service.refresh_stale()
    (key,) = re.findall(r'name="session" value="([^"]+)"', page.get("/delete?dog=bracken").text)
    about = {"what": "session", "dog": "Bracken", "session": key}

    def seen(**asked: str) -> str:
        text = page.get("/delete/look", params=asked).text
        return str(re.findall(r'name="seen" value="([^"]+)"', text)[0])

    assert "Kept, without entries and sound: " in page.get("/delete/look", params=about).text
    stamp = seen(**about)
    assert "Tick that" in sent(page, "/api/delete", **about, seen=stamp)["error"]["message"]
    changed = sent(page, "/api/delete", **about, seen="x", sure=True)
    assert changed["error"]["code"] == "changed"
    gone = sent(page, "/api/delete", **about, seen=stamp, sure=True)
    assert gone["told"][0].startswith("Deleted: ")
    assert log.recordings() == ()
    whole = {"what": "dog", "dog": "Wren"}
    assert sent(page, "/api/delete", **whole, seen=seen(**whole), sure=True)["ok"]
    assert [dog.name for dog in log.roster().dogs] == ["Bracken"]
    old = {"what": "sound", "days": "90"}
    assert sent(page, "/api/delete", **old, seen=seen(**old), sure=True)["ok"]
    assert page.get("/delete/look?what=sound&days=x").status_code == 400
    assert page.get("/delete/look?what=all").status_code == 404
    assert page.get("/delete/look?what=aside").status_code == 200


# --- the live session -------------------------------------------------------------------


def test_a_live_session_is_started_from_the_page_and_its_state_is_shown(
    page: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    started: list[list[str]] = []
    monkeypatch.setattr(LiveProcess, "_run", lambda live, options: started.append(list(options)))
    shown = page.get("/live").text
    assert "never a loudspeaker" in shown
    assert 'value="Wren"' in shown
    now = page.get("/api/live").json()
    assert (now["at_work"], now["words"]) == (False, "No live session is running.")
    form = {"dogs": ["Wren"], "side": "right", "say": "all", "earpiece": True, "device": "USB"}
    assert sent(page, "/api/live/start", **form)["ok"]
    assert [" ".join(options) for options in started] == [
        "--plain --side=right --say=all --earpiece --device=USB --as=Anna --dog=Wren"
    ]
    assert not sent(page, "/api/live/start", **form | {"side": "both"})["ok"]
    assert "nothing was stopped" in sent(page, "/api/live/stop")["error"]["message"]


def test_the_page_for_phones_is_opened_shows_its_codes_and_is_closed(
    page: TestClient, log: Log, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert "sees nothing of the log" in page.get("/phone").text
    assert page.get("/phone/join.svg").status_code == 404
    assert "nothing was closed" in sent_here(page, "/api/phone/stop")["error"]["message"]
    assert "another computer" in sent(page, "/api/phone/start")["error"]["message"]
    own = PhoneProcess(log.folder, (*voicelog_command("phone"), "--port=0"))
    begin = PhoneProcess.start
    monkeypatch.setattr(PhoneProcess, "start", lambda self, **asked: begin(own, **asked))
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)  # as in the background of a shell
    try:
        assert sent_here(page, "/api/phone/start", address="192.168.1.30")["ok"]
    finally:
        signal.signal(signal.SIGINT, before)
    with pytest.raises(UsageError, match="open already"):
        own.start(live=False, earpiece=False)
    try:
        now = state_when(page, lambda state: state["place"] is not None)
        assert (now["at_work"], now["words"]) == (True, "Open for phones.")
        place = now["place"]
        assert place["page"].startswith("https://192.168.1.30:")
        assert len(place["fingerprint"].split(":")) == 32
        for which in ("trust", "join"):
            code = page.get(f"/phone/{which}.svg?n={place['picture']}")
            assert code.headers["content-type"] == "image/svg+xml"
            assert b"<path" in code.content
            assert b"style=" not in code.content
        assert place["code"] not in place["picture"]
    finally:
        own.stop()
    while (state := own.state()).at_work or state.starting or state.ending:
        time.sleep(0.05)
    now = page.get("/api/phone").json()
    assert now["place"] is None
    assert [*log.folder.glob("phone-place*")] == []


def state_when(page: TestClient, holds: Callable[[dict[str, Any]], bool]) -> dict[str, Any]:
    """How the page for phones stands, once that holds."""
    deadline = time.monotonic() + 60
    while not holds(now := page.get("/api/phone").json()):
        assert time.monotonic() < deadline, now
        time.sleep(0.05)
    return dict(now)


def sent_here(page: TestClient, route: str, /, **fields: Any) -> dict[str, Any]:
    """As `sent`, by a browser of this computer."""
    here = TestClient(page.app, raise_server_exceptions=False, client=("127.0.0.1", 50000))
    answer: dict[str, Any] = here.post(route, json=fields, headers=TOKEN).json()
    return answer


# --- no form ends in a fault of the server ----------------------------------------------

FORMS: dict[str, tuple[str, ...]] = {
    "/api/lock/passphrase": ("old", "passphrase", "again"),
    "/api/share/start": ("folder", "name", "signed", "first"),
    "/api/share/sign": ("first",),
    "/api/share/allow": ("key", "allowed"),
    "/api/share/carry": ("folder",),
    "/api/listeners/install": ("file", "sha256", "again"),
    "/api/check/accept": ("sure",),
    "/api/watch/start": ("folder",),
    "/api/dog": ("was", "dog"),
    "/api/alike": ("name", "cues"),
    "/api/handler": ("do", "name"),
    "/api/dog/off": ("name",),
    "/api/matter": ("do", "id", "version", "reason"),
    "/api/prefs": ("who", "budget"),
    "/api/name": ("name", "is"),
    "/api/setting": ("name", "value", "dog"),
    "/api/delete": ("what", "dog", "session", "days", "seen", "sure"),
    "/api/start/dog": ("name", "top", "cue"),
    "/api/incoming": ("name", "size", "dogs", "at", "kind"),
    "/api/incoming/x": ("do",),
    "/api/incoming/x/bytes?at=1": (),
}
ODD = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.floats(),
    st.text(max_size=20),
    st.sampled_from(
        ["add", "remove", "close", "Bracken", "a/b", "\u202eneW", "2031-01-01", "\ud800"]
    ),
)
DOG = st.fixed_dictionaries(
    {"name": ODD},
    optional=dict.fromkeys(
        ("cues", "transmitter", "born", "ceiling", "collar_number", "reached", "client", "other"),
        st.one_of(ODD, st.lists(ODD, max_size=2), st.dictionaries(st.just("top"), ODD)),
    ),
)


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_no_form_ends_in_a_fault_of_the_server(page: TestClient, data: st.DataObject) -> None:
    address = data.draw(st.sampled_from(sorted(FORMS)))
    values = st.one_of(ODD, DOG) if address == "/api/dog" else ODD
    fields = data.draw(st.fixed_dictionaries(dict.fromkeys(FORMS[address], values)))
    reply = page.post(address, content=json.dumps(fields), headers=TOKEN)
    assert reply.status_code < 500, reply.text
    assert reply.json()["ok"] or reply.json()["error"]["message"]


# --- what is brought --------------------------------------------------------------------


def test_a_file_is_brought_in_pieces_and_shown_when_it_was_heard(
    page: TestClient, log: Log, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(HearingProcess, "wake", lambda hearing: None)
    text = b"ss bracken\nhere l3 c\n"
    about = {"name": "mon.txt", "size": len(text), "stamp": "1", "dogs": ["Bracken"]}
    late = sent(page, "/api/incoming", **about, at="2031-01-01T08:00")
    assert "still to come" in late["error"]["message"]
    begun = sent(page, "/api/incoming", **about, at="2026-04-19T08:00")
    bytes_at = f"/api/incoming/{begun['id']}/bytes?at="
    for at, have in ((0, 5), (3, 5)):
        far = page.post(f"{bytes_at}{at}", content=text[at:5], headers=TOKEN).json()
        assert (far["have"], far["state"]) == (have, "arriving")
    assert page.post(f"{bytes_at}x", content=b"x", headers=TOKEN).status_code == 400
    large = page.post(f"{bytes_at}5", content=b"x" * (2 << 20 | 1), headers=TOKEN)
    assert large.status_code == 413
    assert page.post(f"{bytes_at}5", content=text[5:], headers=TOKEN).json()["state"] != "arriving"
    assert page.get("/api/incoming").json()["files"][0]["words"] == "Waits to be heard."
    hear_incoming(log.folder)
    one = page.get("/api/incoming").json()["files"][0]
    assert (one["state"], one["words"][:11]) == ("done", "2 notes sure"[:11])
    assert "Bracken" in page.get(one["page"]).text
    assert sent(page, f"/api/incoming/{begun['id']}", do="forget")["ok"]
    assert page.get("/api/incoming").json()["files"] == []
    assert log.recordings()[0].dog == "Bracken"
    assert page.get("/demo").status_code == 404
    assert "invented" in page.get("/add").text


# --- work of minutes --------------------------------------------------------------------


def finished(page: TestClient) -> list[tuple[str, bool]]:
    """What came of the work at hand, once it is done."""
    for _ in range(400):
        now = page.get("/api/work").json()
        if not now["busy"]:
            return [(line["words"], line["good"]) for line in now["lines"]]
        time.sleep(0.05)
    raise AssertionError(now)


def test_the_log_is_checked_and_derived_anew(page: TestClient, log: Log, tmp_path: Path) -> None:
    assert page.get("/api/work").json()["kind"] == ""
    assert "No recording is set aside" in page.get("/upkeep").text
    keep(log, LEVELS, "levels", sound=tone(8))
    assert sent(page, "/api/check")["ok"]
    held, backup = finished(page)
    assert held[0].startswith("1 recording with ")
    assert held[1]
    assert backup[0].startswith("No backup of this log is known")
    assert sent(page, "/api/rebuild")["ok"]
    assert finished(page) == [("1 recording worked out again.", True)]
    for sound in (log.folder / "sound").rglob("*"):
        if sound.is_file():
            sound.chmod(0o600)
            sound.write_bytes(b"other")
    sent(page, "/api/check")
    sound_changed = (
        "the sound of levels.wav is not what it was when it was kept; take it back from a backup."
    )
    assert [words for words, good in finished(page) if not good] == [sound_changed]
    other = Log.open(tmp_path / "other", now=log.now)
    other.put_dog(Dog(name="Fern"))
    other.close()
    (log.folder / CHAIN_FILE).write_bytes((tmp_path / "other" / CHAIN_FILE).read_bytes())
    sent(page, "/api/check")
    found = [words for words, good in finished(page) if not good]
    assert "is not the one that was in this folder before" in found[0]
    assert found[0].endswith("or, if that is right, accept it below.")
    here = TestClient(page.app, raise_server_exceptions=False, client=("127.0.0.1", 50000))
    assert "another computer" in sent(page, "/api/check/accept", sure=True)["error"]["message"]
    assert "Found the tick" in sent(here, "/api/check/accept", sure=False)["error"]["message"]
    assert sent(here, "/api/check/accept", sure=True)["ok"]
    assert [words for words, good in finished(page) if not good] == [sound_changed]


def test_one_work_at_a_time_and_it_can_be_stopped() -> None:
    work, go = LongWork(), threading.Event()

    def deed() -> Iterator[tuple[str, bool]]:
        yield "one", True
        go.wait(10)
        work.show("two of three", 2 / 3)
        yield "never", True

    work.start("check", deed)
    with pytest.raises(UsageError, match="another work"):
        work.start("rebuild", deed)
    work.stop()
    go.set()
    while work.status.busy:
        time.sleep(0.01)
    assert work.status.lines == (("one", True), ("Stopped; the rest was not done.", False))


def test_the_log_is_shared_through_a_folder(page: TestClient, log: Log, tmp_path: Path) -> None:
    assert "Share through this folder" in page.get("/share").text
    place = str(tmp_path / "shared")
    assert "another computer" in sent(page, "/api/share/start", folder=place)["error"]["message"]
    here = TestClient(page.app, raise_server_exceptions=False, client=("127.0.0.1", 50000))
    for wrong in ("", "kennel"):
        answer = sent(here, "/api/share/start", folder=wrong)
        assert "whole path of a folder" in answer["error"]["message"]
    keep(log, LEVELS, "levels")
    assert "is now shared through" in sent(here, "/api/share/start", folder=place)["told"][0]
    assert finished(page)[0][0].startswith("Written: ")
    shown = page.get("/share").text
    assert f"Shared through {place}" in shown
    assert "(this one): " in shown
    assert sent(page, "/api/share/repair")["ok"]
    assert finished(page)[0][0] == "Every file that this log knows is in the folder and whole."
    stick = str(tmp_path / "stick")
    assert "another computer" in sent(page, "/api/share/carry", folder=stick)["error"]["message"]
    assert "whole path" in sent(here, "/api/share/carry", folder="stick")["error"]["message"]
    assert sent(here, "/api/share/carry", folder=stick)["ok"]
    carried = [words for words, good in finished(page) if good]
    assert re.fullmatch(rf"\d+ files? copied to {re.escape(stick)}, 0 files from it\.", carried[0])
    assert len(carried) > 1  # it is taken in at once
    assert (tmp_path / "stick" / "kennel.json").is_file()
    (tmp_path / "shared").rename(tmp_path / "gone")
    assert "caution" in page.get("/share").text
    assert sent(page, "/api/share/now")["ok"]
    assert not finished(page)[0][1]
    assert "not shared any more" in sent(page, "/api/share/leave")["told"][0]
    assert "Share through this folder" in page.get("/share").text


def test_a_share_is_signed_at_the_page_and_devices_are_allowed_there(
    page: TestClient, log: Log, tmp_path: Path
) -> None:
    here = TestClient(page.app, raise_server_exceptions=False, client=("127.0.0.1", 50000))
    keep(log, LEVELS, "levels")
    place = tmp_path / "shared"
    sent(here, "/api/share/start", folder=str(place))
    finished(page)
    with Log.open(tmp_path / "joe", now=lambda: datetime.now(UTC)) as joe:
        start_share(joe, place, "Joe")
        assert "Sign the share from now on" in page.get("/share").text
        assert "another computer" in sent(page, "/api/share/sign")["error"]["message"]
        assert sent(here, "/api/share/sign")["ok"]
        said = [words for words, good in finished(page) if good]
        assert said[0].startswith("Signed from now on. What was in this log counts: 1 file signed")
        first = said[1].partition("Your key is ")[2][:24]
        assert "No other device has shown its key yet." in page.get("/share").text
        with pytest.raises(UsageError, match="signed by one of its devices since"):
            share_now(SessionCatalog(joe))
        own = sign_share(SessionCatalog(joe), first).state.own
        share_now(SessionCatalog(joe))
    assert sent(here, "/api/share/now")["ok"]
    assert any(f"the key {own} of Joe is not allowed" in words for words, _ in finished(page))
    assert f"Key {own} of Joe: not allowed; 1 file set aside" in page.get("/share").text
    told = {"key": own, "allowed": "yes"}
    assert "another computer" in sent(page, "/api/share/allow", **told)["error"]["message"]
    assert sent(here, "/api/share/allow", **told)["told"][0].startswith(f"Allowed: {own} of Joe.")
    assert sent(here, "/api/share/now")["ok"]
    assert all(good for _, good in finished(page))
    assert f"Key {own} of Joe: allowed" in page.get("/share").text
    withdrawn = sent(here, "/api/share/allow", key=own, allowed="no")["told"][0]
    assert withdrawn.startswith(f"Withdrawn: {own} of Joe. Exchange now to tell")


def test_a_signed_share_is_begun_and_joined_at_the_page(
    page: TestClient, log: Log, tmp_path: Path
) -> None:
    here = TestClient(page.app, raise_server_exceptions=False, client=("127.0.0.1", 50000))
    with Log.open(tmp_path / "office", now=lambda: datetime.now(UTC)) as office:
        place = start_share(office, tmp_path / "shared", "Office", signed=True)[0]
    assert place.first is not None
    where = {"folder": str(place.folder), "name": "Barn"}
    assert "add it with --first KEY" in sent(here, "/api/share/start", **where)["error"]["message"]
    joined = sent(here, "/api/share/start", **where, first=fingerprint(place.first))["told"]
    assert "until the first device allows it, what you write is set aside there." in joined[1]
    finished(page)
    shown = page.get("/share").text
    assert "This device is not allowed yet: ask for it at the first device." in shown
    assert "Allowed and withdrawn at the first device alone." in shown
    sent(page, "/api/share/leave")
    begun = sent(here, "/api/share/start", folder=str(tmp_path / "own"), signed=True)["told"]
    assert "give it to the other devices to join with." in begun[1]


def test_a_share_that_another_device_signed_asks_for_its_key_at_the_page(
    page: TestClient, log: Log, tmp_path: Path
) -> None:
    here = TestClient(page.app, raise_server_exceptions=False, client=("127.0.0.1", 50000))
    place = tmp_path / "shared"
    sent(here, "/api/share/start", folder=str(place))
    finished(page)
    with Log.open(tmp_path / "office", now=lambda: datetime.now(UTC)) as office:
        start_share(office, place, "Office")
        first = sign_share(SessionCatalog(office)).state.first
    assert "This share is signed now" in page.get("/share").text
    assert sent(page, "/api/share/now")["ok"]
    assert not finished(page)[0][1]
    assert sent(here, "/api/share/sign", first=first)["ok"]
    assert finished(page)[0][0].startswith("Signed: ")
    assert "This device is not allowed yet" in page.get("/share").text


def test_a_folder_is_watched_and_what_was_kept_is_heard_again(
    page: TestClient, log: Log, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(WatchingProcess, "wake", lambda self: None)
    here = TestClient(page.app, raise_server_exceptions=False, client=("127.0.0.1", 50000))
    place = str(tmp_path)
    assert page.get("/api/watch").json()["words"] == "No folder is watched."
    assert "another computer" in sent(page, "/api/watch/start", folder=place)["error"]["message"]
    wrong = sent(here, "/api/watch/start", folder="not whole")
    assert "Found no folder" in wrong["error"]["message"]
    assert sent(here, "/api/watch/start", folder=place)["ok"]
    assert place in page.get("/api/watch").json()["words"]
    assert "Stop watching" in page.get("/watch").text
    assert sent(page, "/api/watch/stop")["ok"]
    assert "Stop watching" not in page.get("/watch").text

    assert "to take over" in sent(page, "/api/rehear/take")["error"]["message"]
    assert "Found no day" in sent(page, "/api/rehear", day="spring")["error"]["message"]
    path = tmp_path / "session.txt"
    path.write_text(
        "0:02\tstart session bracken\n0:05\tlevel three came\n0:08\thup no button came\n"
    )
    options = IntakeOptions(log.roster(), Settings(), typed=True)
    add_file(log, path, options)
    dog = log.roster().dogs[0]
    log.put_dog(dog.model_copy(update={"cues": (*dog.cues, "hup")}))
    assert sent(page, "/api/rehear")["ok"]
    told = [words for words, _ in finished(page)]
    assert told[0] == "session.txt: 1 change."
    assert "hup no button came" in told[1]
    assert page.get("/api/work").json()["offer"]
    assert sent(page, "/api/rehear/take")["ok"]
    assert finished(page) == [("1 change taken over.", True)]
    assert not page.get("/api/work").json()["offer"]


def test_a_model_is_installed_from_a_file_of_this_computer(
    page: TestClient, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("VOICELOG_MODELS", str(tmp_path / "models"))
    name = "vosk-model-small-en-us-0.15"
    vosk_folder(tmp_path / "made" / name)
    file = shutil.make_archive(str(tmp_path / name), "zip", tmp_path / "made", name)
    wanted = {"file": file, "sha256": "", "again": False}
    refused = sent(page, "/api/listeners/install", **wanted)
    assert "another computer" in refused["error"]["message"]
    here = TestClient(page.app, raise_server_exceptions=False, client=("127.0.0.1", 50000))
    refused = sent(here, "/api/listeners/install", **wanted | {"file": "model.zip"})
    assert "whole path of a model" in refused["error"]["message"]
    assert sent(here, "/api/listeners/install", **wanted | {"sha256": "ab" * 32})["ok"]
    ((told, good),) = finished(page)
    assert not good
    assert "ab" * 32 in told
    assert sent(here, "/api/listeners/install", **wanted)["ok"]
    said = [words for words, good in finished(page) if good]
    assert said[0] == f"{name} is installed in {tmp_path / 'models'}."
    assert (tmp_path / "models" / name).is_dir()


def test_the_voice_card_is_read_from_a_recording(
    page: TestClient, log: Log, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(HearingProcess, "wake", lambda self: None)
    shown = page.get("/voice").text
    assert "pocketsphinx" in shown
    assert f"<li>{card_for(log.roster())[0]}</li>" in shown
    sound = tone(3)
    name, size = "card.wav", len(sound)
    begun = sent(page, "/api/incoming", name=name, size=size, kind="card", dogs=[])
    page.post(f"/api/incoming/{begun['id']}/bytes?at=0", content=sound, headers=TOKEN)
    hear_incoming(log.folder)
    assert page.get("/api/incoming").json()["files"] == []
    (one,) = page.get("/api/incoming?kind=card").json()["files"]
    assert one["state"] == "done"
    assert re.match(r"\d of 30 lines found\. The microphone: peak ", one["words"])
    assert "wanted 20 at least" in one["lines"][-1]
    assert not log.recordings()
    assert not [*log.folder.rglob("card.wav")]
