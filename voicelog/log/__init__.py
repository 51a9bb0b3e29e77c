"""The log: what was heard, and what people made of it, on disk before the tone sounds.

It only grows. Events are inserted and never changed; an entry's truth is folded from them
elsewhere. What can be derived is kept here too, but only as a cache.
"""

from voicelog.log.aside import SetAsideError, UnreadableRecordingError
from voicelog.log.cache import Headings, SessionFilter
from voicelog.log.errors import (
    DamagedLogError,
    DeletedError,
    DiskFullError,
    EventClashError,
    LogBusyError,
    LogDeniedError,
    LogError,
    MovedOnError,
    NewerLogError,
    NotALogError,
    SoundDiffersError,
    UnknownNameError,
    UnknownTargetError,
    UnreadableError,
)
from voicelog.log.folder import default_folder
from voicelog.log.records import Derived, Heading, Kept, Recording
from voicelog.log.store import Log

__all__ = [
    "DamagedLogError",
    "DeletedError",
    "Derived",
    "DiskFullError",
    "EventClashError",
    "Heading",
    "Headings",
    "Kept",
    "Log",
    "LogBusyError",
    "LogDeniedError",
    "LogError",
    "MovedOnError",
    "NewerLogError",
    "NotALogError",
    "Recording",
    "SessionFilter",
    "SetAsideError",
    "SoundDiffersError",
    "UnknownNameError",
    "UnknownTargetError",
    "UnreadableError",
    "UnreadableRecordingError",
    "default_folder",
]
