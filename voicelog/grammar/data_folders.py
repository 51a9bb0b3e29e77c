"""Find what ships beside the code: grammars/ and demo_audio/.

In a clone and an editable install they lie beside the package; a wheel carries them
inside it.
"""

from __future__ import annotations

from pathlib import Path

from voicelog.model import VoicelogError

__all__ = ["data_folder"]

_PACKAGE = Path(__file__).resolve().parents[1]


def data_folder(name: str) -> Path:
    """The folder `name` ("grammars", "demo_audio") of this installation."""
    for folder in (_PACKAGE / "_shipped" / name, _PACKAGE.parent / name):
        if folder.is_dir():
            return folder
    raise VoicelogError(
        f"Found no folder '{name}' in this installation, wanted the one that ships with "
        "voicelog; install voicelog again."
    )
