"""Makes the manual's site: run `python docs/make_site.py`, then `voicelog manual` opens it.

A wheel gets it made anew (`docs/site_hook.py`), so that what is installed is never old. The site
asks for no network: styles, search and pictures are in it. Sphinx stops at a link that leads
nowhere.
"""

from __future__ import annotations

import shutil
import tempfile
from importlib.metadata import files
from pathlib import Path

from sphinx.cmd.build import build_main

DOCS = Path(__file__).resolve().parent
SITE = DOCS.parent / "manual"
LIBRARIES = ("sphinx", "furo")  # styles and scripts of theirs are in the site


def make_site(site: Path = SITE) -> None:
    """Write the site, over one that is there.

    Raises:
        RuntimeError: Sphinx refused a document; what it said stands in the terminal.
    """
    shutil.rmtree(site, ignore_errors=True)
    with tempfile.TemporaryDirectory() as parsed:
        if build_main(["-q", "-W", "-E", "-b", "html", "-d", parsed, str(DOCS), str(site)]):
            raise RuntimeError("Sphinx found what does not fit in docs/, told above.")
    for unread in (site / "_static").rglob("*.map"):
        unread.unlink()
    for left in (site / ".buildinfo", site / "objects.inv"):
        left.unlink()
    for library in LIBRARIES:
        (licence,) = (one for one in files(library) or () if one.name.startswith("LICENSE"))
        shutil.copyfile(licence.locate(), site / "_static" / f"LICENSE.{library}.txt")


if __name__ == "__main__":
    make_site()
