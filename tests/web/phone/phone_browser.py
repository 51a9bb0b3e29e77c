"""The phone page in a browser with a microphone of its own: a file of sound, and the authority of
the machine installed in a fresh profile, as on a phone."""

from __future__ import annotations

import base64
import re
import shutil
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from tests.web.waiting import PATIENCE_S

if TYPE_CHECKING:
    from playwright.sync_api import BrowserContext, Page

__all__ = ["CHROMIUM", "PhonePage", "Produced", "open_phone", "record", "stop"]

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
_TAPPED = """
(() => {
  const ask = MediaDevices.prototype.getUserMedia;
  MediaDevices.prototype.getUserMedia = async function (...wanted) {
    const stream = await ask.apply(this, wanted);
    [window.track] = stream.getAudioTracks();
    return stream;
  };
  const Real = AudioWorkletNode;
  window.AudioWorkletNode = class extends Real {
    constructor(...given) {
      super(...given);
      const id = crypto.randomUUID();
      this.port.addEventListener("message", ({ data }) => {
        if (!data.pcm) return;
        const bytes = new Uint8Array(data.pcm.buffer);
        let text = "";
        for (const one of bytes) text += String.fromCharCode(one);
        window.produced(id, data.start, btoa(text));
      });
    }
  };
})();
"""
"""Tells the test every block that the worklet gives, past all that the page does with it, and
leaves it the microphone's track."""


def two_ports() -> int:
    """A port that is free, as is the next."""
    while True:
        with socket.socket() as one, socket.socket() as other:
            one.bind(("0.0.0.0", 0))
            port = int(one.getsockname()[1])
            try:
                other.bind(("0.0.0.0", port + 1))
            except OSError:
                continue
            return port


@dataclass
class Produced:
    """What each worklet has given, in order."""

    blocks: dict[str, list[bytes]] = field(default_factory=dict)

    def take(self, _: object, worklet: str, start: int, text: str) -> None:
        given = self.blocks.setdefault(worklet, [])
        assert start == sum(map(len, given)) // 2
        given.append(base64.b64decode(text))

    @property
    def sound(self) -> list[NDArray[np.int16]]:
        return [np.frombuffer(b"".join(one), "<i2") for one in self.blocks.values()]


class PhonePage:
    """The command `voicelog phone`, which can be killed and begun again, and where it is."""

    def __init__(self, folder: Path, *options: str) -> None:
        self.folder, self.port = folder, two_ports()
        self._options = options
        self.printed = ""
        self.start()

    @property
    def address(self) -> str:
        return f"https://127.0.0.1:{self.port}"

    def start(self) -> None:
        code = "from voicelog.cli import main; main()"
        given = ["phone", "--port", str(self.port), "--address", "127.0.0.1", *self._options]
        self.run = subprocess.Popen(
            [sys.executable, "-c", code, *given, "--data-dir", str(self.folder)],
            stdout=subprocess.PIPE,
            text=True,
            encoding="utf-8",
        )
        self.read_until(r"Stop with Ctrl-C")
        found = re.findall(r"code ([a-z2-9-]{14})", self.printed)
        self.code = found[-1]

    def read_until(self, pattern: str) -> str:
        assert self.run.stdout is not None
        said = ""
        while not re.search(pattern, said):
            line = self.run.stdout.readline()
            assert line, self.printed + said
            said += line
        self.printed += said
        return said

    def kill(self) -> None:
        self.run.kill()
        self.run.communicate()

    def end(self) -> None:
        self.run.send_signal(signal.SIGINT)
        self.run.communicate(timeout=PATIENCE_S)


@contextmanager
def open_phone(
    place: Path, served: PhonePage, sound: Path, *, trusted: bool = True
) -> Iterator[tuple[BrowserContext, Page, Produced]]:
    """A browser in a fresh profile at an empty page. `sound` is what its microphone hears, once;
    `trusted`: the authority is installed, by the system's own tool."""
    from playwright.sync_api import sync_playwright  # only where there is a browser

    home = place / "home"
    keys = home / ".pki" / "nssdb"
    keys.mkdir(parents=True)
    database = f"sql:{keys}"
    subprocess.run(["certutil", "-d", database, "-N", "--empty-password"], check=True)
    if trusted:
        authority = served.folder / "phone-authority.pem"
        install = ["certutil", "-d", database, "-A", "-t", "C,,", "-n", "voicelog"]
        subprocess.run([*install, "-i", str(authority)], check=True)
    produced = Produced()
    args = [
        "--no-sandbox",
        "--use-fake-ui-for-media-stream",
        "--use-fake-device-for-media-stream",
        f"--use-file-for-fake-audio-capture={sound}%noloop",
        "--autoplay-policy=no-user-gesture-required",
    ]
    with sync_playwright() as run:
        context: Any = run.chromium.launch_persistent_context(
            str(place / "profile"),
            executable_path=CHROMIUM,
            args=args,
            env={"HOME": str(home), "PATH": "/usr/bin:/bin"},
            permissions=["microphone"],
        )
        context.set_default_timeout(1000 * PATIENCE_S)
        context.expose_binding("produced", produced.take)
        context.add_init_script(_TAPPED)
        yield context, context.pages[0], produced
        context.close()


def record(page: Page) -> None:
    """Press Record, and see that it does."""
    page.click("#start")
    page.wait_for_selector("body[data-phase=recording]")


def stop(page: Page) -> None:
    """Hold Stop for as long as it asks."""
    box = page.locator("#stop").bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 20, box["y"] + 20)
    page.mouse.down()
    page.wait_for_selector("body[data-phase=ready]")
    page.mouse.up()
