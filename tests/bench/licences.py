"""Every library that an installation needs, with its version and its licence.

    python -m tests.bench.licences

Names come from what voicelog requires, and what that requires, as installed here; licences
from each package's own metadata.
"""

from __future__ import annotations

import re
import sys
from dataclasses import dataclass
from importlib import metadata

__all__ = ["Row", "allowed", "found"]

ALLOWED = ("mit", "bsd", "apache", "isc", "python", "psf", "mpl", "mozilla", "lgpl", "zlib", "0bsd")
"""Parts of names of licences that allow use in a program under Apache-2.0."""
_KNOWN = {
    "vosk": "Apache-2.0",
    # The binding; SQLCipher in it is under BSD-3-Clause, OpenSSL under Apache-2.0.
    "sqlcipher3": "Zlib",
    # It carries eSpeak NG, whose licence is that of the whole; it names none of its own.
    "espeakng-loader": "GPL-3.0-or-later",
}
"""Licences that a package's metadata does not name; from its source."""
_OWN_CHOICE = {"voice": "gpl"}
"""Licences that a user takes who asks for an extra that nothing else asks for."""
_NAME = re.compile(r"[A-Za-z0-9._-]+")


@dataclass(frozen=True)
class Row:
    name: str
    version: str
    licence: str
    extra: str
    """Which extra asks for it; empty where every installation has it."""


def found() -> list[Row]:
    """The libraries that are installed of those needed, by name."""
    rows: dict[str, Row] = {}
    waiting = [(name, extra) for name, extra in _required("voicelog") if extra not in _TOOLS]
    while waiting:
        name, extra = waiting.pop()
        key = name.lower().replace("_", "-")
        if key in rows and (extra or not rows[key].extra):
            continue
        try:
            whole = metadata.metadata(name)
        except metadata.PackageNotFoundError:
            continue  # for another system, or of an extra that is not installed
        rows[key] = Row(key, whole["Version"], _licence(key, whole), extra)
        waiting += [(other, extra) for other, own in _required(name) if not own]
    return [rows[name] for name in sorted(rows)]


_TOOLS = ("test", "bench", "lint")
"""Extras of developers."""


def _required(name: str) -> list[tuple[str, str]]:
    """What a package requires, each with the extra that asks for it."""
    wanted = []
    for line in metadata.requires(name) or ():
        match = _NAME.match(line)
        extra = re.search(r"""extra\s*==\s*["']([^"']+)""", line)
        if match:
            wanted.append((match[0], extra[1] if extra else ""))
    return wanted


def _first(whole: metadata.PackageMetadata, name: str) -> str:
    return next(iter(whole.get_all(name) or ()), "")


def _licence(name: str, whole: metadata.PackageMetadata) -> str:
    said = _first(whole, "License-Expression")
    if not said:
        classes = [c for c in whole.get_all("Classifier") or () if c.startswith("License ::")]
        said = ", ".join(c.rpartition(":: ")[2] for c in classes)
    if not said:
        said = _first(whole, "License").strip().partition("\n")[0]
    return _KNOWN.get(name, said) or "not said"


def allowed(row: Row) -> bool:
    """Whether the licence is known to allow the use that is made of the library."""
    words = (*ALLOWED, *([_OWN_CHOICE[row.extra]] if row.extra in _OWN_CHOICE else []))
    return any(word in row.licence.lower() for word in words)


def main() -> int:
    """Print the table; 1 where a licence is not known to allow the use."""
    rows = found()
    for row in rows:
        extra = f"  [{row.extra}]" if row.extra else ""
        print(f"{row.name:24} {row.version:16} {row.licence}{extra}")
    return int(not all(map(allowed, rows)))


if __name__ == "__main__":
    sys.exit(main())
