"""What is said of work of minutes that the page does."""

from __future__ import annotations

__all__ = [
    "ANOTHER_AT_WORK",
    "BEGUN",
    "NOTHING_TO_TAKE",
    "ONLY_HERE",
    "STOPPED_WORK",
    "STOPPING",
    "WORK_STARTED",
]

ANOTHER_AT_WORK = "Found another work of this page not ended yet; wait for it, or stop it."
BEGUN = "It has begun."
NOTHING_TO_TAKE = "Found nothing to take over; hear the recordings again first."
STOPPED_WORK = "Stopped; the rest was not done."
STOPPING = "It stops soon."
WORK_STARTED = "It has begun; you can leave this page meanwhile."
ONLY_HERE = (
    "Found a request from another computer, wanted one from the computer that the log is on: "
    "folders of it are chosen there."
)
