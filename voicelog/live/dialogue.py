"""The dialogue of a live session, free of input and output: what was heard in, outputs out.

It is told of each committed utterance with all that was derived from the session so far, of
time passing, and of devices. It answers with outputs: tones, words, things to keep. It opens
no device and reads no clock, so all that it does can be tried in a test.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Literal

from voicelog.analysis.open_matters import OpenMatter
from voicelog.analysis.rep_questions import rep_questions
from voicelog.app.derive import Derivation
from voicelog.live.current_state import CurrentState, current_state
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
from voicelog.report.spoken_wording import (
    SAY_WRONG_DOG,
    SPOKEN_DEVICE_STATES,
    first_words,
    spoken_answer,
    spoken_start,
)
from voicelog.report.wording.rep_questions import spoken_rep_question
from voicelog.safety.check import RULES, rules_with
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

_WHILE_PRESSED = rules_with("while pressed")
_AT_END = frozenset(rule.name for rule in RULES if rule.decided == "session end")


class DialogueManager:
    """The dialogue of one live recording, for one thread.

    Times (`at_s`) are seconds in the recording and never go back. `history` gives what was known
    of a session's dog before it; it is asked often, so it has to be quick. `who` speaks, kept
    with her answers. `matters` gives a dog's list of open matters by its name, told at the start.
    `troubles` maps what is wrong with the equipment to a sentence for the screen.
    """

    def __init__(
        self,
        *,
        settings: Settings,
        history: Callable[[Session], History],
        replies: ReplyPolicy = "doubtful",
        who: str = "",
        matters: Callable[[str], Sequence[OpenMatter]] = lambda dog: (),
    ) -> None:
        self.settings, self.replies = settings, replies
        self.warnings = WarningSchedule()
        self.readback = Readback(who)
        self.derivation: Derivation | None = None
        self.troubles: dict[str, str] = {}
        self._history = history
        self._matters = matters
        self._reps_toned: dict[str, ToneKind] = {}
        self._last_words = ""
        self._started_dog: str | None = None
        self._affirmed_entry: Entry | None = None
        self._speaking = False
        self._ticked_s = 0.0
        self._timed_s = 0.0
        self._overdue_findings: tuple[Finding, ...] = ()
        self._press_findings: tuple[Finding, ...] = ()

    # --- what happens --------------------------------------------------------------------

    def heard(
        self, utterance: str, derivation: Derivation, at_s: float, *, over_voice: bool = False
    ) -> tuple[Output, ...]:
        """An utterance (its id) was committed; `derivation` is of all that was, it included.

        `over_voice`: it is doubtful because the program itself was speaking, so asking about it
        aloud would only bring more of that.
        """
        entry = next(entry for entry in derivation.entries if entry.id == utterance)
        state = self._update(derivation, at_s)
        asked_about = self.readback.entry
        settling = self.readback.answer(entry)
        if settling:  # what is due shows once that has been kept, see `settled`
            self._affirmed_entry = asked_about
            return self._remember_words(settling)
        tone = self._tone_of(entry, state)
        outputs: list[Output] = [PlayTone(tone, urgent=self._is_strong_sign(entry))] if tone else []
        outputs += self._replies(entry, state, over_voice=over_voice)
        outputs += self._due_outputs(state)
        return self._remember_words(outputs)

    def settled(self, derivation: Derivation, at_s: float) -> tuple[Output, ...]:
        """What was to be kept has been; `derivation` is of all, with it."""
        state = self._update(derivation, at_s)
        affirmed, self._affirmed_entry = self._affirmed_entry, None
        begun = affirmed is not None and self._is_sure(affirmed.id)
        outputs = self._start_words(affirmed, state) if begun and affirmed else []
        return self._remember_words([*outputs, *self._due_outputs(state)])

    def tick(self, at_s: float) -> tuple[Output, ...]:
        """Time has passed; call it a few times a second."""
        outputs: list[Output] = []
        if self.derivation is not None:
            state = current_state(self.derivation, at_s)
            if state.pressed is not None or at_s - self._timed_s >= TIMERS_S:
                self._timed_s = at_s
                self._overdue_findings = self._findings_by_time(state)
                outputs += self._long_press_warnings(state)
            outputs += self._due_outputs(state)
        outputs += self.warnings.tick(at_s)
        if at_s - self._ticked_s >= LISTENING_S:
            self._ticked_s = at_s
            deaf = self.troubles.keys() & {"gone", "silent", "ear gone"}
            outputs += [] if deaf else [PlayTone("listening")]
        return self._remember_words(outputs)

    def speech_changed(self, speaking: bool) -> None:
        """She began to speak, or stopped: only what may not wait is said while she does."""
        self._speaking = speaking

    def device(self, state: EquipmentState, detail: str = "") -> tuple[Output, ...]:
        """Something happened to the equipment; it is said at once, where something can sound.

        `detail` is a sentence to show and keep in place of the spoken words.
        """
        if state == "back":
            for over in ("gone", "silent", "overloaded"):
                self.troubles.pop(over, None)
        elif state == "disk back":
            self.troubles.pop("disk full", None)
        elif state == "earphone back":
            self.troubles.pop("earphone gone", None)
        else:
            self.troubles[state] = detail or SPOKEN_DEVICE_STATES[state]
        what: Literal["clock", "device"] = "clock" if state == "clock" else "device"
        mark = LogFieldEvent(what, detail or state)
        if state == "earphone gone":
            return (mark,)
        return self._remember_words((SpeakWords(SPOKEN_DEVICE_STATES[state], urgent=True), mark))

    def clear_trouble(self, state: EquipmentState) -> None:
        """It is over, and nothing is to be said of that."""
        self.troubles.pop(state, None)

    # --- what follows --------------------------------------------------------------------

    def _update(self, derivation: Derivation, at_s: float) -> CurrentState:
        self.derivation = derivation
        state = current_state(derivation, at_s)
        self._overdue_findings = self._findings_by_time(state)
        doubtful = [entry.id for entry in derivation.entries if entry.status == "doubtful"]
        self._press_findings = tuple(
            finding
            for session in derivation.sessions
            for finding in each_press(session, self._history(session), self.settings, doubtful)
        )
        return state

    def _findings_by_time(self, state: CurrentState) -> tuple[Finding, ...]:
        if state.session is None:
            return ()
        return overdue(state, self._history(state.session), self.settings)

    def _long_press_warnings(self, state: CurrentState) -> tuple[Output, ...]:
        """A press over its limit is told while it lasts: afterwards is too late."""
        pressed = state.pressed.entry if state.pressed else None
        for finding in self._overdue_findings:
            if finding.rule in _WHILE_PRESSED and finding.evidence[:1] == (pressed,):
                return self.warnings.long_press(finding)
        return ()

    def _due_outputs(self, state: CurrentState) -> list[Output]:
        """Questions and findings whose moment is now."""
        assert self.derivation is not None  # nothing is due before anything was heard
        running = state.session.id if state.session else None
        findings = self.derivation.line.findings
        found = [
            finding
            for finding in (*findings, *self._press_findings, *self._overdue_findings)
            if finding.rule not in _AT_END or finding.session != running
        ]
        outputs = list(self.warnings.update(found))
        may = state.open_rep is None and not self._speaking
        outputs += self.readback.tick(state.at_s, may_ask=may)
        may &= self.readback.question is None
        outputs += self.warnings.speak(
            state.at_s, may_remark=may, held_back=self.readback.held_back
        )
        return outputs

    def _tone_of(self, entry: Entry, state: CurrentState) -> ToneKind | None:
        """One tone for each rep, when it is over, and another where it is no longer sure; one for
        each note that is of no rep, and at once for a strong sign."""
        kinds = {phrase.kind for phrase in entry.phrases}
        if state.quiet and "session" not in kinds and "edit" not in kinds:
            return None
        if entry.status == "rejected":
            worth = entry.confidence >= NOTE_PROBABILITY_THRESHOLD and state.open_rep is None
            return "not understood" if worth else None
        if kinds <= {"ask"}:
            return None
        if any(isinstance(phrase, RepPhrase) for phrase in entry.phrases):
            rep = self._rep_of(entry)
            is_open = rep is not None and state.open_rep is not None and rep.id == state.open_rep.id
            told = rep is None or is_open or rep.id in self._reps_toned
            if told and self._is_strong_sign(entry):
                return "accepted" if entry.status == "accepted" else "doubtful"
            if rep is None:
                return "doubtful"
            if told and not (rep.doubtful and self._reps_toned.get(rep.id) == "accepted"):
                return None
            tone: ToneKind = "doubtful" if rep.doubtful else "accepted"
            self._reps_toned[rep.id] = tone
            return tone
        did = self._is_placed(entry) or any(map(_pauses, entry.phrases))
        return "accepted" if entry.status == "accepted" and did else "doubtful"

    def _replies(self, entry: Entry, state: CurrentState, *, over_voice: bool) -> list[Output]:
        assert self.derivation is not None  # `heard` has just taken one
        if entry.status == "rejected":
            return []
        outputs = self._start_words(entry, state) if entry.status == "accepted" else []
        for phrase in entry.phrases if entry.status == "accepted" else ():
            match phrase:
                case QuestionPhrase(say=ask):
                    outputs.append(SpeakWords(self._answer(ask, state)))
                case AnswerPhrase(answer="roger"):
                    outputs += [
                        LogFieldEvent("acknowledgement", rule)
                        for rule in self.warnings.acknowledge()
                    ]
                    outputs.append(PlayTone("accepted"))
                case AnswerPhrase(answer="affirm") if self._started_dog is not None:
                    outputs += [
                        LogFieldEvent("acknowledgement", f"dog {self._started_dog}"),
                        PlayTone("accepted"),
                    ]
                    self._started_dog = None
                case SessionControlPhrase(do="end") if self.replies != "none":
                    outputs += self._questions_left()
                case AnswerPhrase(answer="negative") if self._started_dog is not None:
                    outputs.append(SpeakWords(SAY_WRONG_DOG))
                case _:
                    pass
        if outputs or over_voice or self.replies == "none" or state.quiet:
            return outputs
        if entry.status == "doubtful" or needs_readback(entry, self.derivation.line.findings):
            self.readback.queue_question(entry, state.at_s)
        elif self.replies == "all" and state.open_rep is None and self._is_placed(entry):
            outputs.append(SpeakWords(first_words(entry.reading)))
        return outputs

    def _start_words(self, entry: Entry, state: CurrentState) -> list[Output]:
        """Dog, collar, ceiling and what is open, where a sure note says which dog is worked now."""
        outputs: list[Output] = []
        for phrase in entry.phrases:
            if isinstance(phrase, SessionDogPhrase) and state.session:
                self._started_dog = state.session.dog.name
                dog = state.session.dog
                words = spoken_start(dog, state.ceiling, self._matters(dog.name))
                outputs.append(SpeakWords(words))
        return outputs

    def _questions_left(self) -> list[Output]:
        """What is asked about the reps of this recording; it is answered in the evening."""
        assert self.derivation is not None
        asked = [one for session in self.derivation.sessions for one in rep_questions(session)]
        return [SpeakWords(spoken_rep_question(asked))] if asked else []

    def _is_sure(self, name: str) -> bool:
        assert self.derivation is not None
        entries = self.derivation.entries
        return any(one.id == name and one.status == "accepted" for one in entries)

    def _answer(self, ask: Question, state: CurrentState) -> str:
        assert self.derivation is not None
        notes = [
            entry
            for entry in self.derivation.entries
            if entry.status != "rejected"
            and not entry.voided
            and any(phrase.kind != "ask" for phrase in entry.phrases)
        ]
        history = self._history(state.session) if state.session else History()
        return spoken_answer(
            ask,
            session=state.session,
            level=state.level,
            ceiling=state.ceiling,
            notes=notes,
            history=history,
            said=self._last_words,
        )

    def _is_strong_sign(self, entry: Entry) -> bool:
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

    def _is_placed(self, entry: Entry) -> bool:
        assert self.derivation is not None
        return any(entry.id in session.placed for session in self.derivation.sessions)

    def _remember_words(self, outputs: Iterable[Output]) -> tuple[Output, ...]:
        kept = tuple(outputs)
        for output in kept:
            if isinstance(output, SpeakWords):
                self._last_words = output.words
        return kept


def _pauses(phrase: Phrase) -> bool:
    return isinstance(phrase, SessionControlPhrase) and phrase.do != "end"
