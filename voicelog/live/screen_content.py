"""A live recording as the screen shows it."""

from __future__ import annotations

import math

from voicelog.live.current_state import CurrentState, now
from voicelog.live.live_session import LiveSession
from voicelog.live.screen import HINT, ScreenContent
from voicelog.report.state_words import entry_word

__all__ = ["screen_content_of"]

_SHOWN = 20
_LAST = "Hearing the last of it; Ctrl-C again leaves that for voicelog listen --resume"


def screen_content_of(live: LiveSession) -> ScreenContent:
    """What is to be seen now."""
    loop, at_s = live.post.loop, live.at_s
    derivation = loop.derivation
    at = now(derivation, at_s) if derivation else CurrentState(at_s)
    session = at.session
    peak = live.level.peak if live.level else 0.0
    dog = session.dog.name if session else live.post.setup.dog or ""
    ready = "getting ready to hear" if live.lag_s is None else ", ".join(live.listeners)
    worst = loop.manners.stops[-1].words if loop.manners.stops else None
    reps = [rep for rep in session.reps if not rep.void] if session else []
    return ScreenContent(
        dog=f"{dog} (memo, or paused)" if at.quiet else dog,
        seconds=at_s,
        session_s=at_s - session.start_s if session else None,
        level=str(at.level) if at.level is not None else "",
        ceiling=str(at.ceiling) if at.ceiling is not None else "",
        reps=len(reps),
        check=sum(rep.doubtful for rep in reps),
        open=at.open is not None,
        peak_dbfs=20 * math.log10(peak) if peak > 1e-5 else None,
        input=ready,
        entries=tuple(
            (entry_word(entry), entry.reading)
            for entry in (derivation.entries[-_SHOWN:] if derivation else ())
            if entry.reading
        ),
        findings=tuple(
            f"{finding.severity}: {finding.message}"
            for finding in (derivation.line.findings if derivation else ())
            if session and finding.session == session.id and not finding.struck
        ),
        troubles=tuple(loop.trouble.values()),
        question=loop.readback.question,
        stop=worst,
        hint=_LAST if live.stopping else HINT,
    )
