"""Writes into the manual what is made from the code: run `python docs/make_pages.py`.

What stands between the two marks of a page is replaced; a test holds that it is current.
"""

from __future__ import annotations

from pathlib import Path

from voicelog.app.grammars import grammar_with
from voicelog.model import Dog, Roster
from voicelog.report.phrase_card import phrase_card
from voicelog.report.settings_page import settings_table

DOCS = Path(__file__).parent
BEGIN, END = "<!-- made by docs/make_pages.py -->\n", "<!-- end of what is made -->\n"


def made() -> dict[Path, str]:
    """Each page that has such a part, and the page as it is to be."""
    roster = Roster(dogs=(Dog(name="Bracken"),), handlers=("Anna",))
    parts = {
        "phrase-card.md": phrase_card(grammar_with(roster, ())),
        "settings.md": settings_table(),
    }
    pages = {}
    for name, part in parts.items():
        before, rest = (DOCS / name).read_text(encoding="utf-8").split(BEGIN)
        _, after = rest.split(END)
        pages[DOCS / name] = f"{before}{BEGIN}{part}{END}{after}"
    return pages


if __name__ == "__main__":
    for path, text in made().items():
        path.write_text(text, encoding="utf-8")
