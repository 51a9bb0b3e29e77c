"""How Sphinx makes the manual's site; `docs/make_site.py` runs it."""

import re
from pathlib import Path

_INIT = Path(__file__).parents[1] / "voicelog" / "__init__.py"

project = "voicelog"
release = re.findall(r'^__version__ = "(.+)"$', _INIT.read_text(encoding="utf-8"), re.M)[0]
extensions = ["myst_parser"]
exclude_patterns = ["pictures"]
nitpicky = True  # a link that leads nowhere stops the build
myst_heading_anchors = 4
html_theme = "furo"
html_title = f"{project} {release}"
html_show_copyright = False
html_use_index = False  # of an index, Markdown has no entries
html_last_updated_fmt = None  # the same documents make the same site
