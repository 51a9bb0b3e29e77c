"""The log: what was heard, and what people made of it, on disk before the tone sounds.

It only grows. Events are inserted and never changed; an entry's truth is folded from them
elsewhere. What can be derived is kept here too, but only as a cache.
"""

from voicelog.store.cache import CacheListing, SessionFilter
from voicelog.store.errors import (
    ConcurrentChangeError,
    DamagedLogError,
    DeletedError,
    DiskFullError,
    EventConflictError,
    FileAccessError,
    LogBusyError,
    LogError,
    LogPermissionError,
    NewerLogError,
    NotALogError,
    SoundMismatchError,
    UnknownNameError,
    UnknownTargetError,
)
from voicelog.store.folder import default_folder
from voicelog.store.log import Log
from voicelog.store.records import CacheHeading, CacheRow, Recording, StoredRecording
from voicelog.store.set_aside import SetAsideError, UnreadableRecordingError

__all__ = [
    "CacheHeading",
    "CacheListing",
    "CacheRow",
    "ConcurrentChangeError",
    "DamagedLogError",
    "DeletedError",
    "DiskFullError",
    "EventConflictError",
    "FileAccessError",
    "Log",
    "LogBusyError",
    "LogError",
    "LogPermissionError",
    "NewerLogError",
    "NotALogError",
    "Recording",
    "SessionFilter",
    "SetAsideError",
    "SoundMismatchError",
    "StoredRecording",
    "UnknownNameError",
    "UnknownTargetError",
    "UnreadableRecordingError",
    "default_folder",
]
