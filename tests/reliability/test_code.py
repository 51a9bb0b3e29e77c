"""What the program's own code never does, whoever changes it next."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import voicelog
from tests.bench.licences import allowed, found

SOURCES = sorted(Path(voicelog.__file__).parent.rglob("*.py"))

FORBIDDEN = {
    **dict.fromkeys(("eval", "exec", "compile", "__import__"), "runs text as code"),
    **dict.fromkeys(("os.system", "os.popen", "subprocess.getoutput"), "runs a shell"),
    **dict.fromkeys(("tempfile.mktemp",), "leaves a name to be taken"),
    **dict.fromkeys(("yaml.load", "numpy.load", "np.load"), "can load code"),
}
MODULES = {"pickle", "marshal", "shelve", "dill", "cloudpickle", "joblib"}
UNPACKING = {"extractall", "extract", "unpack_archive"}


def dotted(node: ast.expr) -> str:
    match node:
        case ast.Name(name):
            return name
        case ast.Attribute(value, name):
            return f"{dotted(value)}.{name}"
        case _:
            return ""


def offences(source: str) -> list[str]:
    """What a source does that it must not."""
    said = []
    for node in ast.walk(ast.parse(source)):
        match node:
            case ast.Import(names):
                said += [f"imports {n.name}" for n in names if n.name.split(".")[0] in MODULES]
            case ast.ImportFrom(module=str(module)) if module.split(".")[0] in MODULES:
                said.append(f"imports {module}")
            case ast.Call(func, _, keywords):
                name = dotted(func)
                if name in FORBIDDEN:
                    said.append(f"{name} {FORBIDDEN[name]}")
                if name.rpartition(".")[2] in UNPACKING:
                    said.append(f"{name} unpacks by the names in an archive")
                said += [
                    f"{name} runs a shell"
                    for word in keywords
                    if word.arg == "shell"
                    and not (isinstance(word.value, ast.Constant) and word.value.value is False)
                ]
    return said


def test_the_search_finds_what_it_looks_for() -> None:
    bad = "import pickle\neval('1')\nos.system('x')\nrun('x', shell=True)\nz.extractall()\n"
    assert len(offences(bad)) == 5
    assert offences("re.compile('x')\nrun(['x'])\n") == []


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: path.stem)
def test_no_source_runs_text_as_code_or_unpacks_by_name(path: Path) -> None:
    assert offences(path.read_text("utf-8")) == []


def test_every_dependency_has_a_version_and_a_licence_that_allows_its_use() -> None:
    rows = found()
    assert {"numpy", "pydantic", "pocketsphinx", "sqlalchemy"} <= {row.name for row in rows}
    for row in rows:
        assert row.version, row
        assert allowed(row), row
