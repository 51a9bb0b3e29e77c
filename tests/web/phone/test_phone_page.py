"""The phone page in a real browser, which trusts it by the certificate that was installed: what
its microphone gave is on the laptop to the sample, though connection and page went away."""

from __future__ import annotations

import shutil
import wave
from pathlib import Path

import numpy as np
import pytest

from tests.web.phone.phone_browser import CHROMIUM, PhonePage, open_phone, record
from tests.web.waiting import until
from voicelog.audio.recorder import as_pcm

pytest.importorskip("playwright.sync_api", reason="needs playwright")
axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="needs axe")
pytestmark = [
    pytest.mark.skipif(CHROMIUM is None, reason="needs Debian's chromium"),
    pytest.mark.timeout(300),  # some seconds of sound and of holding keys, beside other work
    pytest.mark.skipif(shutil.which("certutil") is None, reason="needs Debian's libnss3-tools"),
]


def noise(path: Path, seconds: float) -> Path:
    rng = np.random.default_rng(5)
    pcm = as_pcm((0.1 * rng.standard_normal(round(seconds * 16_000))).astype(np.float32))
    with wave.open(str(path), "wb") as file:
        file.setparams((1, 2, 16_000, 0, "NONE", ""))
        file.writeframes(pcm.tobytes())
    return path


def test_what_the_microphone_gave_is_on_the_laptop_to_the_sample(tmp_path: Path) -> None:
    served = PhonePage(tmp_path / "log", "--listener", "quick")
    try:
        with open_phone(tmp_path, served, noise(tmp_path / "mic.wav", 60)) as opened:
            context, page, produced = opened
            page.goto(f"{served.address}/#c={served.code}")
            page.wait_for_selector("body[data-phase=ready]")
            assert page.evaluate("isSecureContext && location.hash === ''")
            until(page, "navigator.serviceWorker.controller !== null")
            record(page)
            context.set_offline(True)
            page.wait_for_selector("body[data-sending=out-of-reach]")
            until(page, "document.getElementById('said').innerText.includes('out of reach')")
            until(page, "Number(document.body.dataset.kept) >= 16000")
            page.reload()  # what the phone kept opens, and the recording ends where it was
            page.wait_for_selector("body[data-phase=ready]")
            assert "cut off" in page.inner_text("#state")
            assert int(page.get_attribute("body", "data-kept") or 0) >= 16_000
            record(page)
            until(page, "document.getElementById('time').textContent > '0:00'")
            assert axe.Axe().run(page).response["violations"] == []
            page.click("#dark")
            page.evaluate("track.dispatchEvent(new Event('mute'))")
            assert "muted" in page.inner_text("#state")
            assert "muted" in page.inner_text("#night")
            assert page.get_attribute("body", "data-phase") == "lost"
            page.evaluate("track.dispatchEvent(new Event('unmute'))")
            assert "is back" in page.inner_text("#state")
            page.mouse.click(100, 300)  # a pocket's touch
            assert page.is_visible("#night")
            page.mouse.down()
            page.wait_for_selector("#night", state="hidden")
            page.mouse.up()
            page.focus("#dark")  # the keys do the same, held as long
            page.keyboard.press("Enter")
            page.keyboard.press("Enter")
            assert page.is_visible("#night")
            page.keyboard.down("Enter")
            page.wait_for_selector("#night", state="hidden")
            page.keyboard.up("Enter")
            assert page.evaluate("document.activeElement.id") == "dark"
            page.keyboard.press("Enter")
            page.evaluate("document.getElementById('night').click()")  # as read aloud
            assert page.is_hidden("#night")
            taken = "track.dispatchEvent(new Event('ended')); document.body.dataset.phase"
            assert page.evaluate(taken) == "lost"
            while len(produced.blocks) < 3:  # it records anew, with a time of its own
                page.wait_for_timeout(50)
            page.wait_for_selector("body[data-phase=recording]")
            page.focus("#stop")
            page.keyboard.press("Space")
            assert page.get_attribute("body", "data-phase") == "recording"
            page.keyboard.down("Space")
            page.wait_for_selector("body[data-phase=ready]")
            page.keyboard.up("Space")
            until(page, "document.activeElement.id === 'start'")
            context.set_offline(False)
            page.wait_for_selector("body[data-kept='0'][data-sending=all-sent]")
            first, *others = produced.sound
        said = served.read_until(r"(begun(.|\n)*){3}")
        assert said.count("phone, begun") == 3
    finally:
        served.end()
    kept = sorted((tmp_path / "log" / "sound").rglob("*.wav"), key=lambda path: path.stat().st_size)
    sounds = []
    for path in kept:
        with wave.open(str(path)) as file:
            sounds.append(np.frombuffer(file.readframes(file.getnframes()), "<i2"))
    assert len(sounds) == 3
    for other in others:
        (place,) = (at for at, one in enumerate(sounds) if np.array_equal(one, other))
        del sounds[place]
    (cut,) = sounds
    assert 16_000 <= len(cut) <= len(first) <= len(cut) + 16_000
    assert np.array_equal(cut, first[: len(cut)])
