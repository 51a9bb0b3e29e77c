"""What every test shares: no silent skips in CI, patience on slow machines, one compilation."""

from __future__ import annotations

import os
import sys
from collections.abc import Generator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

if os.environ.pop("PYTHONDONTWRITEBYTECODE", ""):
    # The workers and some two hundred programs that the tests start would each compile all of it.
    compiled = Path(__file__).parents[1] / ".pytest_cache" / "bytecode"
    sys.pycache_prefix = os.environ.setdefault("PYTHONPYCACHEPREFIX", str(compiled))
    sys.dont_write_bytecode = False

settings.register_profile(
    "patient",
    deadline=None,  # two shared cores keep no deadlines
    suppress_health_check=[HealthCheck.too_slow],
    derandomize=True,
)
settings.load_profile("patient")


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(
    item: pytest.Item, call: pytest.CallInfo[None]
) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """With VOICELOG_NO_SKIPS=1 a skip is a failure: CI has all that the tests need."""
    report = yield
    if report.skipped and not hasattr(report, "wasxfail") and os.environ.get("VOICELOG_NO_SKIPS"):
        report.outcome = "failed"
        report.longrepr = f"skipped, though no skip is allowed: {report.longrepr}"
    return report
