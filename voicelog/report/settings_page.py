"""Every setting as a table of the manual, made from the settings file that the program prints."""

from __future__ import annotations

import re

from voicelog.safety.settings_file import default_toml

__all__ = ["settings_table"]

_SETTING = re.compile(
    r"^# (?P<means>.+?)(?:; (?P<basis>[^;\n]+))?\. Allowed: (?P<allowed>.+)\.\n"
    r"(?P<name>\w+) = (?P<default>.+)$",
    re.MULTILINE,
)


def settings_table() -> str:
    """A Markdown table with a row for each setting, ending with a newline."""
    lines = ["| setting | default | means | basis | allowed |", "|---|---|---|---|---|"]
    lines += [
        f"| `{found['name']}` | {found['default']} | {found['means']} | {found['basis'] or ''} "
        f"| {found['allowed']} |"
        for found in _SETTING.finditer(default_toml())
    ]
    return "\n".join(lines) + "\n"
