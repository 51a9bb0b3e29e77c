"""The models that `voicelog listeners install` knows by name, and where they are published."""

from __future__ import annotations

from dataclasses import dataclass

from voicelog.hearing.models import ModelError

__all__ = ["PUBLISHED", "Published", "published"]

_HUB = "https://huggingface.co/Systran/"


@dataclass(frozen=True, slots=True)
class Published:
    """A model that its publisher offers: what it is called, where, its size (MB), what for.

    The size is rounded, from memory, and said to the user only; nothing depends on it.
    """

    name: str
    url: str
    megabytes: int
    purpose: str

    @property
    def short(self) -> str:
        """What it may be asked for by ("base.en", "small-en-us-0.15")."""
        return self.name.removeprefix("faster-whisper-").removeprefix("vosk-model-")


PUBLISHED = (
    Published(
        "vosk-model-small-en-us-0.15",
        "https://alphacephei.com/vosk/models/vosk-model-small-en-us-0.15.zip",
        40,
        "the quick listener, in place of PocketSphinx",
    ),
    Published(
        "faster-whisper-tiny.en", f"{_HUB}faster-whisper-tiny.en", 78, "the careful listener"
    ),
    Published(
        "faster-whisper-base.en",
        f"{_HUB}faster-whisper-base.en",
        148,
        "one that writes; name it in VOICELOG_WHISPER",
    ),
    Published(
        "faster-whisper-small.en",
        f"{_HUB}faster-whisper-small.en",
        487,
        "one that writes, larger and slower",
    ),
)


def published(what: str) -> Published:
    """The published model of that name, in full or in short (ModelError when there is none)."""
    wanted = what.casefold()
    for one in PUBLISHED:
        if wanted in (one.name, one.short):
            return one
    known = ", ".join(one.short for one in PUBLISHED)
    raise ModelError(
        f"Found no model or file '{what}', wanted a name ({known}), a file or folder, or an "
        "address that begins with https://; correct it."
    )
