"""What the phone page and its command say."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime

from voicelog.report.words import Face, another_port, clean, clock, counted, day

__all__ = [
    "ALREADY_OPEN",
    "CLOSED_FOR_PHONES",
    "NOT_JOINED",
    "NOT_OPEN",
    "NO_DOGS_LIVE",
    "NO_NETWORK",
    "NO_VOICE_LIVE",
    "OPENING_FOR_PHONES",
    "PAGE_WORDS",
    "PHONE_LAST",
    "SAID_OUT_OF_REACH",
    "SAID_REACHED",
    "WRONG_CODE",
    "joined_words",
    "phone_added_words",
    "phone_open_words",
    "phone_opened_words",
    "phone_port_words",
    "phone_resumed_words",
    "phone_state_words",
    "qr_lines",
    "sound_unreadable_words",
]

WRONG_CODE = (
    "That code is not the one on the laptop's screen, or was used already, since each joins one "
    "phone: scan the newest."
)
NO_NETWORK = (
    "Found no private network on this machine, wanted one that the phone is in too, such as a "
    "hotspot; join one and start again, or say this machine's address."
)
ALREADY_OPEN = "The page for phones is open already; close that one first."
NOT_OPEN = "The page for phones is not open; nothing was closed."
OPENING_FOR_PHONES = "Opening; the codes to scan appear when it is open."
PHONE_LAST = (
    "Sound that arrives whole is heard and kept in the log. Stop with Ctrl-C; a phone keeps what "
    "the laptop does not have yet."
)
CLOSED_FOR_PHONES = "Closing; a phone keeps what this computer does not have yet."
NOT_JOINED = "This phone has not joined: scan the code on the laptop's screen."
SAID_OUT_OF_REACH = "laptop out of reach, recording goes on"
SAID_REACHED = "laptop is back"
NO_DOGS_LIVE = (
    "Found no dog on the roster, wanted one whose name can be said; add it first: voicelog dogs "
    "put NAME --top 20 --collar 4."
)
NO_VOICE_LIVE = (
    "Found no voice, wanted one for the phone's answers; they are tones, and words on its page, "
    "until you install voicelog[voice]."
)

PAGE_WORDS: Mapping[str, str] = {
    "title": "voicelog: the phone as recorder",
    "start": "Record",
    "stop": "Hold to stop",
    "dark": "Dark screen",
    "wake": "Hold two seconds for the light",
    "ready": "Ready.",
    "recording": "Recording.",
    "starting": "Starting.",
    "stopping": "Stopping.",
    "lost": "The phone has taken the microphone away. Nothing is recorded.",
    "silent": "The phone has muted the microphone. What is recorded now is silence.",
    "back": "The microphone is back: recording again.",
    "refused": "The microphone was not allowed: allow it for this page in the phone's settings.",
    "no-rate": "This browser cannot record at 16 kHz; take another browser.",
    "not-trusted": "Without a trusted certificate a browser gives no microphone: see the laptop's "
    "first code.",
    "not-joined": NOT_JOINED,
    "joining": "Joining.",
    "joined": "Joined.",
    "all-sent": "All sound is on the laptop.",
    "kept-here": "on this phone, not on the laptop yet",
    "sending": "Sending.",
    "out-of-reach": "The laptop is out of reach. Recording goes on; the sound is kept here.",
    "phone-full": "This phone is full. Sound goes straight to the laptop: stay near it.",
    "phone-full-alone": "This phone is full and the laptop out of reach: new sound is only in "
    "memory, do not close this page.",
    "laptop-full": "The laptop's disk is full; the sound is kept here.",
    "answering": "The laptop listens and answers in this phone.",
    "not-answering": "The laptop only stores this recording and does not answer. For answers stop, "
    "and record again.",
    "answers": "Said and shown",
    "late": "late",
    "not-taken": "The laptop does not take this sound. It is kept here; see the manual.",
    "other-page": "This page is open already in another tab: use that one.",
    "stopped-before": "A recording was cut off by closing or reloading the page. What there was "
    "of it is sent; press Record to go on.",
    "no-wake-lock": "This browser cannot keep the screen on: set the phone not to lock.",
    "cautions": "Know your local law on collars, follow the maker's instructions, and leave pain, "
    "skin and fear to a veterinarian or a licensed behaviour professional.",
}
"""What the page says, by the names that its script uses."""


def phone_opened_words(trust: str, page: str, code: str, fingerprint: str) -> tuple[str, ...]:
    """What is said when the page is open, before and between its two codes to scan.

    Args:
        trust: the address that explains how a phone is brought to trust this machine.
        page: the address of the page.
        code: the code that joins one phone.
        fingerprint: the SHA-256 of the authority's certificate.

    Returns:
        What stands above the first code and above the second; `PHONE_LAST` stands below both.
    """
    return (
        f"1. Once for each phone: scan this, and make the phone trust this machine ({trust}).\n"
        f"   Compare the fingerprint on the phone: SHA-256 {fingerprint}",
        f"2. Then scan this, which joins one phone ({page}, code {code}).",
    )


def phone_state_words(*, at_work: bool, starting: bool, ending: bool, live: bool) -> str:
    """Whether phones may come, as the page says it; `live`: whether they are answered."""
    if at_work:
        return "Open for phones, which are answered." if live else "Open for phones."
    if starting:
        return "Opening for phones."
    return "Closing." if ending else "Not open for phones."


def phone_port_words(port: int, face: Face) -> str:
    """That a `port` for phones, or the one after it, is not free; on the page (`face`) there is no
    other, since a phone keeps its sound for the address that it has joined."""
    found = f"Found port {port} or {port + 1} of this machine not free, wanted both for phones; "
    if face == "page":
        return f"{found}close what uses them, such as the page for phones of another log."
    other = another_port(port, 10)
    return f"{found}close what uses them, or start the same command with --port {other}."


def joined_words(code: str, face: Face = "terminal") -> str:
    """What is said when a phone has joined; `code` joins the next, and is shown beside it on the
    page (`face`)."""
    if face == "page":
        return "A phone has joined; the code for another phone is a new one."
    return f"A phone has joined. For another phone (code {code}):"


def phone_added_words(started_at: datetime, device: str, said: str) -> str:
    """What came of a phone's recording. `said`: in words, as `add` does."""
    return f"{clean(device)}, begun {day(started_at)}: {said}"


def phone_resumed_words(started_at: datetime, device: str, notes: int) -> str:
    """What came of a phone's recording that a live session heard, wholly or in part. `notes`: how
    many were found that it did not have."""
    more = counted(notes, "note") + " more found in its sound" if notes else "kept as it was heard"
    return f"{clean(device)}, begun {day(started_at)}: {more}."


def phone_open_words(left: Iterable[tuple[str, float]]) -> str:
    """What is said of recordings that no phone has finished. `left` are their files and how long
    (s) each is; empty where there are none."""
    rows = [f"  {clean(name)} ({clock(seconds)})" for name, seconds in left]
    if not rows:
        return ""
    head = (
        f"{counted(len(rows), 'recording')} not finished; the phone goes on with it when it is "
        "back. If the phone is lost: voicelog add FILE"
    )
    return "\n".join((head, *rows))


def sound_unreadable_words(reason: str) -> str:
    """That a phone's sound cannot be read on this machine, so that nothing more is answered."""
    return (
        f"Found no way to read the phone's sound on this disk ({clean(reason)}), so the phone gets "
        "no more answers; what it records is heard once its recording is whole."
    )


def qr_lines(dark: Iterable[Iterable[int]]) -> str:
    """A square code in half blocks, light on dark, for a terminal. `dark` are the rows of its
    modules, 1 for dark."""
    rows = [[bool(one) for one in row] for row in dark]
    if len(rows) % 2:
        rows.append([True] * len(rows[0]))
    blocks = {(0, 0): "█", (0, 1): "▀", (1, 0): "▄", (1, 1): " "}
    return "\n".join(
        "".join(blocks[upper, lower] for upper, lower in zip(one, other, strict=True))
        for one, other in zip(rows[::2], rows[1::2], strict=True)
    )
