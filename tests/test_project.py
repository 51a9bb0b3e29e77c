"""What holds of the project as a whole: light start, true documents, a whole wheel."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
import tomllib
from collections import Counter
from pathlib import Path

import pytest
import typer.main
from packaging.specifiers import SpecifierSet

import voicelog
from voicelog.cli.app import COMMANDS, app, load_command

ROOT = Path(__file__).parents[1]
HEAVY = (
    *("av", "alembic", "numpy", "onnxruntime", "pocketsphinx", "rapidfuzz"),
    *("scipy", "sounddevice", "soundfile", "soxr", "sqlalchemy", "vosk"),
    *("pydantic", "voicelog.model", "voicelog.store", "voicelog.recognition"),
)


def loaded_by(*arguments: str) -> set[str]:
    """The modules that a command has loaded when it ends."""
    code = (
        "import sys, voicelog.cli\n"
        f"sys.argv = ['voicelog', *{arguments!r}]\n"
        "try:\n    voicelog.cli.main()\nexcept SystemExit:\n    pass\n"
        "print('\\n' + ' '.join(sys.modules))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return set(done.stdout.splitlines()[-1].split())


def test_help_loads_nothing_heavy() -> None:
    assert loaded_by("--help").isdisjoint(HEAVY)


def test_reading_a_typed_file_loads_no_listener(tmp_path: Path) -> None:
    path = tmp_path / "a.tsv"
    path.write_text("0\t1\tlevel two came\n")
    loaded = loaded_by(
        "read", "--typed", str(path), "--format", "json", "--data-dir", str(tmp_path)
    )
    assert loaded.isdisjoint(("pocketsphinx", "vosk", "sounddevice", "soundfile", "alembic"))


@pytest.mark.parametrize("command", [("words", "list"), ("dogs", "list")])
def test_a_list_loads_no_sound_and_no_statistics(command: tuple[str, ...], tmp_path: Path) -> None:
    loaded = loaded_by(*command, "--data-dir", str(tmp_path))
    assert loaded.isdisjoint(("av", "numpy", "voicelog.analysis.levels", "alembic"))


def test_the_help_says_of_each_command_what_its_own_help_begins_with() -> None:
    group = typer.main.get_command(app)
    shown = {
        name: command.get_short_help_str(1000)
        for name, command in group.commands.items()  # type: ignore[attr-defined]
    }
    assert shown == {name: load_command(name).get_short_help_str(1000) for name in COMMANDS}


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_is_in_the_manual_and_has_an_example(name: str) -> None:
    manual = (ROOT / "docs" / "manual.md").read_text(encoding="utf-8")
    assert f"| `voicelog {name}` | " in manual
    command = load_command(name)
    for each in [command] if not hasattr(command, "commands") else command.commands.values():
        assert "Example: voicelog " in (each.help or ""), each.name


def test_every_room_is_described() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    package = Path(voicelog.__file__).parent
    rooms = [
        path for path in package.iterdir() if path.is_dir() and (path / "__init__.py").exists()
    ]
    for room in rooms:
        assert f"`voicelog/{room.name}/`" in text
    for module in package.glob("*.py"):
        if module.stem != "__init__":
            assert f"`voicelog/{module.name}`" in text


def test_a_class_name_stands_in_one_file() -> None:
    package = Path(voicelog.__file__).parent
    found = Counter(
        node.name
        for path in package.rglob("*.py")
        for node in ast.parse(path.read_text(encoding="utf-8")).body
        if isinstance(node, ast.ClassDef)
    )
    assert [name for name, files in found.items() if files > 1] == []


def test_events_are_written_in_one_place() -> None:
    package = Path(voicelog.__file__).parent
    writes = re.compile(r"\blog\.append\(|\b_log\.append\(|begin_recording\(|finish_recording\(")
    found = {
        path.relative_to(package).as_posix()
        for room in ("app", "live", "web", "cli")
        for path in (package / room).rglob("*.py")
        if writes.search(path.read_text(encoding="utf-8"))
    }
    assert found == {"app/commit.py"}


def sentences(source: str) -> list[str]:
    """The strings of a module that read like a sentence: four words or more that begin with a
    capital, or anything that ends like one. Docstrings and the texts of errors are none."""
    tree = ast.parse(source)
    passed: set[ast.AST] = set()
    for node in ast.walk(tree):
        name = ""
        if isinstance(node, ast.Call):
            name = getattr(node.func, "id", getattr(node.func, "attr", ""))
        of_error = isinstance(node, ast.ClassDef) and node.name.endswith("Error")
        bare = isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
        if of_error or bare or isinstance(node, ast.Raise) or name.endswith("Error"):
            passed.update(ast.walk(node))
    return [
        f"{node.lineno}: {node.value}"
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and node not in passed
        if re.match(r"[A-Z][a-z']*( \S+){3}", node.value) or re.search(r" [a-z]+\.$", node.value)
    ]


def test_a_sentence_is_told_from_a_code_and_from_an_error() -> None:
    lines = (
        '"""A docstring that says why."""',
        'a = "Void now; nothing else changed."',
        'b = "too few values for a trend"',
        'c = f"{a} may wait and counts in nothing."',
        'raise ValueError("Found no dog, wanted one of the roster.")',
    )
    assert [line[0] for line in sentences("\n".join(lines))] == ["2", "4"]


@pytest.mark.parametrize("room", ["model", "session", "analysis", "app", "live", "web"])
def test_no_room_but_report_makes_sentences(room: str) -> None:
    package = Path(voicelog.__file__).parent
    found = [
        f"{path.relative_to(package)}:{sentence}"
        for path in (package / room).rglob("*.py")
        for sentence in sentences(path.read_text(encoding="utf-8"))
    ]
    assert found == []


def late_imports(source: str) -> list[str]:
    """The imports inside functions without a reason: a comment on their line or above them."""
    lines = source.splitlines()
    late = {
        node.lineno: node
        for function in ast.walk(ast.parse(source))
        if isinstance(function, ast.FunctionDef | ast.AsyncFunctionDef)
        for node in ast.walk(function)
        if isinstance(node, ast.Import | ast.ImportFrom)
    }
    given: set[int | None] = set()  # the last lines of those with a reason
    for number, node in sorted(late.items()):
        said = any("#" in line for line in lines[number - 2 : node.end_lineno])
        if said or number - 1 in given:
            given.add(node.end_lineno)
    return [
        f"{number}: {ast.unparse(node)}"
        for number, node in sorted(late.items())
        if node.end_lineno not in given
    ]


def test_an_import_inside_a_function_is_found_unless_its_reason_stands_beside_it() -> None:
    lines = ("import a", "def f():", "    import b", "    # large", "    import c", "    import d")
    source = "\n".join((*lines, "    f()", "    import e  # an extra", "    f()", "    import g"))
    assert late_imports(source) == ["3: import b", "10: import g"]


def test_an_import_inside_a_function_says_why() -> None:
    package = Path(voicelog.__file__).parent
    found = {
        path.relative_to(package).as_posix(): late_imports(path.read_text(encoding="utf-8"))
        for path in sorted(package.rglob("*.py"))
    }
    assert {path: late for path, late in found.items() if late} == {}


def public_names() -> set[str]:
    """The public classes and modules of the package."""
    package = Path(voicelog.__file__).parent
    names: set[str] = set()
    for path in package.rglob("*.py"):
        if "migrations" in path.parts:
            continue
        if path.stem != "__init__":
            names.add(path.stem)
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                names.add(node.name)
    return names


FOR_READERS = ("Words of the trade", "Words on screen")
FOR_PROGRAMMERS = "Words in the code"
READ_AT_ONCE = 80
"""Entries that somebody reads who is no programmer, in each part of the glossary."""


def glossary() -> dict[str, list[str]]:
    """The terms of each part of the glossary, in its order."""
    text = (ROOT / "docs" / "glossary.md").read_text(encoding="utf-8")
    parts = re.split(r"^## (.+)\n", text, flags=re.MULTILINE)[1:]
    return {
        title: re.findall(r"^- \*\*(.+?)\*\*: \S", part, flags=re.MULTILINE)
        for title, part in zip(parts[::2], parts[1::2], strict=True)
    }


def test_every_public_name_is_in_the_glossary_of_the_code() -> None:
    assert sorted(public_names() - set(glossary()[FOR_PROGRAMMERS])) == []


def test_the_glossary_holds_no_name_that_is_gone_and_none_twice() -> None:
    parts = glossary()
    assert (*FOR_READERS, FOR_PROGRAMMERS) == tuple(parts)
    for terms in parts.values():
        assert [term for term, times in Counter(terms).items() if times > 1] == []
        assert sorted(terms, key=str.casefold) == terms
    names = {term for term in parts[FOR_PROGRAMMERS] if re.search(r"[a-z][A-Z]|_", term)}
    assert sorted(names - public_names()) == []


def test_what_a_trainer_looks_up_is_short_and_apart_from_the_code() -> None:
    parts = glossary()
    trade, screen = (parts[title] for title in FOR_READERS)
    assert max(len(trade), len(screen)) <= READ_AT_ONCE
    assert set(trade) & set(screen) == set()
    assert [term for term in (*trade, *screen) if re.search(r"[a-z][A-Z]|_", term)] == []


def test_the_python_versions_that_are_named_are_those_allowed() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    allowed = SpecifierSet(project["requires-python"])
    named = [line.rsplit(" ", 1)[1] for line in project["classifiers"] if ":: 3." in line]
    assert named == [f"3.{minor}" for minor in range(8, 20) if f"3.{minor}" in allowed]


def test_the_changelog_speaks_of_this_version() -> None:
    text = (ROOT / "CHANGELOG.md").read_text(encoding="utf-8")
    assert f"\n## {voicelog.__version__} " in text
