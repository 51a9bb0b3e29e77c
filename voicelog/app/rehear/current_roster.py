"""The names and cue words that a recording is heard with today.

What has come onto the roster since is added: new dogs, new handlers, new cue words of the
dogs that were there. What was there stays, and so does every profile: a transmitter bought
since tells nothing of that day. A dog that was on the roster then and still was not among
those that could be named was left out on purpose, and stays out.
"""

from __future__ import annotations

from voicelog.model import Dog, Roster
from voicelog.model.names import name_key
from voicelog.store import Log, StoredRecording
from voicelog.store.commit_time import commit_time

__all__ = ["current_roster"]


def current_roster(log: Log, recording: StoredRecording) -> Roster:
    """The recording's own roster, and what was put on the log's since it was added."""
    then, today = recording.roster, log.roster()
    added_at = commit_time(recording.added_at)
    old = {
        name_key(version.name)
        for version in log.versions()
        if version.kind == "dog" and version.put_at <= added_at
    }
    dogs = [_with_cues(dog, today.dog(dog.name)) for dog in then.dogs]
    dogs += [
        dog for dog in today.dogs if name_key(dog.name) not in old and then.dog(dog.name) is None
    ]
    handlers = tuple(dict.fromkeys((*then.handlers, *today.handlers)))
    return then.model_copy(update={"dogs": tuple(dogs), "handlers": handlers})


def _with_cues(then: Dog, today: Dog | None) -> Dog:
    cues = tuple(dict.fromkeys((*then.cues, *(today.cues if today else ()))))
    return then.model_copy(update={"cues": cues})
