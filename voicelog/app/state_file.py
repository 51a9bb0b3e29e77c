"""Small files of what is going on beside a log: read whole or not at all, and written whole."""

from __future__ import annotations

from pathlib import Path
from typing import TypeVar

from pydantic import ValidationError

from voicelog.audio.locked_files import write_bytes
from voicelog.model import FrozenModel
from voicelog.store.errors import translate_errors
from voicelog.store.sound_files import whole_bytes

__all__ = ["read_state", "write_state"]

State = TypeVar("State", bound=FrozenModel)


def read_state(path: Path, kind: type[State]) -> State | None:
    """What a file holds; None where there is none, or it holds no such thing."""
    try:
        return kind.model_validate_json(whole_bytes(path))
    except (OSError, ValidationError):
        return None


def write_state(log_folder: Path, path: Path, state: State) -> State:
    """Put `state` into a file of the log in `log_folder`; the file before stays until it is whole.

    Raises:
        LogError: as the disk refuses.
    """
    part = path.with_suffix(".new")
    with translate_errors(log_folder):
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        with write_bytes(part) as out:
            out.write(state.model_dump_json().encode())
        part.replace(path)
    return state
