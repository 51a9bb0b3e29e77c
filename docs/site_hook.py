"""Puts the manual's site into a wheel, made from the documents while the wheel is built."""

from __future__ import annotations

import runpy
import tempfile
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface


class SiteHook(BuildHookInterface[Any]):
    """Hatchling calls it around a wheel's build."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Make the site, and say where in the wheel it belongs.

        An editable install has it in the clone, where `python docs/make_site.py` puts it too.
        """
        make_site = runpy.run_path(str(Path(self.root) / "docs" / "make_site.py"))["make_site"]
        if version == "editable":
            make_site()
            return
        self._made = tempfile.TemporaryDirectory()
        site = Path(self._made.name) / "manual"
        make_site(site)
        build_data["force_include"][str(site)] = "voicelog/_shipped/manual"

    def finalize(self, version: str, build_data: dict[str, Any], artifact_path: str) -> None:
        """Remove what is in the wheel now."""
        if version != "editable":
            self._made.cleanup()
