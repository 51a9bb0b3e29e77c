"""Serve the page for phones on the network, and hear what they have sent."""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Protocol

import uvicorn

from voicelog.app.open_file import IntakeOptions
from voicelog.app.phone_sound import PhoneOutcome, PhoneRecording, PhoneSound
from voicelog.app.resume import ResumedRecording
from voicelog.app.session_catalog import SessionCatalog
from voicelog.audio.recorder import read_pcm
from voicelog.audio.resampling import RATE
from voicelog.model import UsageError, VoicelogError
from voicelog.store import Log
from voicelog.web.phone.app import PhoneReplies, make_phone_app, make_trust_app
from voicelog.web.phone.authority import authority, leaf, may_vouch_for
from voicelog.web.phone.passes import PhonePasses
from voicelog.web.server import access_code, bound_socket, host_names, uvicorn_settings

__all__ = ["Listening", "PhoneAddresses", "serve_phone"]

RETRY_S = 60.0
"""After how long a recording that could not be added is tried again, s."""

LEAVE_S = 10.0
"""How long a live session may take to end, s."""

Added = Callable[[PhoneRecording, PhoneOutcome], None]


class Listening(PhoneReplies, Protocol):
    """A live session on what phones send."""

    def listen(self, log: Log, sound: PhoneSound, kept: PhoneRecording) -> bool:
        """Hear a recording as it comes, to its end; whether all of it is in the log then."""

    def leave(self) -> None:
        """End what `listen` does, from another thread, and let it begin nothing more."""


@dataclass(frozen=True, slots=True)
class PhoneAddresses:
    """Where a phone finds this machine.

    page: of the page, encrypted. trust: of what it needs to trust it, not encrypted.
    fingerprint: SHA-256 of the authority. code: joins one phone. others: further addresses of the
    page. unfinished: files of recordings that no phone has finished, and how long they are (s).
    """

    page: str
    trust: str
    fingerprint: str
    code: str
    others: tuple[str, ...] = ()
    unfinished: tuple[tuple[str, float], ...] = ()

    def joining(self, code: str) -> str:
        """The address that joins a phone with `code`. What stands after the # is not sent."""
        return f"{self.page}/#c={code}&f={self.fingerprint.replace(':', '')}"


def serve_phone(
    folder: Path,
    *,
    port: int,
    address: str | None,
    options: Callable[[Log], IntakeOptions],
    opened: Callable[[PhoneAddresses], None],
    joined: Callable[[str], None],
    added: Added,
    failed: Callable[[VoicelogError], None],
    now: Callable[[], datetime],
    listening: Listening | None = None,
) -> None:
    """Serve until interrupted.

    Args:
        folder: of the log.
        port: of the page; the next is that of the trust page. 0: any that are free.
        address: this machine's address as phones see it; None: found out.
        options: how recordings are heard, asked before each round of them.
        opened: told where the page is.
        joined: told the next code whenever a phone has joined.
        added: told what came of each recording.
        failed: told why none can be heard now; it is tried again.
        now: the clock.
        listening: answers while a phone records; None: what is whole is heard, and nobody answers.

    Raises:
        UsageError: the authority may not vouch for that address.
        PortError: a port is taken, or may not be used.
        VoicelogError: the log's folder cannot be written.
    """
    if address is not None and not may_vouch_for(address):
        raise UsageError(
            f"Found the address '{address}', wanted one of a private network (such as "
            "192.168.1.30) or a name that ends in .local; see the network's settings."
        )
    Log.open(folder, now=now).close()
    own = authority(folder, datetime.now(UTC))
    names = ["localhost", "127.0.0.1", *filter(may_vouch_for, host_names())]
    names += [address] if address is not None and address not in names else []
    made = leaf(folder, own, names, datetime.now(UTC))
    shown = address or next((one for one in reversed(names) if one[0].isdigit()), names[0])
    sound = PhoneSound(folder)
    passes = PhonePasses(folder, access_code, joined)
    wanted = threading.Event()
    wanted.set()  # what was finished before the last end is heard now
    over = threading.Event()
    with (
        contextlib.closing(sound),
        bound_socket("0.0.0.0", port) as page_socket,
        bound_socket("0.0.0.0", port + 1 if port else 0) as trust_socket,
    ):
        page_port, trust_port = (one.getsockname()[1] for one in (page_socket, trust_socket))
        page = make_phone_app(
            sound,
            passes,
            hosts=_at(names, page_port),
            changed=wanted.set,
            now=now,
            answers=listening,
        )
        trust = make_trust_app(own.der, own.fingerprint, hosts=_at(names, trust_port))
        trusting = uvicorn.Server(uvicorn_settings(trust, None))
        beside = threading.Thread(
            target=trusting.run, kwargs={"sockets": [trust_socket]}, name="trust page", daemon=True
        )
        beside.start()
        hearing = threading.Thread(
            target=_hear,
            args=(folder, sound, options, added, failed, now, wanted, over, listening),
            name="hear",
            daemon=True,
        )
        hearing.start()
        opened(
            PhoneAddresses(
                page=f"https://{shown}:{page_port}",
                trust=f"http://{shown}:{trust_port}",
                fingerprint=own.fingerprint,
                code=passes.code,
                others=tuple(f"https://{name}:{page_port}" for name in names if name != shown),
                unfinished=tuple(
                    (str(path), len(read_pcm(path)) / RATE)
                    for kept in sound.unfinished()
                    if (path := sound.file_of(kept)).is_file()
                ),
            )
        )
        try:
            uvicorn.Server(uvicorn_settings(page, made)).run(sockets=[page_socket])
        finally:
            over.set()
            wanted.set()
            if listening is not None:
                listening.leave()
                hearing.join(timeout=LEAVE_S)
            trusting.should_exit = True
            beside.join(timeout=3.0)


def _at(names: list[str], port: int) -> list[str]:
    return [f"{name.lower()}:{port}" for name in names]


def _hear(
    folder: Path,
    sound: PhoneSound,
    options: Callable[[Log], IntakeOptions],
    added: Added,
    failed: Callable[[VoicelogError], None],
    now: Callable[[], datetime],
    wanted: threading.Event,
    over: threading.Event,
    listening: Listening | None,
) -> None:
    """Listen to what comes, where somebody answers, and add what is finished, whenever something
    is, until it is over."""
    while not over.is_set():
        wanted.wait(timeout=RETRY_S)
        wanted.clear()
        arriving = sound.arriving() if listening is not None else ()
        if over.is_set() or not (arriving or sound.waiting()):
            continue
        try:
            with Log.open(folder, now=now) as log:
                while listening is not None and (kept := _unheard(log, sound)) is not None:
                    if over.is_set():
                        return
                    whole = listening.listen(log, sound, kept)
                    stored = log.recording(kept.id)
                    if whole and stored is not None:
                        added(kept, ResumedRecording(stored))
                for kept, result in sound.add_waiting(log, options(log)):
                    added(kept, result)
                SessionCatalog(log).refresh()
        except VoicelogError as error:
            failed(error)


def _unheard(log: Log, sound: PhoneSound) -> PhoneRecording | None:
    """The oldest recording that is arriving and that no session has listened to."""
    arriving = sound.arriving()
    return next((kept for kept in arriving if log.recording(kept.id) is None), None)
