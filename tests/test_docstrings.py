"""How many public functions name all their parameters in their docstring; the share may not fall.

Counted are functions and methods that anybody may call, and have parameters. Not counted are
commands, whose options tell themselves in their help, and safety rules, which all take the same.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import voicelog

PACKAGE = Path(voicelog.__file__).parent
FLOOR = 0.45
"""Share of functions; raise it when it has risen."""


def unnamed(source: str) -> Iterator[tuple[str, list[str]]]:
    """Each public function of a module by name, with the parameters that its docstring lacks.

    What makes an object may be told in the docstring of its class.
    """
    for holder in ast.walk(ast.parse(source)):
        if not isinstance(holder, ast.Module | ast.ClassDef):
            continue
        if isinstance(holder, ast.ClassDef) and holder.name.startswith("_"):
            continue
        for node in holder.body:
            if not isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                continue
            makes = node.name == "__init__"
            ruled = any(ast.unparse(one).startswith("rule(") for one in node.decorator_list)
            if ruled or (node.name.startswith("_") and not makes):
                continue
            every = (*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs)
            names = [one.arg for one in every if one.arg not in ("self", "cls")]
            told = f"{ast.get_docstring(node)} {ast.get_docstring(holder) if makes else ''}"
            if names:
                yield node.name, [one for one in names if not re.search(rf"\b{one}\b", told)]


def test_a_parameter_that_is_not_named_is_found() -> None:
    source = (
        'def f(a, b):\n    """What `a` is."""\ndef _g(c):\n    pass\nclass K:\n    """`x`."""\n'
    )
    source += "    def __init__(self, x, y):\n        pass\n"
    assert list(unnamed(source)) == [("f", ["b"]), ("__init__", ["y"])]


def test_the_share_of_functions_that_name_all_their_parameters_does_not_fall() -> None:
    rooms = [path for path in PACKAGE.iterdir() if path.is_dir() and path.name != "cli"]
    counted = [
        missing
        for room in rooms
        for path in room.rglob("*.py")
        if "migrations" not in path.parts
        for _, missing in unnamed(path.read_text(encoding="utf-8"))
    ]
    share = sum(not missing for missing in counted) / len(counted)
    assert share >= FLOOR, f"{share:.1%} of {len(counted)}"
