"""The live loop as a machine without a world: what was heard in, what is to be done out.

It hears of each committed utterance with all that was derived from the session so far, of
time passing, and of devices. It answers with acts: tones, words, things to keep. It opens
no device and reads no clock, so every manner of it can be tried in a test.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Literal

from voicelog.app.pipeline import Derivation
from voicelog.live import spoken_wording
from voicelog.live.current_state import CurrentState, now
from voicelog.live.incidents import each_press
from voicelog.live.outputs import LogFieldEvent, Output, PlayTone, SpeakWords, ToneKind
from voicelog.live.readback import Readback, needs_readback
from voicelog.live.timers import overdue
from voicelog.live.warning_schedule import WarningSchedule
from voicelog.model import Entry, Finding, Phrase, Rep, Session
from voicelog.model.phrases import (
    AnswerPhrase,
    Question,
    QuestionPhrase,
    RepPhrase,
    SessionControlPhrase,
    SessionDogPhrase,
)
from voicelog.safety.check import RULES
from voicelog.safety.history import History
from voicelog.safety.settings import Settings
from voicelog.session.recording_builder import NOTE_PROBABILITY_THRESHOLD

__all__ = ["DialogueManager", "EquipmentState", "ReplyPolicy"]

ReplyPolicy = Literal["all", "doubtful", "none"]
"""What is spoken of entries; warnings, answers and the dog's name at the start always are."""

EquipmentState = Literal[
    "gone",
    "silent",
    "overloaded",
    "back",
    "earphone gone",
    "earphone back",
    "disk full",
    "disk back",
    "ear gone",
    "careful gone",
    "slow",
    "clock",
]

LISTENING_S = 60.0
"""Seconds between the ticks that mean "listening"."""
TIMERS_S = 5.0
"""Seconds between two looks at what goes wrong by time alone; while a press lasts, each tick."""

_AT_END = frozenset(rule.name for rule in RULES if rule.decided == "session end")


class DialogueManager:
    """One live recording. Times (`at_s`) are seconds in the recording and never go back.

    `history` gives what was known of a dog before a session. `who` speaks.
    """

    def __init__(
        self,
        *,
        settings: Settings,
        history: Callable[[Session], History],
        replies: ReplyPolicy = "doubtful",
        who: str = "",
    ) -> None:
        self.settings, self.replies = settings, replies
        self.manners = WarningSchedule()
        self.readback = Readback(who)
        self.derivation: Derivation | None = None
        self.trouble: dict[str, str] = {}
        self._history = history
        self._toned: set[str] = set()
        self._said = ""
        self._start: str | None = None
        self._affirmed: Entry | None = None
        self._talking = False
        self._ticked_s = 0.0
        self._timed_s = 0.0
        self._overdue: tuple[Finding, ...] = ()
        self._pressed: tuple[Finding, ...] = ()

    # --- what happens --------------------------------------------------------------------

    def begin(self, words: str | None = None) -> tuple[Output, ...]:
        """The recording has begun; `words` name the dog where one was chosen already."""
        return self._spoken([SpeakWords(words)] if words else [])

    def heard(
        self, utterance: str, derivation: Derivation, at_s: float, *, over_voice: bool = False
    ) -> tuple[Output, ...]:
        """An utterance was committed; `derivation` is of all that was, it included.

        `over_voice`: it is doubtful because the program itself was speaking, so asking about it
        aloud would only bring more of that.
        """
        entry = next(entry for entry in derivation.entries if entry.id == utterance)
        at = self._take(derivation, at_s)
        asked_about = self.readback.entry
        settling = self.readback.answer(entry)
        if settling:  # what is due shows once that has been kept, see `settled`
            self._affirmed = asked_about
            return self._spoken(settling)
        tone = self._tone(entry, at)
        acts: list[Output] = [PlayTone(tone, urgent=self._strong(entry))] if tone else []
        acts += self._replies(entry, at, over_voice=over_voice)
        acts += self._due(at)
        return self._spoken(acts)

    def settled(self, derivation: Derivation, at_s: float) -> tuple[Output, ...]:
        """What was to be kept has been; `derivation` is of all, with it."""
        at = self._take(derivation, at_s)
        begun = self._affirmed is not None and self._is_sure(self._affirmed.id)
        acts = self._start_of(self._affirmed, at) if begun and self._affirmed else []
        self._affirmed = None
        return self._spoken([*acts, *self._due(at)])

    def tick(self, at_s: float) -> tuple[Output, ...]:
        """Time has passed; call it a few times a second."""
        acts: list[Output] = []
        if self.derivation is not None:
            at = now(self.derivation, at_s)
            if at.pressed is not None or at_s - self._timed_s >= TIMERS_S:
                self._timed_s = at_s
                self._overdue = self._by_time(at)
                acts += self._long_press_warnings(at)
            acts += self._due(at)
        acts += self.manners.tick(at_s)
        if at_s - self._ticked_s >= LISTENING_S:
            self._ticked_s = at_s
            deaf = self.trouble.keys() & {"gone", "silent", "ear gone"}
            acts += [] if deaf else [PlayTone("listening")]
        return self._spoken(acts)

    def talks(self, talking: bool) -> None:
        """She began to speak, or stopped."""
        self._talking = talking

    def device(self, state: EquipmentState, detail: str = "") -> tuple[Output, ...]:
        """Something happened to the equipment; it is said at once, where there is an ear."""
        if state == "back":
            for over in ("gone", "silent", "overloaded"):
                self.trouble.pop(over, None)
        elif state == "disk back":
            self.trouble.pop("disk full", None)
        elif state == "earphone back":
            self.trouble.pop("earphone gone", None)
        else:
            self.trouble[state] = detail or spoken_wording.SPOKEN_DEVICE_STATES[state]
        what: Literal["clock", "device"] = "clock" if state == "clock" else "device"
        mark = LogFieldEvent(what, detail or state)
        if state == "earphone gone":
            return (mark,)
        return self._spoken(
            (SpeakWords(spoken_wording.SPOKEN_DEVICE_STATES[state], urgent=True), mark)
        )

    # --- what follows --------------------------------------------------------------------

    def _take(self, derivation: Derivation, at_s: float) -> CurrentState:
        self.derivation = derivation
        at = now(derivation, at_s)
        self._overdue = self._by_time(at)
        doubtful = [entry.id for entry in derivation.entries if entry.status == "doubtful"]
        self._pressed = tuple(
            finding
            for session in derivation.sessions
            for finding in each_press(session, self._history(session), self.settings, doubtful)
        )
        return at

    def _by_time(self, at: CurrentState) -> tuple[Finding, ...]:
        if at.session is None:
            return ()
        return overdue(at, self._history(at.session), self.settings)

    def _long_press_warnings(self, at: CurrentState) -> tuple[Output, ...]:
        """A press over its limit is told while it lasts: afterwards is too late."""
        pressed = at.pressed.entry if at.pressed else None
        for finding in self._overdue:
            if finding.rule == "held-long" and finding.evidence[:1] == (pressed,):
                return self.manners.thumb_off(finding)
        return ()

    def _due(self, at: CurrentState) -> list[Output]:
        """Questions and findings whose moment is now."""
        assert self.derivation is not None  # nothing is due before anything was heard
        running = at.session.id if at.session else None
        found = [
            finding
            for finding in (*self.derivation.line.findings, *self._pressed, *self._overdue)
            if finding.rule not in _AT_END or finding.session != running
        ]
        acts = list(self.manners.found(found))
        may = at.open is None and not self._talking
        acts += self.readback.tick(at.at_s, may_ask=may)
        may &= self.readback.question is None
        acts += self.manners.speak(at.at_s, may_remark=may, held_back=self.readback.held_back)
        return acts

    def _tone(self, entry: Entry, at: CurrentState) -> ToneKind | None:
        """One tone for each rep, when it is over; one for each note that is of no rep, and at
        once for a strong sign."""
        kinds = {phrase.kind for phrase in entry.phrases}
        if at.quiet and "session" not in kinds and "edit" not in kinds:
            return None
        if entry.status == "rejected":
            worth = entry.confidence >= NOTE_PROBABILITY_THRESHOLD and at.open is None
            return "not understood" if worth else None
        if kinds <= {"ask"}:
            return None
        if any(isinstance(phrase, RepPhrase) for phrase in entry.phrases):
            rep = self._rep_of(entry)
            is_open = rep is not None and at.open is not None and rep.id == at.open.id
            told = rep is None or is_open or rep.id in self._toned
            if told and self._strong(entry):
                return "accepted" if entry.status == "accepted" else "doubtful"
            if rep is None:
                return "doubtful"
            if told:
                return None
            self._toned.add(rep.id)
            return "doubtful" if rep.doubtful else "accepted"
        did = self._placed(entry) or any(map(_pauses, entry.phrases))
        return "accepted" if entry.status == "accepted" and did else "doubtful"

    def _replies(self, entry: Entry, at: CurrentState, *, over_voice: bool) -> list[Output]:
        assert self.derivation is not None  # `heard` has just taken one
        if entry.status == "rejected":
            return []
        acts = self._start_of(entry, at) if entry.status == "accepted" else []
        for phrase in entry.phrases if entry.status == "accepted" else ():
            match phrase:
                case QuestionPhrase(say=ask):
                    acts.append(SpeakWords(self._answer(ask, at)))
                case AnswerPhrase(answer="roger"):
                    acts += [
                        LogFieldEvent("acknowledgement", rule) for rule in self.manners.roger()
                    ]
                    acts.append(PlayTone("accepted"))
                case AnswerPhrase(answer="affirm") if self._start is not None:
                    acts += [
                        LogFieldEvent("acknowledgement", f"dog {self._start}"),
                        PlayTone("accepted"),
                    ]
                    self._start = None
                case AnswerPhrase(answer="negative") if self._start is not None:
                    acts.append(SpeakWords("Say wrong dog and name"))
                case _:
                    pass
        if acts or over_voice or self.replies == "none" or at.quiet:
            return acts
        if entry.status == "doubtful" or needs_readback(entry, self.derivation.line.findings):
            self.readback.queue_question(entry, at.at_s)
        elif self.replies == "all" and at.open is None and self._placed(entry):
            acts.append(SpeakWords(spoken_wording.first_words(entry.reading)))
        return acts

    def _start_of(self, entry: Entry, at: CurrentState) -> list[Output]:
        """Dog, collar and ceiling, where a sure note says which dog is worked from here on."""
        acts: list[Output] = []
        for phrase in entry.phrases:
            if isinstance(phrase, SessionDogPhrase) and at.session:
                self._start = at.session.dog.name
                acts.append(SpeakWords(spoken_wording.start(at.session.dog, at.ceiling)))
        return acts

    def _is_sure(self, name: str) -> bool:
        assert self.derivation is not None
        entries = self.derivation.entries
        return any(one.id == name and one.status == "accepted" for one in entries)

    def _answer(self, ask: Question, at: CurrentState) -> str:
        assert self.derivation is not None
        notes = [
            entry
            for entry in self.derivation.entries
            if entry.status != "rejected"
            and not entry.voided
            and any(phrase.kind != "ask" for phrase in entry.phrases)
        ]
        history = self._history(at.session) if at.session else History()
        return spoken_wording.answer(ask, at, notes, history, self._said)

    def _strong(self, entry: Entry) -> bool:
        """Whether a note told of a strong sign."""
        assert self.derivation is not None
        marks = (mark for session in self.derivation.sessions for mark in session.marks)
        return any(
            mark.entry == entry.id and (mark.kind, mark.value) == ("sign", "strong")
            for mark in marks
        )

    def _rep_of(self, entry: Entry) -> Rep | None:
        assert self.derivation is not None
        reps = (rep for session in reversed(self.derivation.sessions) for rep in session.reps[::-1])
        return next((rep for rep in reps if entry.id in rep.entries), None)

    def _placed(self, entry: Entry) -> bool:
        assert self.derivation is not None
        return any(entry.id in session.placed for session in self.derivation.sessions)

    def _spoken(self, acts: Iterable[Output]) -> tuple[Output, ...]:
        kept = tuple(acts)
        for act in kept:
            if isinstance(act, SpeakWords):
                self._said = act.words
        return kept


def _pauses(phrase: Phrase) -> bool:
    return isinstance(phrase, SessionControlPhrase) and phrase.do != "end"
