"""Who may send sound to this machine: a phone that brought a code, once; nobody else."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from itertools import count
from pathlib import Path

import pytest

pytest.importorskip("starlette", reason="the phone page needs voicelog[review]")
pytest.importorskip("httpx", reason="needs httpx")

from starlette.testclient import TestClient

from voicelog.app.phone_sound import PhoneSound
from voicelog.live.phone_answers import PhoneAnswer
from voicelog.web import security
from voicelog.web.phone.app import make_phone_app, make_trust_app
from voicelog.web.phone.passes import PhonePasses

HOST = "192.168.1.30:8138"
ID = "ab" * 16
NOW = datetime(2026, 4, 18, 7, 30, tzinfo=UTC)
PCM = b"\1\0" * 8000
SENT = {
    "x-sha256": hashlib.sha256(PCM).hexdigest(),
    "x-started-at": (NOW - timedelta(seconds=3)).isoformat(),
    "x-sent-at": (NOW - timedelta(seconds=2)).isoformat(),
}


class PhoneAnswering:
    """Answers one phone, with one word that came in time."""

    late_s = 5.0
    alone = reached = b"\1\0"

    def __init__(self) -> None:
        self.recorded: list[tuple[str, int | None]] = []

    def told(self, recording: str, recorded: int | None) -> None:
        self.recorded.append((recording, recorded))

    def wait(
        self, recording: str, recorded: int | None, after: int, seconds: float
    ) -> tuple[PhoneAnswer, ...] | None:
        self.recorded.append((recording, recorded))
        return (PhoneAnswer(after + 1, 800, "level nine?", b"\2\0"),) if recording == ID else None


class Server:
    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.codes: list[str] = []
        self.finished = 0
        self.answers: PhoneAnswering | None = None
        self._numbers = count()
        self.start()

    def start(self) -> None:
        self.sound = PhoneSound(self.folder)
        self.passes = PhonePasses(
            self.folder, lambda: f"code-{next(self._numbers):04d}", self.codes.append
        )
        self.app = make_phone_app(
            self.sound,
            self.passes,
            hosts=[HOST],
            changed=lambda: setattr(self, "finished", 1),
            now=lambda: NOW,
            answers=self.answers,
        )

    def client(self, address: str = "192.168.1.50", host: str = HOST) -> TestClient:
        return TestClient(self.app, base_url=f"https://{host}", client=(address, 50_000))


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Server]:
    made = Server(tmp_path)
    yield made
    made.sound.close()


def joined(server: Server, client: TestClient) -> dict[str, str]:
    answer = client.post("/api/join", json={"code": server.passes.code, "device": "Android"})
    assert answer.status_code == 200
    return {"authorization": f"Bearer {answer.json()['pass']}"}


def test_a_phone_joins_by_a_code_once_and_stays_joined_after_a_restart(server: Server) -> None:
    phone, other = server.client(), server.client("192.168.1.51")
    code = server.passes.code
    mine = joined(server, phone)
    assert server.codes == [server.passes.code] != [code]
    again = other.post("/api/join", json={"code": code})
    assert again.status_code == 403
    assert "used already" in again.json()["message"]
    server.sound.close()
    server.start()
    answer = server.client().post(f"/api/sound/{ID}/0", content=PCM, headers=mine | SENT)
    assert answer.json() == {"ok": True, "have": 8000}
    assert (server.folder / "phone-passes.json").stat().st_mode & 0o077 == 0
    assert mine["authorization"][7:] not in (server.folder / "phone-passes.json").read_text()


def test_a_second_device_without_the_code_gets_nothing(server: Server) -> None:
    mine = joined(server, server.client())
    other = server.client("192.168.1.51")
    for address in (f"/api/sound/{ID}/0", f"/api/sound/{ID}/end", f"/api/sound/{ID}/have"):
        for shown in ({}, {"authorization": "Bearer guessed"}, {"cookie": "voicelog_pass=x"}):
            answer = other.post(address, content=PCM, headers=SENT | shown)
            assert answer.status_code == 401
            assert answer.json()["code"] == "not-joined"
    assert not any((server.folder / "phone").iterdir())
    for path in ("/", "/phone.js", "/worklet.js", "/offline.js"):
        assert other.get(path).status_code == 200  # the page itself, which knows nothing
    for path in ("/session/1", "/dogs", "/phone-authority-key.pem", "/static/page.js", "/enter"):
        assert other.get(path, headers=mine).status_code == 404


def test_guessing_codes_is_slowed_for_the_one_who_guesses(
    server: Server, monkeypatch: pytest.MonkeyPatch
) -> None:
    now = [100.0]
    monkeypatch.setattr(security, "monotonic", lambda: now[0])
    guesser, other = server.client("192.168.1.66"), server.client("192.168.1.51")
    for _ in range(security.TRIES):
        answer = guesser.post("/api/join", json={"code": "wrong"})
        assert answer.status_code == 403
    right = {"code": server.passes.code}
    assert "wait" in guesser.post("/api/join", json=right).json()["message"]
    assert other.post("/api/join", json=right).status_code == 200
    now[0] += security.PAUSE_S - 1
    assert guesser.post("/api/join", json={"code": server.passes.code}).status_code == 403
    now[0] += 2
    assert guesser.post("/api/join", json={"code": server.passes.code}).status_code == 200


def test_blocks_and_the_end_are_answered_as_the_page_reads_it(server: Server) -> None:
    phone = server.client()
    mine = joined(server, phone) | SENT
    send = f"/api/sound/{ID}"
    gap = phone.post(f"{send}/8000", content=PCM, headers=mine)
    assert (gap.status_code, gap.json()["code"], gap.json()["have"]) == (409, "gap", 0)
    assert phone.post(f"{send}/0", content=PCM, headers=mine).json()["have"] == 8000
    assert phone.post(f"{send}/0", content=PCM, headers=mine).json()["have"] == 8000
    wrong = phone.post(f"{send}/8000", content=PCM, headers=mine | {"x-sha256": "0" * 64})
    assert (wrong.status_code, wrong.json()["code"]) == (422, "mismatch")
    dateless = phone.post(f"{send}/8000", content=PCM, headers=mine | {"x-started-at": "now"})
    assert dateless.status_code == 422
    (kept,) = server.sound.unfinished()
    assert kept.started_at == datetime.fromisoformat(SENT["x-started-at"])
    assert phone.post(f"{send}/end", json={"samples": 9000}, headers=mine).status_code == 409
    assert not server.finished
    assert phone.post(f"{send}/end", json={"samples": 8000}, headers=mine).json()["have"] == 8000
    assert server.finished
    assert phone.post("/api/join", content=b"[").status_code == 403
    elsewhere = server.client(host="evil.example:8138").get("/")
    assert elsewhere.status_code == 403
    other_site = phone.post("/api/join", json={}, headers={"origin": "https://evil.example"})
    assert other_site.status_code == 403
    assert "microphone=(self)" in phone.get("/").headers["permissions-policy"]


def test_a_phone_whose_clock_is_wrong_is_dated_by_the_laptops(server: Server) -> None:
    phone = server.client()
    mine = joined(server, phone) | SENT
    wrong = NOW - timedelta(days=400)
    told = {
        "x-started-at": (wrong - timedelta(hours=2)).isoformat(),
        "x-sent-at": wrong.isoformat(),
    }
    phone.post(f"/api/sound/{ID}/0", content=PCM, headers=mine | told)
    (kept,) = server.sound.unfinished()
    assert kept.started_at == NOW - timedelta(hours=2)


def test_what_a_phone_needs_to_trust_this_machine_is_explained_for_both_kinds() -> None:
    client = TestClient(make_trust_app(b"\x30\x82", "AA:BB", hosts=["h:1"]), base_url="http://h:1")
    page = client.get("/").text
    assert all(word in page for word in ("iPhone", "Android", "AA:BB", "/voicelog.crt"))
    given = client.get("/voicelog.crt")
    assert given.content == b"\x30\x82"
    assert given.headers["content-type"] == "application/x-x509-ca-cert"


def test_a_phone_that_has_joined_gets_its_answers_and_says_how_much_it_has_recorded(
    server: Server,
) -> None:
    phone = server.client()
    mine = joined(server, phone)
    address = f"/api/sound/{ID}/answers"
    assert phone.post(address, json={}, headers=mine).json() == {"ok": True, "answering": False}
    server.sound.close()
    server.answers = PhoneAnswering()
    server.start()
    phone = server.client()
    assert phone.post(address, json={}).status_code == 401
    sent = phone.post(f"/api/sound/{ID}/0", content=PCM, headers=mine | SENT | {"x-recorded": "99"})
    assert sent.status_code == 200
    assert server.finished == 1  # somebody may begin to listen
    asked = {"recorded": 8000, "after": 4, "cues": True}
    told = phone.post(address, json=asked, headers=mine).json()
    assert (told["answering"], told["late"], told["alone"]) == (True, 5.0, "AQA=")
    (one,) = told["answers"]
    assert (one["number"], one["at"], one["words"], one["pcm"]) == (5, 800, "level nine?", "AgA=")
    phone.post(address, json={"recorded": "-3", "after": None}, headers=mine)
    assert server.answers.recorded == [(ID, 99), (ID, 8000), (ID, None)]
    other = phone.post(f"/api/sound/{'cd' * 16}/answers", json={}, headers=mine).json()
    assert other["answering"] is False
