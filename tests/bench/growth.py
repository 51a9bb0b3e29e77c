"""What a note costs, from the fifth minute to the fourth hour of one live session.

    python -m tests.bench.growth [hours, default 4] [seconds from note to note, default 6] [anew]

One dog, one session, a note every six seconds (2,400 in four hours): the calm one is worked by the
rules, in the hard one each press beyond the dog's limit is a finding. One note in twenty is
doubtful, one in thirty is struck, one in sixty corrected. A note is derived and told to the
dialogue, as the live session does it, and the second after it passes in ticks; in one rep of four
the thumb stays on meanwhile. CPU is that of this process alone; `anew` derives each session from
its beginning at each note, as was done before, for comparison.
No sound is heard here and nothing is kept on disk.
"""

from __future__ import annotations

import gc
import os
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from statistics import median

from tests.live.fields import GRAMMAR, ROSTER
from voicelog.app.derivation_walk import DerivationWalk, Derived
from voicelog.live.dialogue import DialogueManager
from voicelog.model import Event, Reading, Utterance, Verdict
from voicelog.safety.history import History
from voicelog.safety.settings import Settings
from voicelog.session.entries import EntriesWalk
from voicelog.session.spoken_edits import resolve_spoken_edit
from voicelog.session.variants import VariantsWalk
from voicelog.store import Recording

CALM = (
    *("here no button came", "praised", "here", "came", "distraction low", "here no button came"),
    *("treat", "here called twice came slow", "distance 20 metres", "here no button line help"),
)
HARD = (
    *("here level one came", "here", "level two", "thumb off", "came", "praised"),
    *("here level two line help", "neck twitch", "distraction low", "here vibrate came"),
)
MINUTES = (5, 60, 120, 180, 240)
AROUND = 120
"""Notes of which the median is taken: two of each that is struck or corrected."""
TICK_S = 0.1

Derive = Callable[[Recording, Sequence[Event]], Derived]


def said(words: str, number: int, at_s: float, *, status: str) -> list[Event]:
    """The events of one note."""
    name = f"u-{number:05d}"
    return [
        Utterance(id=name, recording="r", start_s=at_s, end_s=at_s + 1),
        Reading(id=f"{name}.r", utterance=name, words=words, by="listener", who="bench"),
        Verdict.model_validate(
            {
                "id": f"{name}.v", "utterance": name, "status": status, "words": words,
                "confidence": 0.9, "judge": "bench",
            }
        ),
    ]  # fmt: skip


class Session:
    """One live session without sound."""

    def __init__(self, words: Sequence[str], every_s: float, *, anew: bool) -> None:
        history = History()
        self.words, self.every_s, self.anew = words, every_s, anew
        self.dialogue = DialogueManager(settings=Settings(), history=lambda session: history)
        self.recording = Recording(id="r", roster=ROSTER, grammar=GRAMMAR.name, settings={})
        self.events: list[Event] = []
        self.walk = DerivationWalk(GRAMMAR, lambda dog: (), live=True)
        self.entries = EntriesWalk(GRAMMAR.interpret)
        self.variants = VariantsWalk(ROSTER)

    def note(self, number: int) -> tuple[float, float]:
        """Say one; CPU (s) from its coming in to its answer, and of a tick after it."""
        at_s = number * self.every_s
        words = self.words[number % len(self.words)] if number else "start session bracken"
        words = {29: "strike that", 59: "correction line help"}.get(number % 60, words)
        events = said(words, number, at_s, status="doubtful" if number % 20 == 7 else "accepted")
        began = time.process_time()
        self.events += events
        if number % 30 == 29:
            *before, entry = self.entries.entries(self.events)
            edit = resolve_spoken_edit(entry, tuple(before), ROSTER, walk=self.variants)
            self.events += [edit] if edit else []
        if self.anew:
            self.walk = DerivationWalk(GRAMMAR, lambda dog: (), live=True)
        derived = self.walk.derived(self.recording, self.events)
        self.dialogue.heard(events[0].id, derived, at_s + 1.5)
        noted = time.process_time()
        ticks = 10
        for tick in range(1, ticks + 1):
            self.dialogue.tick(at_s + 1.5 + tick * TICK_S)
        return noted - began, (time.process_time() - noted) / ticks


def main(hours: float, every_s: float, *, anew: bool) -> None:
    for name, words in (("calm", CALM), ("hard", HARD)):
        session = Session(words, every_s, anew=anew)
        many = round(hours * 3600 / every_s)
        marks = [round(minute * 60 / every_s) for minute in MINUTES if minute <= hours * 60]
        print(f"{name}: {many} notes, one every {every_s:g} s")
        number = 0
        while number <= many:
            if number in marks:
                told = beside(session, number, Session(words, every_s, anew=anew), marks[0])
                minute = number * every_s / 60
                print(f"  minute {minute:4.0f}: {told}; {_rss_mb():4.0f} MB", flush=True)
                number += AROUND
            else:
                session.note(number)
                number += 1


def beside(session: Session, number: int, young: Session, early: int) -> str:
    """What a note costs from its `number` on, and in a young session from `early` on.

    Their notes take turns, since what else the machine does makes both dearer by as much. Garbage
    is collected before and not meanwhile: it falls now in one note and now in another.
    """
    for one in range(early):
        young.note(one)
    gc.collect()
    gc.disable()
    took = []
    for step in range(AROUND):
        took.append((*young.note(early + step), *session.note(number + step)))
    gc.enable()
    columns = list(zip(*took, strict=True))
    first, _, note, tick = (1000 * median(one) for one in columns)
    first_mean, _, mean, _ = (1000 * sum(one) / len(one) for one in columns)
    return (
        f"a note {note:5.2f} ms, beside {first:5.2f} in the first minutes, {note / first:4.2f} "
        f"times; means {mean:5.2f}, {first_mean:5.2f}, {mean / first_mean:4.2f} times; "
        f"a tick {tick:4.2f} ms"
    )


def _rss_mb() -> float:
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


if __name__ == "__main__":
    given = [one for one in sys.argv[1:] if one != "anew"]
    main(
        float(given[0]) if given else 4.0,
        float(given[1]) if len(given) > 1 else 6.0,
        anew="anew" in sys.argv,
    )
    print(f"machine: {os.cpu_count()} cores, load {', '.join(f'{n:.1f}' for n in os.getloadavg())}")
