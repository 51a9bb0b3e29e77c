"""The builders change through methods of their owner alone, as their docstrings say."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import voicelog.session

ROOM = Path(voicelog.session.__file__).parent
CHANGING = frozenset({
    "add", "append", "clear", "discard", "extend", "insert", "pop", "popitem", "remove",
    "setdefault", "sort", "update",
})  # fmt: skip


def changed_from_outside(source: str) -> list[str]:
    """The statements that change a field of anything but `self`."""
    found = []
    for node in ast.walk(ast.parse(source)):
        targets: list[ast.expr] = []
        if isinstance(node, ast.Assign | ast.Delete):
            targets = list(node.targets)
        elif isinstance(node, ast.AugAssign | ast.AnnAssign):
            targets = [node.target]
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            targets = [node.func.value] if node.func.attr in CHANGING else []
        flat = [one for each in targets for one in getattr(each, "elts", [each])]
        if any(map(_is_foreign_field, flat)):
            found.append(ast.unparse(node))
    return found


def _is_foreign_field(target: ast.expr) -> bool:
    while isinstance(target, ast.Subscript):
        target = target.value
    if isinstance(target, ast.Call) and isinstance(target.func, ast.Attribute):
        return _is_foreign_field(target.func.value)  # rep.calls.setdefault(...).append(...)
    own = isinstance(target, ast.Attribute) and isinstance(target.value, ast.Name)
    return isinstance(target, ast.Attribute) and not (own and ast.unparse(target.value) == "self")


@pytest.mark.parametrize(
    "line",
    [
        "rep.doubtful = True",
        "self.open.outcome, x = 1, 2",
        "session.entries['a'] = None",
        "session.calls.setdefault('a', []).append(1)",
        "rep.cues += 1",
    ],
)
def test_a_change_from_outside_is_found(line: str) -> None:
    assert changed_from_outside(line)


@pytest.mark.parametrize("line", ["self.cues += 1", "self.reps.append(rep)", "rep = session.reps"])
def test_what_an_owner_does_is_none(line: str) -> None:
    assert changed_from_outside(line) == []


@pytest.mark.parametrize("path", sorted(ROOM.glob("*.py")), ids=lambda path: path.stem)
def test_state_changes_only_through_its_owner(path: Path) -> None:
    assert changed_from_outside(path.read_text(encoding="utf-8")) == []
