"""Each attack of the table in docs/sharing.md, tried: what who tries it gets, and what not."""

from __future__ import annotations

import gzip
import json
import os
import random
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.store.share.kennel import DOGS, Device
from tests.store.share.test_signed import carry, kennel, recordings, step
from voicelog.app.share import carry_share
from voicelog.app.share_trust import check_first, joined
from voicelog.model import MatterEvent, Reading, UsageError, Utterance
from voicelog.store.share.exchange import remember_first
from voicelog.store.share.items import Item
from voicelog.store.share.place import SharePlace
from voicelog.store.share.segments import pack
from voicelog.store.share.signing import fingerprint, own_key

Attack = Callable[[Path], None]
ATTACKS: dict[str, Attack] = {}


def attack(row: str) -> Callable[[Attack], Attack]:
    """Make a function the trial of the row of the table that begins with these words."""

    def named(trial: Attack) -> Attack:
        assert row not in ATTACKS
        ATTACKS[row] = trial
        return trial

    return named


def rows() -> list[str]:
    """What the table of attacks has in its first column."""
    text = Path("docs/sharing.md").read_text("utf-8")
    part = text.partition("## Attacks")[2].partition("\n## ")[0]
    lines = [line for line in part.splitlines() if line.startswith("| ")]
    return [line.split("|")[1].strip() for line in lines[1:]]


@pytest.mark.parametrize("row", rows())
def test_who_tries_it_gets_what_the_table_says(row: str, tmp_path: Path) -> None:
    ATTACKS[row](tmp_path)


def test_every_attack_that_is_tried_is_in_the_table() -> None:
    assert rows() == list(ATTACKS)


def open_kennel(folder: Path, *names: str) -> list[Device]:
    """Devices of a share that is not signed, with a recording of the first one each."""
    devices = [Device(folder, name, 2026 + at) for at, name in enumerate(names)]
    devices[0].join(make=True)
    for one in devices[1:]:
        shutil.copytree(devices[0].share, one.share)
        one.join()
    devices[0].add(1, 0, DOGS[0])
    exchanged(devices)
    return devices


def exchanged(devices: list[Device]) -> None:
    """Let all come to one log; every file reaches everyone."""
    for _ in range(2):
        for one in devices:
            one.exchange()
            for other in devices:
                if one is not other:
                    shutil.copytree(one.share, other.share, dirs_exist_ok=True)


def read_as(one: Device, who: str, words: str) -> None:
    """A note of the first recording, read by whom it says."""
    told = one.log.events(min(recordings(one)))
    utterance = next(event for event in told if isinstance(event, Utterance))
    reading = Reading(
        id=one.fresh("r"), utterance=utterance.id, words=words, by="person", who=who, at=one.now()
    )
    one.log.append([reading])


def said(one: Device) -> set[tuple[str, str]]:
    """What people read, with their names."""
    return {
        (event.who, event.words)
        for name in recordings(one)
        for event in one.log.events(name)
        if isinstance(event, Reading) and event.by == "person"
    }


@attack("reads the folder")
def _(folder: Path) -> None:
    anna, _ = open_kennel(folder, "anna", "joe")
    files = [file for file in anna.share.rglob("*") if file.is_file()]
    assert {file.suffix for file in files} == {".json", ".seg"}
    text = b"".join(gzip.decompress(file.read_bytes()) for file in files if file.suffix == ".seg")
    assert DOGS[0].encode() in text
    assert b"level 0" in text


@attack("adds notes under any name, in a share that is not signed")
def _(folder: Path) -> None:
    anna, eve = devices = open_kennel(folder, "anna", "eve")
    read_as(eve, "Anna", "level nine")
    exchanged(devices)
    assert said(anna) == {("Anna", "level nine")}


@attack("deletes recordings, in a share that is not signed")
def _(folder: Path) -> None:
    anna, eve = devices = open_kennel(folder, "anna", "eve")
    closed = MatterEvent(id="m-1", do="close", kind="stop", entries=("u-1",), who="a", reason="b")
    anna.log.append_matters([closed])
    rng = random.Random(1)
    while recordings(eve):
        eve.delete(rng)
    exchanged(devices)
    assert not recordings(anna)
    assert len(anna.log.matter_events()) == 1


@attack("writes into a signed share without an allowed key")
def _(folder: Path) -> None:
    anna, eve = devices = kennel(folder, "anna", "eve")
    eve.add(1, 0, DOGS[0])
    step(devices)
    assert not recordings(anna)
    assert "is not allowed" in str(anna.exchange().aside[0])


@attack("changes a file of a signed share, or signs it again")
def _(folder: Path) -> None:
    anna, joe, eve = devices = kennel(folder, "anna", "joe", "eve")
    anna.add(1, 0, DOGS[0])
    anna.exchange()
    (file,) = anna.place.files()
    segment = anna.place.read(file)
    assert segment.seals is not None
    blank = tuple(Item(kind="gone", body=None, id=one.id) for one in segment.items)
    blanked = segment.model_copy(update={"items": blank})
    key = own_key(eve.folder / "log")
    for data in (pack(blanked), pack(blanked, key, segment.seals.author), pack(blanked, key)):
        file.path.unlink(missing_ok=True)
        (joe.share / "x.seg").write_bytes(data)  # its own name would say that it is cut short
        said_of = [str(error) for error in joe.exchange().aside]
        assert len(said_of) == 1
        assert "not signed" in said_of[0] or "is not allowed" in said_of[0]
        assert not recordings(joe)
    anna.repair()
    step(devices)
    assert len(recordings(joe)) == 1


@attack("says in an allowed device's name what another person said")
def _(folder: Path) -> None:
    anna, joe = devices = kennel(folder, "anna", "joe")
    anna.add(1, 0, DOGS[0])
    step(devices)
    read_as(joe, "Anna", "level nine")
    step(devices)
    assert not said(anna)
    anna.say(joe, allowed=True)
    step(devices)
    assert said(anna) == {("Anna", "level nine")}


@attack("has a laptop whose key was withdrawn")
def _(folder: Path) -> None:
    anna, joe = devices = kennel(folder, "anna", "joe")
    joe.add(1, 0, DOGS[0])
    step(devices)
    anna.say(joe, allowed=True)
    step(devices)
    anna.say(joe, allowed=False)
    step(devices)
    joe.add(2, 0, DOGS[0])
    joe.add(3, 0, DOGS[0])
    step(devices)
    assert len(recordings(anna)) == 1  # what came before stays
    assert len(recordings(joe)) == 3


@attack("keeps from others the file that withdraws a key")
def _(folder: Path) -> None:
    anna, joe, dan = devices = kennel(folder, "anna", "joe", "dan")
    for one in (joe, dan):
        one.add(ord(one.name[0]), 0, DOGS[0])
    step(devices)
    for other in (joe, dan):
        anna.say(other, allowed=True)
    step(devices)
    anna.say(joe, allowed=False)
    anna.exchange()
    joe.add(1, 0, DOGS[0])
    joe.exchange()
    carry(joe, dan)  # and not anna's
    dan.exchange()
    assert recordings(joe) == recordings(dan)
    carry(anna, dan)
    dan.exchange()
    joe.add(2, 0, DOGS[0])
    joe.exchange()
    carry(joe, dan)
    dan.exchange()
    assert len(recordings(joe) - recordings(dan)) == 1


@attack("takes the signature out of `kennel.json`, or puts in another")
def _(folder: Path) -> None:
    anna, eve = kennel(folder, "anna", "eve")
    file = anna.share / "kennel.json"
    told = json.loads(file.read_text())
    for change in ({"first": None}, {"first": own_key(eve.folder / "log").public}):
        file.write_text(json.dumps(told | change))
        with pytest.raises(UsageError, match="cannot be read"):
            joined(anna.log)
    (bea,) = open_kennel(folder, "bea")
    key = own_key(bea.folder / "log")
    remember_first(bea.log, key.public)
    SharePlace.open(bea.share, bea.log.folder, make=False).sign(key.public, key)
    joined(bea.log)
    file = bea.share / "kennel.json"
    told = json.loads(file.read_text())
    for change in ({"signed_by": None}, {"signed_by": own_key(eve.folder / "log").public}):
        file.write_text(json.dumps(told | change))
        with pytest.raises(UsageError, match="without the signature that this log knows"):
            joined(bea.log)


@attack("puts another share in the folder before a device joins")
def _(folder: Path) -> None:
    (anna,) = kennel(folder / "a", "anna")
    (eve,) = kennel(folder / "e", "eve")
    (bea,) = open_kennel(folder / "b", "bea")
    joe = Device(folder, "joe", 2026)
    for forged in (eve, bea):
        place = SharePlace.open(forged.share, joe.log.folder, make=False)
        with pytest.raises(UsageError, match=r"do not join if it differs|that is not signed"):
            check_first(place, fingerprint(anna.key), signed=False)


@attack("says that a share which is not signed is signed now")
def _(folder: Path) -> None:
    anna, eve = open_kennel(folder, "anna", "eve")
    key = own_key(eve.folder / "log")
    SharePlace.open(anna.share, eve.log.folder, make=False).sign(key.public, key)
    with pytest.raises(UsageError, match="wanted a person to say that this is right"):
        joined(anna.log)
    assert len(recordings(anna)) == 1


@attack("puts in files that fill the memory, never end or lead elsewhere")
def _(folder: Path) -> None:
    anna, joe = open_kennel(folder, "anna", "joe")
    strange = joe.share / f"d-{anna.device}" / "000"
    (strange / "bomb.seg").write_bytes(gzip.compress(bytes(80 << 20), 1))
    os.mkfifo(strange / "pipe.seg")
    (strange / "link.seg").symlink_to("/dev/zero")
    aside = joe.exchange().aside
    assert len(aside) == 3
    assert all(str(error).count("\n") == 0 for error in aside)
    assert recordings(joe) == recordings(anna)


@attack("hands over a stick with links to other files")
def _(folder: Path) -> None:
    (anna,) = open_kennel(folder, "anna")
    secret = folder / "passwords"
    secret.write_text("swordfish")
    stick = folder / "stick"
    carry_share(anna.log, stick)
    name = f"000009-{'a' * 64}-9.seg"
    (stick / "d-0123456789abcdef" / "000").mkdir(parents=True)
    (stick / "d-0123456789abcdef" / "000" / name).symlink_to(secret)
    os.mkfifo(stick / "d-0123456789abcdef" / "000" / f"000008-{'b' * 64}-9.seg")
    assert carry_share(anna.log, stick).back == 0
    assert not list(anna.share.rglob(name))


@attack("puts a link in place of a folder of the share")
def _(folder: Path) -> None:
    anna, joe = open_kennel(folder, "anna", "joe")
    elsewhere = folder / "elsewhere"
    stick = folder / "stick"
    carry_share(anna.log, stick)
    shutil.copytree(stick / f"d-{anna.device}", elsewhere)
    own = stick / f"d-{anna.device}"
    shutil.rmtree(own)
    own.symlink_to(elsewhere, target_is_directory=True)
    before = sorted(elsewhere.rglob("*"))
    with pytest.raises(UsageError, match="Found a link in place of the folder"):
        carry_share(anna.log, stick)
    assert sorted(elsewhere.rglob("*")) == before
    place = SharePlace.open(stick, joe.log.folder, make=False)
    assert not list(place.files(f"d-{anna.device}")), "nor is it read"
    assert not [file for file in place.files() if f"d-{anna.device}" in str(file.path)]
    mine = joe.share / f"d-{joe.device}"
    shutil.rmtree(mine, ignore_errors=True)
    mine.symlink_to(elsewhere, target_is_directory=True)
    joe.add(2, 0, DOGS[0])
    with pytest.raises(UsageError, match="Found a link in place of the folder"):
        joe.exchange()
    assert sorted(elsewhere.rglob("*")) == before
    mine.unlink()
    joe.exchange()
    assert not list(place.files(f"d-{anna.device}"))
    assert list((joe.share / f"d-{joe.device}").rglob("*.seg"))


@attack("empties the folder")
def _(folder: Path) -> None:
    anna, joe = devices = open_kennel(folder, "anna", "joe")
    for one in devices:
        shutil.rmtree(one.share / f"d-{anna.device}")
        one.exchange()
        assert len(recordings(one)) == 1
    joe.repair()
    dan = Device(folder, "dan", 2030)
    shutil.copytree(joe.share, dan.share)
    dan.join()
    dan.exchange()
    assert recordings(dan) == recordings(anna)


@attack("brings back a file from before something was deleted")
def _(folder: Path) -> None:
    anna, joe = devices = open_kennel(folder, "anna", "joe")
    before = folder / "before"
    shutil.copytree(anna.share, before)
    rng = random.Random(1)
    while recordings(joe):
        joe.delete(rng)
    exchanged(devices)
    for one in devices:
        shutil.copytree(before, one.share, dirs_exist_ok=True)
    exchanged(devices)
    assert not recordings(anna)
    assert not recordings(joe)
