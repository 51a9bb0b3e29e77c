"""The table of attacks in docs/log.md names for each the test that does it."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).parents[2]


def test_each_attack_names_a_test_that_is_there() -> None:
    table = (ROOT / "docs" / "log.md").read_text("utf-8")
    rows = [line for line in table.splitlines() if line.startswith("|")][2:]
    named = [re.fullmatch(r"\| .+ \| .+ \| `(test_\w+)` \|", row) for row in rows]
    assert rows
    assert all(named), rows
    tests = "\n".join(path.read_text("utf-8") for path in (ROOT / "tests").rglob("test_*.py"))
    for found in named:
        assert found is not None
        assert f"def {found[1]}(" in tests, found[1]
