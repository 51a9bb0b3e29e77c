"""What a live session goes by is what is derived from all of it anew."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from hypothesis import given, settings
from hypothesis import strategies as st

from tests.session.said import GRAMMAR, ROSTER
from tests.session.test_kept import grown
from voicelog.app.derivation_walk import DerivationWalk
from voicelog.app.derive import derive
from voicelog.live.arbiter import ArbiterState, arbitrate
from voicelog.live.current_state import StateWalk, current_state
from voicelog.live.finding_sayings import FindingSayings, sayings_on
from voicelog.live.incidents import EachPressWalk
from voicelog.live.sayings import Saying
from voicelog.live.timers import OverdueWalk, overdue
from voicelog.model import Action, Event, Reading, Session, Utterance, Verdict
from voicelog.safety.check import RULES
from voicelog.safety.history import History, PastSession, PastSign
from voicelog.safety.settings import Settings
from voicelog.store import Recording

SETTINGS = Settings()
AT = datetime(2031, 5, 3, 9)
AT_END = {rule.name for rule in RULES if rule.decided == "session end"}
PAST = PastSession(
    started=datetime(2031, 5, 3, 7),
    transmitter=ROSTER.dogs[0].transmitter,
    stimulated=True,
    answered={"": 2},
    strong=(PastSign(at=datetime(2031, 5, 3, 7), sign="yelped", level=4),),
)
HISTORY = History(at=AT, sessions=1, stimulated=1, transmitter=PAST.transmitter)
RECORDING = Recording(
    id="r", roster=ROSTER, dog="Bracken", grammar=GRAMMAR.name, settings={}, started_at=AT
)


def _undecided(events: list[Event]) -> list[Event]:
    """An utterance after all others, of which nothing is to be kept."""
    at_s = max((one.end_s for one in events if isinstance(one, Utterance)), default=0.0)
    return [
        Utterance(id="undecided", recording="r", start_s=at_s + 1, end_s=at_s + 2),
        Reading(id="r", utterance="undecided", words="yelped", by="listener", who="test"),
        Verdict(
            id="v", utterance="undecided", status="doubtful", words="yelped", confidence=0.6,
            judge="test",
        ),
    ]  # fmt: skip


@settings(max_examples=8)
@given(grown(), st.sampled_from([(), (PAST,)]), st.floats(0, 60))
def test_live_and_whole_come_to_the_same(
    events: list[Event], past: tuple[PastSession, ...], later_s: float
) -> None:
    walk = DerivationWalk(GRAMMAR, lambda dog: past, live=True)
    reviewed = DerivationWalk(GRAMMAR, lambda dog: past, even=2)
    states, timers, presses = StateWalk(), OverdueWalk(SETTINGS), EachPressWalk(SETTINGS)
    sayings, arbiter = FindingSayings(len), ArbiterState()

    def history(session: Session) -> History:
        return HISTORY

    for many in range(1, len(events) + 1):
        if not isinstance(events[many - 1], Action | Verdict | Reading):
            continue
        said: tuple[Saying, ...] = ()
        if many % 4 == 0:
            undecided = _undecided(events[:many])
            ahead = walk.derived(RECORDING, events[:many], undecided)
            with_it = derive(RECORDING, [*events[:many], *undecided], GRAMMAR, lambda dog: past)
            assert (ahead.entries, ahead.sessions) == (with_it.entries, with_it.sessions)
            said = sayings_on("undecided", ahead.findings, len)
        kept = walk.derived(RECORDING, events[:many])
        whole = derive(RECORDING, events[:many], GRAMMAR, lambda dog: past)
        again = reviewed.derived(RECORDING, events[:many])
        assert (again.entries, again.sessions) == (whole.entries, whole.sessions)
        assert again.findings == whole.findings
        assert kept.entries == whole.entries
        assert kept.sessions == whole.sessions
        at_s = max((entry.end_s for entry in kept.entries), default=0.0) + later_s
        state = current_state(whole, at_s)
        assert states.state(kept, at_s) == state
        running = state.session.id if state.session else None
        for found in (kept.findings, whole.findings):
            assert len({(one.rule, one.evidence, one.session) for one in found}) <= len(found)
        due = [one for one in whole.findings if one.rule not in AT_END or one.session != running]
        assert [
            one for one in kept.findings if one.rule not in AT_END or one.session != running
        ] == due
        anew = replace(state, session=state.session and state.session.model_copy())
        late = timers.overdue(state, HISTORY)
        assert late == overdue(anew, HISTORY, SETTINGS)
        told = presses.findings(kept.sessions, kept.entries, history)
        assert told == EachPressWalk(SETTINGS).findings(whole.sessions, whole.entries, history)
        pressed = state.pressed.entry if state.pressed else None
        found = (*kept.findings, *told, *late)
        change = sayings.change(found, running, pressed, said)
        whole_sayings = FindingSayings(len)
        whole_sayings.change((*whole.findings, *told, *late), running, pressed, said)
        assert sayings.standing == whole_sayings.standing
        if change is not None:
            arbiter, _ = arbitrate(arbiter, change)
        assert arbiter.standing == sayings.standing.keys(), "told by what is other, it knows all"
        assert sayings.change(found, running, pressed, said) is None
