"""Two logs and two daemons of a real sync program, over the loopback; the bench has more of it."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.store.share.daemons import PROGRAM, linked, wait_until
from tests.store.share.kennel import Device, view
from voicelog.store.share.exchange import heads_of


@pytest.mark.skipif(PROGRAM is None, reason="syncthing is not installed")
def test_two_daemons_carry_one_log(tmp_path: Path) -> None:
    devices = [Device(tmp_path, "a", 2026), Device(tmp_path, "b", 2190)]
    daemons = linked(tmp_path, ["a", "b"])
    try:
        first, second = devices
        first.add(1, 0, "Bramble")
        second.add(1, 2, "Thorn")
        first.join(make=True)
        first.exchange()
        daemons[0].scan()
        wait_until((second.share / "kennel.json").exists, 30)
        second.join()

        def same() -> bool:
            for one, daemon in zip(devices, daemons, strict=True):
                if one.exchange().written:
                    daemon.scan()
            return len({heads_of(one.log) for one in devices}) == 1

        wait_until(same, 30)
        assert view(first.log) == view(second.log)
        assert first.log.events(first.log.recordings()[0].id)
    finally:
        for daemon in daemons:
            daemon.kill()
        for one in devices:
            one.log.close()
