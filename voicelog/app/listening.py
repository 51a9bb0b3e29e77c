"""Whether a live session listens into a log, which is told by its lock."""

from __future__ import annotations

__all__ = ["LOCK_NAME"]

LOCK_NAME = "listening.lock"
"""The file in the log's folder whose lock a live session holds."""
