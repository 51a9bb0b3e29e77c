"""Which of the dependencies have a wheel for a machine, without installing anything.

    python -m tests.bench.wheels

asks the package index (the only command of the repository that does) for each Python version
that pyproject.toml names and each kind of machine, dependencies of dependencies left out, and
prints what has none. It ends with 1 where something is missing.
"""

from __future__ import annotations

import re
import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path

ROOT = Path(__file__).parents[2]
EXTRAS = ("review", "papers", "careful")
"""What the extra `all` asks for."""
MACHINES = {
    "Linux, 64-bit Intel": (
        "manylinux_2_28_x86_64",
        "manylinux_2_17_x86_64",
        "manylinux2014_x86_64",
    ),
    "Linux, 64-bit ARM": (
        "manylinux_2_28_aarch64",
        "manylinux_2_27_aarch64",
        "manylinux_2_17_aarch64",
        "manylinux2014_aarch64",
    ),
    "macOS, ARM": ("macosx_14_0_arm64", "macosx_11_0_arm64", "macosx_10_6_universal2"),
    "macOS, Intel": ("macosx_14_0_x86_64", "macosx_10_9_x86_64", "macosx_10_6_universal2"),
    "Windows": ("win_amd64",),
}


def wanted() -> tuple[list[str], list[str]]:
    """The Python versions that pyproject.toml names, and the dependencies."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    named = (re.fullmatch(r".*:: (3\.\d+)", line) for line in project["classifiers"])
    extras = [one for name in EXTRAS for one in project["optional-dependencies"][name]]
    return [match[1] for match in named if match], [*project["dependencies"], *extras]


def have_wheels(requirements: list[str], python: str, machine: str, folder: str) -> bool:
    """Whether the index has a wheel of each. Without pip, none is found."""
    command = [sys.executable, "-m", "pip", "install", "--quiet", "--dry-run", "--no-deps"]
    command += ["--ignore-installed", "--only-binary", ":all:", "--target", folder]
    command += ["--python-version", python]
    for platform in MACHINES[machine]:
        command += ["--platform", platform]
    return subprocess.run([*command, *requirements], capture_output=True).returncode == 0


def main() -> int:
    pythons, requirements = wanted()
    missing = 0
    with tempfile.TemporaryDirectory() as folder:
        for python in pythons:
            for machine in MACHINES:
                # One question for all is much faster; which one is missing is asked then.
                whole = have_wheels(requirements, python, machine, folder)
                without = [
                    one
                    for one in requirements
                    if not whole and not have_wheels([one], python, machine, folder)
                ]
                missing += len(without)
                said = ", ".join(without) or "none is missing"
                print(f"Python {python}, {machine}: {said} (of {len(requirements)})", flush=True)
    return int(missing > 0)


if __name__ == "__main__":
    sys.exit(main())
