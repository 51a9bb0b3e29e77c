"""A signed share: only what an allowed device signed is taken in, whatever lies in the folder."""

from __future__ import annotations

import json
import random
import shutil
import stat
import tempfile
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.cli.run import Result, Voicelog, caller, typed_file
from tests.store.share import kennel as copies
from tests.store.share.kennel import DOGS, Device
from tests.store.share.test_always_one_log import without_the_disk
from voicelog.app.session_catalog import SessionCatalog
from voicelog.app.share import carry_share, share_status
from voicelog.app.share_signing import sign_share
from voicelog.app.share_trust import SignedSinceError
from voicelog.model import UsageError
from voicelog.store import Log
from voicelog.store.share import tables
from voicelog.store.share.admission import allow_key, key_states
from voicelog.store.share.exchange import heads_of, join
from voicelog.store.share.items import Item
from voicelog.store.share.place import SharePlace
from voicelog.store.share.segments import SegmentError, author_message, pack, writer_message
from voicelog.store.share.signing import (
    fingerprint,
    holds,
    is_signed_kennel,
    kennel_of,
    own_key,
    same_fingerprint,
)


class SignedDevice(Device):
    """A device of a signed share."""

    def join(self, *, make: bool = False) -> None:
        with self.log.writing() as connection:
            tables.put(connection, "device", f"{sum(map(ord, self.name)):016x}")
        join(
            self.log,
            SharePlace.open(self.share, self.folder / "log", make=make, signed=True),
            self.name,
        )

    @property
    def place(self) -> SharePlace:
        return SharePlace.open(self.share, self.folder / "log", make=False)

    @property
    def key(self) -> str:
        return own_key(self.folder / "log").public

    def say(self, other: SignedDevice, *, allowed: bool) -> None:
        allow_key(self.log, self.place, fingerprint(other.key), allowed=allowed)


def kennel(folder: Path, *names: str) -> list[SignedDevice]:
    """Devices, the first of which began the share; nobody else is allowed yet."""
    devices = [SignedDevice(folder, name, 2026 + at) for at, name in enumerate(names)]
    devices[0].join(make=True)
    for one in devices[1:]:
        one.share.mkdir(parents=True)
        shutil.copyfile(devices[0].share / "kennel.json", one.share / "kennel.json")
        one.join()
    return devices


def carry(one: SignedDevice, other: SignedDevice) -> None:
    """Bring every file of one's copy of the folder to the other's."""
    if one is not other:
        copies.carry(one.share, other.share, random.Random(1), 1.0, 0.0)


def step(devices: list[SignedDevice], times: int = 3) -> None:
    for _ in range(times):
        for one in devices:
            one.exchange()
            for other in devices:
                carry(one, other)


def recordings(one: Device) -> set[str]:
    return {kept.id for kept in one.log.recordings()}


def test_a_key_is_known_by_its_fingerprint_and_is_for_its_user_alone(tmp_path: Path) -> None:
    key = own_key(tmp_path)
    assert own_key(tmp_path).public == key.public
    file = tmp_path / "keys" / "signing.key"
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    said = fingerprint(key.public)
    assert len(said) == 24
    assert same_fingerprint(said.upper().replace("-", " "), key.public)
    assert not same_fingerprint(said[:-1], key.public)
    assert is_signed_kennel(kennel_of(key.public))
    seal = key.seal("a message")
    assert holds(seal, "a message")
    assert not holds(seal, "another")
    file.write_bytes(b"short")
    with pytest.raises(UsageError, match="damaged"):
        own_key(tmp_path)


def test_only_what_an_allowed_device_wrote_is_taken_and_later_all_of_it(tmp_path: Path) -> None:
    anna, joe, eve = devices = kennel(tmp_path, "anna", "joe", "eve")
    for number, one in enumerate(devices):
        one.add(number, 0, DOGS[0])
    step(devices)
    assert len(recordings(anna)) == 1
    refused = {state.key: state for state in key_states(anna.log, anna.place)}
    assert set(refused) == {joe.key, eve.key}
    assert refused[joe.key].aside == 1
    assert not refused[joe.key].known
    (said, *_) = [str(error) for error in anna.exchange().aside]
    assert "is not allowed" in said
    with pytest.raises(UsageError, match="Found another device than the first"):
        joe.say(eve, allowed=True)
    anna.say(joe, allowed=True)
    step(devices)
    assert recordings(anna) == recordings(joe) != recordings(eve)
    assert len(recordings(anna)) == 2
    assert len(heads_of(anna.log)) > 0
    anna.say(joe, allowed=False)
    step(devices)
    before = recordings(anna)
    joe.add(7, 0, DOGS[1])
    step(devices)
    assert recordings(anna) == before
    assert any("was withdrawn" in str(error) for error in anna.exchange().aside)
    anna.say(joe, allowed=True)
    step(devices)
    assert recordings(anna) == recordings(joe) > before


def test_what_was_taken_before_a_withdrawal_is_known_is_vouched_for(tmp_path: Path) -> None:
    anna, joe, dan, eve = devices = kennel(tmp_path, "anna", "joe", "dan", "eve")
    step(devices)
    for one in (joe, dan, eve):
        one.add(ord(one.name[0]), 0, DOGS[0])
    step(devices, 2)
    for one in (joe, dan, eve):
        anna.say(one, allowed=True)
    step(devices)
    anna.say(joe, allowed=False)
    anna.exchange()
    joe.add(1, 0, DOGS[1])  # while nobody but the first device knows of it
    joe.exchange()
    carry(joe, dan)
    dan.exchange()
    dan.add(2, 0, DOGS[2])
    step(devices)
    joe.add(3, 0, DOGS[1])
    step(devices)
    assert recordings(anna) == recordings(dan) == recordings(eve)
    assert recordings(joe) - recordings(anna) != set()
    assert heads_of(anna.log) == heads_of(dan.log) == heads_of(eve.log)


@settings(max_examples=2, deadline=None, suppress_health_check=list(HealthCheck))
@given(seed=st.integers(0, 1_000_000))
def test_who_can_write_to_the_folder_puts_nothing_into_a_signed_share(seed: int) -> None:
    """Eve holds the folder, this program and every file, but no allowed key."""
    rng = random.Random(seed)
    with tempfile.TemporaryDirectory() as folder, without_the_disk():
        anna, joe, eve = devices = kennel(Path(folder), "anna", "joe", "eve")
        joe.add(90, 0, DOGS[0])
        step(devices, 2)
        anna.say(joe, allowed=True)
        step(devices)
        own = [anna, joe]
        for number in range(4):
            one = rng.choice(own)
            one.add(number, 0, rng.choice(DOGS))
            one.act(rng)
            one.exchange()
            eve.add(100 + number, 0, rng.choice(DOGS))
            eve.exchange()
            harm(rng, anna, eve)
            for other in devices:
                carry(one, other)
        step(own)
        assert recordings(anna) == recordings(joe)
        assert len(recordings(anna)) == 5
        assert heads_of(anna.log) == heads_of(joe.log)
        texts = [
            [
                event.model_dump_json()
                for kept in sorted(recordings(one))
                for event in one.log.events(kept)
            ]
            for one in own
        ]
        assert texts[0] == texts[1]


def harm(rng: random.Random, anna: SignedDevice, eve: SignedDevice) -> None:
    """Files that Eve makes of those that lie in a folder."""
    place = anna.place
    file = rng.choice(list(place.files()))
    try:
        segment = place.read(file)
    except SegmentError:
        return
    key = own_key(eve.folder / "log")
    gone = tuple(Item(kind="gone", body=None, id=item.id) for item in segment.items)
    later = tuple(
        item.model_copy(update={"at": "1999-01-01T00:00:00.000000Z"}) if item.at else item
        for item in segment.items
    )
    assert segment.seals is not None
    made = {
        "blanked, no seal": pack(segment.model_copy(update={"items": gone})),
        "blanked, her seal": pack(
            segment.model_copy(update={"items": gone}), key, segment.seals.author
        ),
        "other times": pack(segment.model_copy(update={"items": later}), key, segment.seals.author),
        "all hers": pack(segment, key),
    }
    for name, data in made.items():
        (anna.share / f"{rng.random()}-{name}.seg").write_bytes(data)


def test_a_seal_is_of_one_segment_and_one_text(tmp_path: Path) -> None:
    (anna,) = kennel(tmp_path, "anna")
    anna.add(1, 0, DOGS[0])
    anna.exchange()
    (file,) = anna.place.files()
    segment = anna.place.read(file)
    assert segment.seals is not None
    assert holds(segment.seals.author, author_message(segment.id))
    assert not holds(segment.seals.writer, author_message(segment.id))
    assert holds(segment.seals.writer, writer_message(segment.id, segment.seals.text))
    lost = file.path.read_bytes()
    file.path.unlink()
    anna.repair()
    assert file.path.read_bytes() == lost


def test_a_share_that_is_there_is_signed_from_a_moment_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    voicelog: Voicelog = caller(monkeypatch, capsys)
    share = tmp_path / "share"

    def run(who: str, *args: object) -> Result:
        return voicelog(*args, "--data-dir", tmp_path / who)

    def note(who: str, day: int, *words: str) -> None:
        path = typed_file(tmp_path, "start session bracken", *words)
        at = f"2026-04-{day:02d}T07:30"
        assert run(who, "add", "--typed", path, "--dog", "Bracken", "--at", at).code == 0

    def sessions(who: str) -> int:
        return run(who, "summary", "--all").out.count("date  ")

    for number, who in enumerate(("anna", "joe", "eve"), start=1):
        run(who, "dogs", "put", "Bracken", "--top", "20")
        note(who, number, "here level three came")
        assert run(who, "share", "start", share, "--as", who.title()).code == 0
    assert run("joe", "share", "now").code == 0  # anna has not taken in joe's and eve's
    signed = run("anna", "share", "sign")
    assert signed.code == 0, signed
    first = signed.out.partition("Your key is ")[2][:24]
    assert "Signed from now on. What was in this log counts" in signed.out
    assert sessions("anna") == 3

    note("eve", 11, "here level four came")
    for command in (("now",), ("status",), ("carry", tmp_path / "stick")):
        refused = run("eve", "share", *command)
        assert (refused.code, refused.out) == (2, "")
        assert "signed by one of its devices since" in refused.err
    for key, said in (("0" * 20, "do not join if it differs"), (None, "another device signed")):
        refused = run("eve", "share", "sign", *([] if key is None else ["--first", key]))
        assert (refused.code, refused.err.count("\n")) == (2, 1)
        assert said in refused.err

    note("joe", 12, "here level five came")
    joined = run("joe", "share", "sign", "--first", first.upper())
    assert joined.code == 0, joined
    own = joined.out.partition("(voicelog share allow ")[2][:24]
    assert f"the key {own} of Joe is not allowed" in run("anna", "share", "now").err
    assert sessions("anna") == 3
    assert run("anna", "share", "allow", own).code == 0
    for who in ("anna", "joe"):
        told = run(who, "share", "now")
        assert (told.code, told.err) == (0, "")
    assert sessions("anna") == sessions("joe") == 4

    # a laptop that joins takes all that counts, and needs none of the files from before
    late = run("dan", "share", "start", share, "--as", "Dan", "--first", first)
    assert (late.code, late.err) == (0, "")
    assert sessions("dan") == 4
    assert run("anna", "share", "now").err.count("is not allowed") == 1  # a key, and nothing else

    # whoever takes the signature out of the folder's own file gets nowhere, and it is mended
    text = (share / "kennel.json").read_text()
    for other in ({}, {"signed_by": kennel_of("00")}):
        told_of = json.loads(text) | {"signed_by": None} | other
        (share / "kennel.json").write_text(json.dumps(told_of))
        refused = run("joe", "share", "now")
        assert (refused.code, refused.err.count("\n")) == (2, 1)
        assert "without the signature that this log knows" in refused.err
    run("joe", "share", "leave")
    (share / "kennel.json").write_text(json.dumps(json.loads(text) | {"signed_by": None}))
    assert "without the signature" in run("joe", "share", "start", share, "--as", "Joe").err
    assert run("anna", "share", "sign").code == 1  # with dan's key set aside
    assert (share / "kennel.json").read_text() == text
    again = run("joe", "share", "start", share, "--as", "Joe", "--first", first)
    assert again.code == 1, again  # likewise


def test_the_signature_of_a_share_travels_on_a_stick(tmp_path: Path) -> None:
    copies_of: list[tuple[Log, SharePlace, Path]] = []
    for name in ("anna", "joe"):
        folder = tmp_path / name
        log = Log.open(folder / "log", now=lambda: datetime.now(UTC))
        place = SharePlace.open(folder / "share", folder / "log", make=not copies_of)
        copies_of.append((log, place, folder))
        if name == "anna":
            shutil.copytree(folder / "share", tmp_path / "joe" / "share")
        join(log, place, name)
    (anna, _, _), (joe, place, _) = copies_of
    stick = tmp_path / "stick"
    carry_share(joe, stick)
    sign_share(SessionCatalog(anna))
    carry_share(anna, stick)
    carry_share(joe, stick)
    assert SharePlace.open(place.folder, joe.folder, make=False).first is not None
    with pytest.raises(SignedSinceError):
        share_status(joe)
    told = json.loads((stick / "kennel.json").read_text())
    (stick / "kennel.json").write_text(json.dumps(told | {"signed_by": kennel_of("00")}))
    with pytest.raises(UsageError, match="signed by another first device"):
        carry_share(anna, stick)
    anna.close()
    joe.close()


def test_two_laptops_in_words(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    voicelog: Voicelog = caller(monkeypatch, capsys)
    share, anna, joe = (
        tmp_path / "share",
        ("--data-dir", tmp_path / "a"),
        ("--data-dir", tmp_path / "j"),
    )
    path = typed_file(tmp_path, "start session bracken", "here level three came")
    for who in (anna, joe):
        voicelog("dogs", "put", "Bracken", "--top", "20", *who)
    started = voicelog("share", "start", share, "--as", "Anna", "--signed", *anna)
    assert started.code == 0, started
    first = started.out.partition("Your key is ")[2][:24]
    told = json.loads((share / "kennel.json").read_text())
    assert fingerprint(told["first"]) == first
    for option, said in (
        ((), "add it with --first KEY"),
        (("--first", "0" * 20), "do not join if it differs"),
    ):
        refused = voicelog("share", "start", share, "--as", "Joe", *option, *joe)
        assert (refused.code, refused.err.count("\n")) == (2, 1)
        assert said in refused.err
    voicelog("add", "--typed", path, "--dog", "Bracken", "--at", "2026-04-18T07:30", *joe)
    joined = voicelog("share", "start", share, "--as", "Joe", "--first", first, *joe)
    own = joined.out.partition("(voicelog share allow ")[2][:24]
    assert "This device is not allowed yet" in voicelog("share", "status", *joe).out
    now = voicelog("share", "now", *anna)
    assert f"the key {own} of Joe is not allowed" in now.err
    status = voicelog("share", "status", *anna).out
    assert f"Key {own} of Joe: not allowed; 1 file set aside." in status
    assert "Found no key" in voicelog("share", "allow", "1" * 20, *anna).err
    assert "Found another device than the first" in voicelog("share", "allow", own, *joe).err
    assert voicelog("share", "allow", own, *anna).out.startswith(f"Allowed: {own} of Joe.")
    assert "1 recording changed" in voicelog("share", "now", *anna).out
    voicelog("share", "now", *joe)
    assert f"Key {own} of Joe: allowed" in voicelog("share", "status", *joe).out
    assert voicelog("share", "withdraw", own, *anna).out.startswith(f"Withdrawn: {own} of Joe.")
    # whoever takes the signatures out of the folder's own file gets nowhere
    (share / "kennel.json").write_text(json.dumps({"voicelog_share": 1, "kennel": told["kennel"]}))
    refused = voicelog("share", "now", *joe)
    assert (refused.code, refused.err.count("\n")) == (2, 1)
