"""A launcher in the desktop's menu, so that a terminal is needed once.

On Linux it is an entry of the freedesktop.org Desktop Entry Specification 1.5 below the user's
XDG_DATA_HOME (XDG Base Directory Specification 0.8); on macOS a bundle in the user's Applications;
on Windows a shortcut in the start menu, made by the system's own PowerShell. Only the first was
tried on a machine of its kind.
"""

from __future__ import annotations

import plistlib
import re
import shlex
import shutil
import subprocess
from collections.abc import Mapping, Sequence
from pathlib import Path

from voicelog.model import VoicelogError
from voicelog.report.launcher_words import COMMENT, GENERIC_NAME, no_launcher_words

__all__ = ["desktop_entry", "write_launcher"]

_ID = "voicelog"
_BARE = re.compile(r"[\w@%+=:,./-]+", re.ASCII)
"""What needs no quotes on an Exec line."""


def write_launcher(
    command: Sequence[str], icon: Path, *, platform: str, home: Path, environment: Mapping[str, str]
) -> Path:
    """Put a launcher into this user's menu, in place of an older one.

    Args:
        command: what it runs, the program first.
        icon: an SVG.
        platform: `sys.platform`.
        home: the user's folder.
        environment: `os.environ`.

    Returns:
        The file, or on macOS the bundle; deleted, the launcher is gone.

    Raises:
        VoicelogError: it cannot be written, or the system has no place for one.
    """
    try:
        if platform == "darwin":
            return _mac_bundle(command, home / "Applications")
        if platform == "win32":
            return _windows_shortcut(command, Path(environment.get("APPDATA", str(home))))
        named = Path(environment.get("XDG_DATA_HOME", ""))
        data = named if named.is_absolute() else home / ".local" / "share"
        picture = data / "icons" / "hicolor" / "scalable" / "apps" / f"{_ID}.svg"
        picture.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(icon, picture)
        return _written(data / "applications" / f"{_ID}.desktop", desktop_entry(command))
    except (OSError, subprocess.SubprocessError) as error:
        raise VoicelogError(no_launcher_words(str(error))) from error


def desktop_entry(command: Sequence[str]) -> str:
    """The entry of a menu that runs `command`, as the specification has it."""
    lines = {
        "Type": "Application",
        "Version": "1.5",
        "Name": _ID,
        "GenericName": GENERIC_NAME,
        "Comment": COMMENT,
        "Exec": " ".join(map(_exec_argument, command)).replace("\\", "\\\\"),
        "Icon": _ID,
        "Terminal": "false",
        "Categories": "Office;",
        "StartupNotify": "false",
    }
    return "[Desktop Entry]\n" + "".join(f"{name}={value}\n" for name, value in lines.items())


def _exec_argument(argument: str) -> str:
    """One argument of an Exec line, before a value's own backslashes are doubled."""
    shown = argument.replace("%", "%%")
    if _BARE.fullmatch(shown):
        return shown
    return '"' + re.sub(r'(["`$\\])', r"\\\1", shown) + '"'


def _mac_bundle(command: Sequence[str], applications: Path) -> Path:
    bundle = applications / f"{_ID}.app"
    inside = bundle / "Contents"
    about = {
        "CFBundleExecutable": _ID,
        "CFBundleIdentifier": f"local.{_ID}",
        "CFBundleName": _ID,
        "CFBundlePackageType": "APPL",
    }
    _written(inside / "Info.plist", plistlib.dumps(about).decode())
    _written(inside / "MacOS" / _ID, f"#!/bin/sh\nexec {shlex.join(command)}\n").chmod(0o755)
    return bundle


def _windows_shortcut(command: Sequence[str], roaming: Path) -> Path:
    path = roaming / "Microsoft" / "Windows" / "Start Menu" / "Programs" / f"{_ID}.lnk"
    told = {"Path": str(path), "Arguments": subprocess.list2cmdline(command[1:])}
    quoted = {name: "'" + text.replace("'", "''") + "'" for name, text in told.items()}
    program = "'" + command[0].replace("'", "''") + "'"
    script = (
        f"$s = (New-Object -ComObject WScript.Shell).CreateShortcut({quoted['Path']}); "
        f"$s.TargetPath = {program}; $s.Arguments = {quoted['Arguments']}; $s.Save()"
    )
    subprocess.run(["powershell", "-NoProfile", "-Command", script], check=True, timeout=60)
    return path


def _written(path: Path, content: str) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_name(f".{path.name}.part")
    part.write_text(content, encoding="utf-8")
    part.replace(path)
    return path
