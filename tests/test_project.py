"""What holds of the project as a whole: light start, true documents, a whole wheel."""

from __future__ import annotations

import ast
import subprocess
import sys
import zipfile
from collections import Counter
from pathlib import Path

import pytest
import typer.main

import voicelog
from voicelog.cli.app import app

ROOT = Path(__file__).parents[1]
HEAVY = (
    *("av", "alembic", "numpy", "onnxruntime", "pocketsphinx", "rapidfuzz"),
    *("scipy", "sounddevice", "soundfile", "soxr", "sqlalchemy", "vosk"),
    *("voicelog.store", "voicelog.recognition"),
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


def command_paths() -> list[str]:
    group = typer.main.get_command(app)
    return sorted(group.commands)  # type: ignore[attr-defined]


@pytest.mark.parametrize("name", command_paths())
def test_every_command_is_in_the_readme_and_has_an_example(name: str) -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert f"`voicelog {name}`" in readme
    command = typer.main.get_command(app).commands[name]  # type: ignore[attr-defined]
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


def test_the_changelog_speaks_of_this_version() -> None:
    text = (ROOT / "CHANGELOG.md").read_text(encoding="utf-8")
    assert f"\n## {voicelog.__version__} " in text


def test_a_wheel_carries_grammars_demo_models_and_migrations(tmp_path: Path) -> None:
    subprocess.run(
        [sys.executable, "-m", "pip", "wheel", "-q", "--no-deps", "-w", tmp_path, ROOT],
        check=True,
    )
    (wheel,) = tmp_path.glob("voicelog-*.whl")
    names = set(zipfile.ZipFile(wheel).namelist())
    assert "voicelog/_shipped/grammars/en/numbers.jsgf" in names
    assert "voicelog/_shipped/demo_audio/day1-bracken/day1-bracken.opus" in names
    for name in ("artifact/card.toml", "artifact/fusion.json", "artifact/tiny.en-phones.npz"):
        assert f"voicelog/recognition/{name}" in names
    for name in ("silero_vad.onnx", "LICENSE"):
        assert f"voicelog/recognition/silero_vad/{name}" in names
    assert "voicelog/store/migrations/versions/revision_0001.py" in names
    assert "voicelog/store/migrations/versions/revision_0002.py" in names
