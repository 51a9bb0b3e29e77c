"""The review service on a log with two dogs, as the page's tests have it."""

from __future__ import annotations

from tests.web.conftest import empty, log, service

__all__ = ["empty", "log", "service"]
