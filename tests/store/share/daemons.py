"""Daemons of a sync program (Syncthing) on this machine alone: no discovery, relay or report."""

from __future__ import annotations

import os
import shutil
import signal
import socket
import subprocess
import time
import xml.etree.ElementTree as ElementTree
from collections.abc import Callable, Sequence
from pathlib import Path
from urllib.request import Request, urlopen

__all__ = ["PROGRAM", "SyncDaemon", "linked", "wait_until"]

PROGRAM = shutil.which("syncthing")

_OFF = {
    "globalAnnounceEnabled": "false",
    "localAnnounceEnabled": "false",
    "relaysEnabled": "false",
    "natEnabled": "false",
    "urAccepted": "-1",
    "autoUpgradeIntervalH": "0",
    "crashReportingEnabled": "false",
    "setLowPriority": "false",  # with it the child leaves its process group and outlives a kill
    "startBrowser": "false",
    "reconnectionIntervalS": "1",
    "progressUpdateIntervalS": "-1",
}


class SyncDaemon:
    """One daemon with its own settings and its own copy of the folder."""

    def __init__(self, home: Path, folder: Path) -> None:
        self.home, self.folder = home, folder
        folder.mkdir(parents=True, exist_ok=True)
        assert PROGRAM is not None
        subprocess.run(
            [PROGRAM, "generate", f"--home={home}", "--no-default-folder", "--skip-port-probing"],
            check=True,
            capture_output=True,
        )
        own = ElementTree.parse(home / "config.xml").find("device")
        assert own is not None
        self.id = own.attrib["id"]
        self.port, self.gui = _free_port(), _free_port()
        self._process: subprocess.Popen[bytes] | None = None

    def configure(self, others: Sequence[SyncDaemon]) -> None:
        """Know these daemons, and share the folder with them."""
        file = self.home / "config.xml"
        tree = ElementTree.parse(file)
        root = tree.getroot()
        for known in root.findall("device"):
            root.remove(known)
        folder = ElementTree.SubElement(
            root,
            "folder",
            id="kennel",
            path=str(self.folder),
            type="sendreceive",
            rescanIntervalS="5",
            fsWatcherEnabled="true",
            fsWatcherDelayS="1",
        )
        for one in others:
            ElementTree.SubElement(folder, "device", id=one.id)
            device = ElementTree.SubElement(root, "device", id=one.id, name=one.home.name)
            address = ElementTree.SubElement(device, "address")
            address.text = f"tcp://127.0.0.1:{one.port}"
        options = root.find("options")
        assert options is not None
        for name, value in (_OFF | {"listenAddress": f"tcp://127.0.0.1:{self.port}"}).items():
            for old in options.findall(name):
                options.remove(old)
            ElementTree.SubElement(options, name).text = value
        gui = root.find("gui")
        assert gui is not None
        for name, value in (("address", f"127.0.0.1:{self.gui}"), ("apikey", "kennel")):
            for old in gui.findall(name):
                gui.remove(old)
            ElementTree.SubElement(gui, name).text = value
        tree.write(file)

    def start(self) -> None:
        """Let it run."""
        assert PROGRAM is not None
        with (self.home / "log.txt").open("ab") as log:
            self._process = subprocess.Popen(
                [PROGRAM, "serve", f"--home={self.home}", "--no-browser", "--no-restart"],
                env={"STNOUPGRADE": "1", "HOME": str(self.home), "GOMAXPROCS": "1"},
                stdout=log,
                stderr=log,
                start_new_session=True,  # it starts a child, which is to end with it
            )

    def kill(self) -> None:
        """End it without a word, as a dead battery does."""
        if self._process is not None:
            os.killpg(self._process.pid, signal.SIGKILL)
            self._process.wait()
            self._process = None

    def scan(self) -> None:
        """Look at the folder now; without it the daemon does so by itself, a little later."""
        request = Request(
            f"http://127.0.0.1:{self.gui}/rest/db/scan?folder=kennel",
            method="POST",
            headers={"X-API-Key": "kennel"},
        )
        try:
            urlopen(request, timeout=30).close()
        except OSError:
            return  # it is not up yet, and looks when it is


def linked(folder: Path, names: Sequence[str]) -> list[SyncDaemon]:
    """Daemons that run and know each other, each with a copy of the folder `NAME/share`."""
    daemons = [SyncDaemon(folder / f"{name}-home", folder / name / "share") for name in names]
    for one in daemons:
        one.configure(daemons)
        one.start()
    return daemons


def wait_until(done: Callable[[], bool], limit_s: float) -> float:
    """Seconds until `done()` is true.

    Raises:
        TimeoutError: it took longer than that.
    """
    began = time.monotonic()
    while not done():
        if time.monotonic() - began > limit_s:
            raise TimeoutError(f"not within {limit_s} s")
        time.sleep(0.1)
    return time.monotonic() - began


def _free_port() -> int:
    with socket.socket() as some:
        some.bind(("127.0.0.1", 0))
        port: int = some.getsockname()[1]
        return port
