"""What is said to somebody who begins: the first page, and what stands around the demo.

It imports nothing, since `voicelog` alone is to answer at once.
"""

from __future__ import annotations

__all__ = ["DEMO_BEGINS", "FIRST_PAGE", "demo_next_words"]

FIRST_PAGE = """\
voicelog keeps your dog training log: you say what happens, it writes it down. Offline.

  voicelog review                        the page: see, hear and correct every session
  voicelog demo                          hear an invented session and see its summary
  voicelog dogs put Bracken --top 20     first, put each dog on the roster (collar's top level)
  voicelog add day.m4a --dog Bracken     hear a recording and keep it in the log
  voicelog listen --earpiece             listen while you train, and answer in one ear
  voicelog summary Bracken               the last session on one page
  voicelog plan Bracken                  the next session on one page

All commands: voicelog --help     One of them: voicelog add --help"""
"""What `voicelog` alone prints: ten lines of it say what one can do, the page first."""

DEMO_BEGINS = "The demo: synthetic voices, invented dogs; nothing of it is kept. Hearing {} ...\n"
"""Before the demo is heard; filled with how much, as "1 recording"."""


def demo_next_words(others: int) -> str:
    """What to do after the demo, where `others` of its recordings were not heard."""
    more = (
        f"  voicelog demo --all                    the other {others} recordings, too\n"
        if others
        else ""
    )
    return (
        "What to do next:\n"
        f"{more}"
        "  voicelog dogs put Bracken --top 20     put your own dog on the roster\n"
        "  voicelog add day.m4a --dog Bracken     keep a recording of your own\n"
        "  voicelog review                        the page, to hear and correct it"
    )
