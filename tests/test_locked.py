"""What the README installs is locked: each package in one version, with the hashes of its files."""

from __future__ import annotations

import os
import re
import tomllib
from importlib.metadata import version
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parents[1]


def locked() -> dict[str, list[tuple[Requirement, list[str]]]]:
    """The packages of locked.txt by name, each with its hashes; a name may stand more than once,
    for different systems."""
    found: dict[str, list[tuple[Requirement, list[str]]]] = {}
    whole = (ROOT / "locked.txt").read_text("utf-8").replace("\\\n", " ")
    for line in filter(None, map(str.strip, whole.splitlines())):
        head, *hashes = line.split("--hash=")
        one = Requirement(head)
        found.setdefault(canonicalize_name(one.name), []).append((one, [h.strip() for h in hashes]))
    return found


def test_every_package_has_one_version_and_hashes_and_no_address() -> None:
    for name, entries in locked().items():
        for one, hashes in entries:
            assert re.fullmatch(r"==[\w.+!-]+", str(one.specifier)), name
            assert one.url is None, name
            assert hashes, name
            assert all(re.fullmatch(r"sha256:[0-9a-f]{64}", one) for one in hashes), name


def test_all_that_the_project_asks_for_is_locked_in_a_version_that_it_takes() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    extras = project["optional-dependencies"]
    names = ("careful", "lock", "papers", "review")
    wanted = [*project["dependencies"], *(one for name in names for one in extras[name])]
    assert extras["all"] == [f"voicelog[{','.join(names)}]"]
    have = locked()
    for asked in [*map(Requirement, wanted), Requirement("hatchling")]:
        for one, _ in have[canonicalize_name(asked.name)]:
            (pinned,) = one.specifier
            assert asked.specifier.contains(pinned.version), asked


def test_the_readme_installs_what_is_locked() -> None:
    readme = (ROOT / "README.md").read_text("utf-8")
    assert "pip install --require-hashes -r locked.txt" in readme
    assert "locked.txt" in (ROOT / ".ci" / "run").read_text("utf-8")


@pytest.mark.skipif("VOICELOG_LOCKED" not in os.environ, reason="for where locked.txt is installed")
def test_what_is_tested_is_what_is_locked() -> None:
    for name, entries in locked().items():
        here = [one for one, _ in entries if one.marker is None or one.marker.evaluate()]
        for one in here:
            (pinned,) = one.specifier
            assert version(name) == pinned.version, name
