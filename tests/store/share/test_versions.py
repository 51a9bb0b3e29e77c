"""An older program leaves what a newer one wrote alone, keeps it and passes it on."""

from __future__ import annotations

import random
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import text

from tests.store.share.kennel import Device, carry, view
from voicelog.store.share import inbox, tables
from voicelog.store.share.items import item_id, make_item
from voicelog.store.share.outbox import regenerated
from voicelog.store.share.place import SharePlace
from voicelog.store.share.segments import SealedSegment, SegmentHeader


def test_what_is_newer_is_kept_and_taken_in_by_a_newer_program(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    old, new = Device(tmp_path, "old", 2026), Device(tmp_path, "new", 2026)
    new.add(1, 0, "Bramble")
    new.act(random.Random(1))
    new.join(make=True)
    new.exchange()
    place = SharePlace.open(new.share, new.log.folder, make=False)
    weather = make_item("matter", {"rain": True}).model_copy(
        update={"kind": "weather", "id": item_id("weather", {"rain": True})}
    )
    header = SegmentHeader(kennel=place.kennel, device="f" * 16, number=1)
    place.write(SealedSegment(header=header, items=(weather,)), "f" * 16)
    carry(new.share, old.share, random.Random(0), 1.0, 0.0)
    known = inbox._known_body

    def older(item: Any) -> Any:
        text_of_it = str(item.body)
        return None if "'verdict'" in text_of_it or "'person'" in text_of_it else known(item)

    monkeypatch.setattr(inbox, "_known_body", older)
    old.join()
    assert old.exchange().taken.newer > 4
    assert view(old.log) != view(new.log)
    with old.log.reading() as connection:
        for name in tables.segment_ids(connection):
            assert not any(item.gone for item in regenerated(connection, name).items)

    monkeypatch.setattr(inbox, "_known_body", known)
    with old.log.writing() as connection:
        connection.execute(text("UPDATE share_state SET value = '0' WHERE key = 'program'"))
    old.exchange()
    new.exchange()
    assert view(old.log) == view(new.log)
    for one in (old, new):
        one.log.close()
