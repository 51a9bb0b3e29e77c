"""A live recording as the screen shows it."""

from __future__ import annotations

import math

from voicelog.live.live_session import LiveSession
from voicelog.live.screen import ScreenContent
from voicelog.report.screen_words import ENDING, GETTING_READY, HINT
from voicelog.report.state_words import entry_word

__all__ = ["screen_content_of"]

_SHOWN = 20


def screen_content_of(live: LiveSession) -> ScreenContent:
    """What is to be seen now; for the thread that runs the session."""
    dialogue, at_s = live.dialogue, live.at_s
    derivation = dialogue.derivation
    state = dialogue.state(at_s)
    session = state.session
    peak = live.level.peak if live.level else 0.0
    dog = session.dog.name if session else live.setup.recognition.dog or ""
    ready = GETTING_READY if live.lag_s is None else ", ".join(live.recognizers)
    stops = dialogue.arbiter.stops
    reps = [rep for rep in session.reps if not rep.void] if session else []
    return ScreenContent(
        dog=f"{dog} (memo, or paused)" if state.quiet else dog,
        seconds=at_s,
        session_s=at_s - session.start_s if session else None,
        level=str(state.level) if state.level is not None else "",
        ceiling=str(state.ceiling) if state.ceiling is not None else "",
        reps=len(reps),
        check=sum(rep.doubtful for rep in reps),
        open=state.open_rep is not None,
        peak_dbfs=20 * math.log10(peak) if peak > 1e-5 else None,
        input=ready,
        entries=tuple(
            (entry_word(entry), entry.reading)
            for entry in (derivation.entries[-_SHOWN:] if derivation else ())
            if entry.reading
        ),
        findings=tuple(
            f"{finding.severity}: {finding.message}"
            for finding in (derivation.findings if derivation else ())
            if session and finding.session == session.id and not finding.struck
        ),
        troubles=tuple(dialogue.troubles.values()),
        question=dialogue.question,
        stop=stops[-1].saying.words if stops else None,
        hint=ENDING if live.stopping else HINT,
    )
