from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.run import Voicelog, caller


@pytest.fixture
def voicelog(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> Voicelog:
    monkeypatch.setenv("VOICELOG_DATA", str(tmp_path / "data"))
    return caller(monkeypatch, capsys)
