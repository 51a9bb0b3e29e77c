"""The dialogue of a live session, free of input and output: what was heard in, outputs out.

It is told of each committed utterance with all that was derived from the session so far, of
time passing, and of devices. It offers what may be said of that to the arbiter, and answers with
outputs: tones, words, things to keep. It opens no device and reads no clock, so all that it does
can be tried in a test.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator, Sequence
from typing import Literal

from voicelog.analysis.open_matters import OpenMatter, open_matters
from voicelog.analysis.rep_questions import rep_questions
from voicelog.analysis.session_matters import session_matters
from voicelog.app.derivation_walk import Derived
from voicelog.live.arbiter import (
    Acknowledged,
    Answering,
    ArbiterAction,
    ArbiterMessage,
    ArbiterState,
    Begin,
    BreakOff,
    Moment,
    Offer,
    Withdraw,
    arbitrate,
)
from voicelog.live.current_state import CurrentState, StateWalk
from voicelog.live.finding_sayings import FindingSayings, sayings_on
from voicelog.live.incidents import EachPressWalk, Incident
from voicelog.live.outputs import (
    CancelSpeech,
    LogFieldEvent,
    Output,
    PlayTone,
    SpeakWords,
    ToneKind,
)
from voicelog.live.readback import is_worth_asking, settling_actions
from voicelog.live.sayings import Saying, SayingKind
from voicelog.live.timers import OverdueWalk
from voicelog.live.tones import tone_s
from voicelog.model import Entry, Finding, Phrase, Rep, Session
from voicelog.model.names import name_key
from voicelog.model.phrases import (
    AnswerPhrase,
    Question,
    QuestionPhrase,
    RepPhrase,
    SessionControlPhrase,
    SessionDogPhrase,
    SignPhrase,
)
from voicelog.report.spoken_end import spoken_end
from voicelog.report.spoken_wording import (
    SAY_WRONG_DOG,
    first_words,
    spoken_answer,
    spoken_device_state,
    spoken_question,
    spoken_start,
)
from voicelog.safety.check import rules_with
from voicelog.safety.history import History
from voicelog.safety.settings import Settings
from voicelog.session.recording_builder import NOTE_PROBABILITY_THRESHOLD

__all__ = ["TO_HEAR_S", "DialogueManager", "EquipmentState", "ReplyPolicy"]

ReplyPolicy = Literal["all", "doubtful", "none"]
"""What is spoken of entries; warnings, answers and the dog's name at the start always are."""

EquipmentState = Literal[
    "gone",
    "stuck",
    "silent",
    "overloaded",
    "back",
    "changed",
    "fainter",
    "louder",
    "as before",
    "earphone gone",
    "earphone back",
    "disk full",
    "disk back",
    "ear gone",
    "ear back",
    "listening",
    "one listener",
    "deaf",
    "careful gone",
    "slow",
    "clock",
    "slept",
]

LISTENING_S = 60.0
"""Seconds between the ticks that mean "listening"."""
TIMERS_S = 5.0
"""Seconds between two looks at what goes wrong by time alone; while a press lasts, each tick."""
TO_HEAR_S = 1.5
"""Seconds after her speech in which what she said is waited for, before an older caution begins."""

SPOKEN_WORD_S = 0.35
"""How long (s) a spoken word lasts, where nobody can say it better."""

_WITH_COUNT = rules_with("with the count")
_NOT_HEARING = frozenset({"gone", "stuck", "silent", "ear gone", "deaf", "slow"})
"""While one of these lasts no tick says that it listens."""
_RESTORED: dict[EquipmentState, tuple[EquipmentState, ...]] = {
    "back": ("gone", "stuck", "silent", "overloaded"),
    "changed": (),
    "as before": ("fainter", "louder"),
    "disk back": ("disk full",),
    "earphone back": ("earphone gone",),
    "ear back": ("ear gone",),
    "listening": ("deaf",),
    "one listener": ("deaf",),
}
"""What is over with what comes back."""


def _word_lengths(words: str) -> float:
    return SPOKEN_WORD_S * len(words.split())


class DialogueManager:
    """The dialogue of one live recording, for one thread.

    Times (`at_s`) are seconds in the recording and never go back. `history` gives what was known
    of a session's dog before it; it is asked often, so it has to be quick. `who` speaks, kept
    with her answers. `matters` gives a dog's list of open matters by its name, told at the start.
    `troubles` maps what is wrong with the equipment to a sentence for the screen; `spoken_s` says
    how long (s) words last when they are spoken, and may be set to what the voice says.
    `listening`: the recognizers have heard a test through.
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
        self.settings, self.replies, self.who = settings, replies, who
        self.arbiter = ArbiterState()
        self.derivation: Derived | None = None
        self.troubles: dict[str, str] = {}
        self.listening = False
        self.spoken_s: Callable[[str], float] = _word_lengths
        self._history = history
        self._states, self._overdue_walk = StateWalk(), OverdueWalk(settings)
        self._each_press = EachPressWalk(settings)
        self._stood: tuple[object, ...] = ()
        self._sayings = FindingSayings(lambda words: self.spoken_s(words))
        self._matters = matters
        self._reps_toned: dict[str, ToneKind] = {}
        self._last_words = ""
        self._started_dog: str | None = None
        self._affirmed_entry: Entry | None = None
        self._speaking = False
        self._paused_s: float | None = None
        self._ticked_s = 0.0
        self._timed_s = 0.0
        self._offered = 0
        self._doing: list[ArbiterAction] = []
        self._presses: tuple[Finding, ...] = ()
        self._overdue: tuple[Finding, ...] = ()
        self._undecided: tuple[Saying, ...] = ()

    # --- what happens --------------------------------------------------------------------

    def heard(
        self, utterance: str, derivation: Derived, at_s: float, *, over_voice: bool = False
    ) -> tuple[Output, ...]:
        """An utterance (its id) was committed; `derivation` is of all that was, it included.

        `over_voice`: it is doubtful because the program itself was speaking, so asking about it
        aloud would only bring more of that.
        """
        entry = next(entry for entry in reversed(derivation.entries) if entry.id == utterance)
        self._undecided, self._paused_s = (), None
        state = self._update(derivation, at_s)
        about = self._entry(self.arbiter.asked.key) if self.arbiter.asked else None
        settling = settling_actions(about, entry, self.who) if about else ()
        if about and settling:  # what is due shows once that has been kept, see `settled`
            self._tell(Withdraw(about.id))
            self._affirmed_entry = about
            return settling
        unsure = entry.status == "doubtful" and any(map(_affirms, entry.phrases))
        if about and unsure:  # she answered: what rests on it is not held back for another question
            self._tell(Withdraw(about.id))
        elif about and entry.status == "accepted":  # she goes on: a warning need not wait for her
            self._tell(Answering())
        tone = self._tone_of(entry, state)
        if tone:
            self._offer("sign tone" if self._is_strong_sign(entry) else "pip", tone=tone)
        silent = over_voice or (about is not None and unsure)
        marks = tuple(self._replies(entry, state, over_voice=silent))
        return (*marks, *self._decide(state))

    def undecided(self, utterance: str, derivation: Derived, at_s: float) -> tuple[Output, ...]:
        """An utterance (its id) may still be joined with what follows; only `derivation` knows of
        it. What is dangerous in it is warned of now, and is left as soon as what was heard comes
        to something else. A caution waits until then, unless the utterance is sure by itself."""
        heard = next((one for one in reversed(derivation.entries) if one.id == utterance), None)
        kinds = {"thumb off", "stop"}
        if heard is not None and heard.status == "accepted":
            kinds.add("caution")
            self._paused_s = None
        sayings = sayings_on(utterance, derivation.findings, self.spoken_s)
        self._undecided = tuple(one for one in sayings if one.kind in kinds)
        if heard is not None and any(map(_affirms, heard.phrases)):
            self._tell(Answering())  # what she confirms is not held back until that is sure
        state = self.state(at_s)
        self._stand(state)
        return self._decide(state)

    def settled(self, derivation: Derived, at_s: float) -> tuple[Output, ...]:
        """What was to be kept has been; `derivation` is of all, with it."""
        state = self._update(derivation, at_s)
        self._offer("pip", tone="accepted")
        affirmed, self._affirmed_entry = self._affirmed_entry, None
        if affirmed is not None and self._is_sure(affirmed.id):
            self._say_start(affirmed, state)
        return self._decide(state)

    def tick(self, at_s: float) -> tuple[Output, ...]:
        """Time has passed; call it a few times a second."""
        state = self.state(at_s)
        if state.pressed is not None or at_s - self._timed_s >= TIMERS_S:
            self._timed_s = at_s
            self._overdue = self._findings_by_time(state)
            self._stand(state)
        if at_s - self._ticked_s >= LISTENING_S:
            self._ticked_s = at_s
            if self.listening and _NOT_HEARING.isdisjoint(self.troubles):
                self._offer("tick", tone="listening")
        return self._decide(state)

    def speech_changed(self, speaking: bool) -> None:
        """She began to speak, or stopped: only what may not wait is said while she does, and until
        what she said is heard, TO_HEAR_S at most."""
        self._speaking = speaking
        self._paused_s = None if speaking else self.arbiter.at_s

    def device(
        self, equipment: EquipmentState, detail: str = "", *, missed_s: float = 0.0
    ) -> tuple[Output, ...]:
        """Something happened to the `equipment`; it is said at once, where something can sound.

        `detail` is a sentence to show and keep in place of the spoken words; `missed_s` is how
        much was not heard (s) before it was back, or is heard late.
        """
        self.listening |= equipment in ("listening", "one listener")
        over = _RESTORED.get(equipment)
        for one in over or ():
            self.troubles.pop(one, None)
            self._tell(Withdraw(("equipment", one)))
        spoken = spoken_device_state(equipment, missed_s)
        if over is None:
            self.troubles[equipment] = detail or spoken
        what: Literal["clock", "device"] = "clock" if equipment == "clock" else "device"
        if equipment != "earphone gone":
            kind: SayingKind = "trouble" if over is None else "news"
            self._offer(kind, spoken, key=("equipment", equipment))
        outputs = self._decide(self.state(self.arbiter.at_s))
        missed = f", {missed_s:.1f} s" if missed_s else ""
        return (*outputs, LogFieldEvent(what, detail or f"{equipment}{missed}"))

    def clear_trouble(self, state: EquipmentState) -> None:
        """It is over, and nothing is to be said of that."""
        self.troubles.pop(state, None)
        self._tell(Withdraw(("equipment", state)))

    @property
    def question(self) -> str | None:
        """What was asked and not answered yet."""
        return self.arbiter.asked.words if self.arbiter.asked else None

    # --- the arbiter -----------------------------------------------------------------------

    def _tell(self, message: ArbiterMessage) -> None:
        self.arbiter, actions = arbitrate(self.arbiter, message)
        self._doing += actions

    def _offer(
        self,
        kind: SayingKind,
        words: str = "",
        *,
        tone: ToneKind | None = None,
        key: Hashable = None,
    ) -> None:
        """Offer a saying; without a `key` it is about itself."""
        self._offered += 1
        seconds = self.spoken_s(words) if words else tone_s(tone) if tone else 0.0
        key = (kind, self._offered) if key is None else key
        self._tell(Offer(Saying(kind, key, words, seconds, tone)))

    def _decide(self, state: CurrentState) -> tuple[Output, ...]:
        """What sounds now."""
        to_hear = self._paused_s is not None and state.at_s < self._paused_s + TO_HEAR_S
        self._tell(
            Moment(
                state.at_s,
                rep=state.open_rep.id if state.open_rep else None,
                talking=self._speaking or to_hear or state.quiet,
                ended=state.session is None and state.last is not None,
                unheard="earphone gone" in self.troubles,
            )
        )
        doing, self._doing = self._doing, []
        return tuple(self._outputs(doing))

    def _outputs(self, doing: Sequence[ArbiterAction]) -> Iterator[Output]:
        for action in doing:
            match action:
                case Begin(Saying(key=key, tone=tone), words) if words:
                    self._last_words = words
                    rule = key.rule if isinstance(key, Incident) else None
                    yield SpeakWords(words, rule, tone, key)
                case Begin(Saying(key=key, tone=tone)) if tone:
                    yield PlayTone(tone, key)
                case BreakOff(key):
                    yield CancelSpeech(key)
                case _:
                    pass

    def _stand(self, state: CurrentState) -> None:
        """Tell which findings stand, where that has changed."""
        running = state.session.id if state.session else None
        pressed = state.pressed.entry if state.pressed else None
        findings = self.derivation.findings if self.derivation else ()
        stood = (findings, self._presses, self._overdue, running, pressed, self._undecided)
        if stood == self._stood:
            return
        self._stood = stood
        found = (*findings, *self._presses, *self._overdue)
        change = self._sayings.change(found, running, pressed, self._undecided)
        if change is not None:
            self._tell(change)

    # --- what follows --------------------------------------------------------------------

    def state(self, at_s: float) -> CurrentState:
        """What holds at that moment (s in the recording)."""
        if self.derivation is None:
            return CurrentState(at_s)
        return self._states.state(self.derivation, at_s)

    def _update(self, derivation: Derived, at_s: float) -> CurrentState:
        self.derivation = derivation
        state = self.state(at_s)
        self._overdue = self._findings_by_time(state)
        self._presses = self._each_press.findings(
            derivation.sessions, derivation.entries, self._history
        )
        self._stand(state)
        for key in self._questions():
            entry = self._entry(key)
            if entry is None or not is_worth_asking(entry, derivation.findings):
                self._tell(Withdraw(key))
        return state

    def _questions(self) -> list[Hashable]:
        """The keys of the questions that wait, sound, or were asked."""
        arbiter = self.arbiter
        sayings = [one.saying for one in arbiter.waiting]
        sayings += [one.saying for one in arbiter.sounding]
        sayings += [arbiter.asked] if arbiter.asked else []
        return [one.key for one in sayings if one.kind == "question"]

    def _findings_by_time(self, state: CurrentState) -> tuple[Finding, ...]:
        if state.session is None or self.troubles.keys() & {"ear gone", "slow"}:
            return ()
        return self._overdue_walk.overdue(state, self._history(state.session))

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

    def _replies(
        self, entry: Entry, state: CurrentState, *, over_voice: bool
    ) -> Iterator[LogFieldEvent]:
        """Offer what a note is answered with; what is to be kept comes out."""
        assert self.derivation is not None  # `heard` has just taken one
        asks = [phrase.say for phrase in entry.phrases if isinstance(phrase, QuestionPhrase)]
        if entry.status == "rejected":
            return
        # To answer what was hardly asked costs a few words; to ask about it would cost more.
        only_asks = bool(asks) and len(asks) == len(entry.phrases)
        answered = False
        if entry.status == "accepted" or only_asks:
            answered = self._say_start(entry, state) or bool(asks)
            for ask in asks:
                self._offer("answer", self._answer(ask, state))
        for phrase in entry.phrases if entry.status == "accepted" else ():
            match phrase:
                case AnswerPhrase(answer="roger"):
                    answered = True
                    keys = [stop.saying.key for stop in self.arbiter.stops]
                    rules = dict.fromkeys(key.rule for key in keys if isinstance(key, Incident))
                    yield from (LogFieldEvent("acknowledgement", rule) for rule in rules)
                    self._tell(Acknowledged())
                    self._offer("pip", tone="accepted")
                case AnswerPhrase(answer="affirm") if self._started_dog is not None:
                    answered = True
                    yield LogFieldEvent("acknowledgement", f"dog {self._started_dog}")
                    self._offer("pip", tone="accepted")
                    self._started_dog = None
                case AnswerPhrase(answer="negative") if self._started_dog is not None:
                    answered = True
                    self._offer("answer", SAY_WRONG_DOG)
                case SessionControlPhrase(do="end") if self.replies != "none":
                    answered = self._say_end(state) or answered
                case _:
                    pass
        if answered or over_voice or self.replies == "none" or state.quiet:
            return
        if is_worth_asking(entry, self.derivation.findings):
            self._offer("question", spoken_question(entry), key=entry.id)
        elif self.replies == "all" and state.open_rep is None and self._is_placed(entry):
            self._offer("reading", first_words(entry.reading))

    def _say_start(self, entry: Entry, state: CurrentState) -> bool:
        """Dog, collar, ceiling, what is open and skin to look at, where a sure note says which dog
        is worked now."""
        starts = any(isinstance(phrase, SessionDogPhrase) for phrase in entry.phrases)
        if not starts or not state.session:
            return False
        dog = state.session.dog
        self._started_dog = dog.name
        skin = self._history(state.session).skin
        self._offer("answer", spoken_start(dog, state.ceiling, self._matters(dog.name), skin))
        return True

    def _say_end(self, state: CurrentState) -> bool:
        """How many reps, what is asked about them in the evening, and how to end."""
        if self.derivation is None or state.last is None:
            return False
        asked = [one for session in self.derivation.sessions for one in rep_questions(session)]
        told = [
            finding
            for finding in self.derivation.findings
            if finding.rule in _WITH_COUNT and finding.session == state.last.id
        ]
        told = [finding for finding in told if not finding.struck]
        self._offer("answer", spoken_end(state.last, asked, told))
        return True

    def _entry(self, key: Hashable) -> Entry | None:
        entries = self.derivation.entries if self.derivation else ()
        return next((entry for entry in reversed(entries) if entry.id == key), None)

    def _is_sure(self, name: str) -> bool:
        assert self.derivation is not None
        entry = self._entry(name)
        return entry is not None and entry.status == "accepted"

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
            matters=self._open_matters(state.session),
        )

    def _open_matters(self, session: Session | None) -> tuple[OpenMatter, ...]:
        """What was open when this recording began, and what its sessions of that dog brought."""
        if session is None or self.derivation is None:
            return ()
        name = session.dog.name
        today = [
            matter
            for one in self.derivation.sessions
            if name_key(one.dog.name) == name_key(name)
            for matter in session_matters(one, self.derivation.findings)
        ]
        return (*self._matters(name), *open_matters(today))

    def _is_strong_sign(self, entry: Entry) -> bool:
        """Whether a note told of a strong sign."""
        assert self.derivation is not None
        signs = (phrase for phrase in entry.phrases if isinstance(phrase, SignPhrase))
        if not any(sign.class_ == "strong" for sign in signs):
            return False
        return any(
            mark.entry == entry.id and (mark.kind, mark.value) == ("sign", "strong")
            for session in self.derivation.sessions
            for mark in reversed(session.marks)
        )

    def _rep_of(self, entry: Entry) -> Rep | None:
        assert self.derivation is not None
        sessions = reversed(self.derivation.sessions)
        reps = (rep for session in sessions for rep in reversed(session.reps))
        return next((rep for rep in reps if entry.id in rep.entries), None)

    def _is_placed(self, entry: Entry) -> bool:
        assert self.derivation is not None
        return any(entry.id in reversed(session.placed) for session in self.derivation.sessions)


def _affirms(phrase: Phrase) -> bool:
    return isinstance(phrase, AnswerPhrase) and phrase.answer == "affirm"


def _pauses(phrase: Phrase) -> bool:
    return isinstance(phrase, SessionControlPhrase) and phrase.do != "end"
