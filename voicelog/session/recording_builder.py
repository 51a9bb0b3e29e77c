"""Entries in order of time: sessions begin and end, the rest goes to the session it falls in.

One entry is taken at a time and looks only back, so building from a prefix and going on is the
same as building from all of them.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from copy import copy
from dataclasses import dataclass, field

from voicelog.grammar.strange_names import StrangeBegin, begun_by_name
from voicelog.model import Dog, Entry, Phrase, Roster, Session
from voicelog.model.phrases import (
    ConditionPhrase,
    EditPhrase,
    EquipmentPhrase,
    HandlerPhrase,
    RepPhrase,
    SessionControlPhrase,
    SessionDogPhrase,
    SessionPhrase,
    StrikeRepPhrase,
)
from voicelog.session.corrections import correct_rep
from voicelog.session.entries import is_strike
from voicelog.session.kept_states import KeptStates
from voicelog.session.other_dogs import dogs_named_in
from voicelog.session.session_builder import SessionBuilder, ToldReps
from voicelog.session.utterance_builder import add_rep_phrases, keep_struck_reps

__all__ = ["BegunByStranger", "SessionsWalk", "no_stranger"]

NOTE_PROBABILITY_THRESHOLD = 0.05
"""How likely a rejected sound must be a note for the rep that it fell in to be incomplete."""
BegunByStranger = Callable[[str], StrangeBegin | None]
"""What words that were not understood do to the session by a name that is not known."""
MEMO_S = 120.0  # a memo whose end was not heard ends by itself


def no_stranger(_words: str) -> None:
    """Names that are not known are not looked for."""


class SessionsWalk:
    """Builds the sessions of a recording's entries, each time there are more of them.

    `wore` names the dogs that had a collar earlier that day, as their profiles spell them: with
    one, as with a profile that has one, a call is not known to be without the button until that,
    or that there is no collar, is said. `dog` is worked while no session was started by voice.
    Without `include_doubtful`, doubtful entries are passed over; without `apply_corrections`,
    strikes and corrections are, as if nothing had been taken back. `even` is that of `KeptStates`.
    Where `by_stranger` says that
    words begin the work of a dog that is not known, what follows is of no known dog. `told` is what
    is known of reps and marks already, of this walk alone.
    """

    def __init__(
        self,
        roster: Roster,
        *,
        dog: str | None = None,
        temperature_unit: str = "C",
        include_doubtful: bool = True,
        apply_corrections: bool = True,
        even: int | None = None,
        by_stranger: BegunByStranger = no_stranger,
        told: ToldReps | None = None,
    ) -> None:
        told = told or ToldReps()
        self._kept = KeptStates(
            lambda: _RecordingBuilder(
                roster,
                dog,
                temperature_unit,
                include_doubtful,
                apply_corrections,
                told,
                by_stranger,
            ),
            _RecordingBuilder.copied,
            even=even,
        )
        self.has_doubt = self.has_corrections = self.ended = False

    def sessions(self, entries: Sequence[Entry], wore: Collection[str] = ()) -> tuple[Session, ...]:
        """Sessions in the order in which they began. `entries` are in order of time; whether any
        is doubtful, or takes back or corrects another, is then in `has_doubt` and
        `has_corrections`, and whether the last session was ended in `ended`."""
        recording = self._kept.resume(entries)
        later = self._kept.later(entries)
        places = {place: number for number, (place, _) in enumerate(later[:-1])}
        for entry in entries[recording.taken :]:
            stood = places.get(recording.taken)
            if stood is not None and (whole := self._joined(recording, later[stood:], entries)):
                recording = whole
                break
            if self._kept.is_due(recording.taken):
                self._kept.keep_on_the_way(recording, entries[: recording.taken])
            recording.take(entry)
        built = _built(recording.sessions, recording.roster, set(wore))
        self.has_doubt, self.has_corrections = recording.has_doubt, recording.has_corrections
        self.ended = recording.ended
        self._kept.keep(recording, entries)
        return built

    def _joined(
        self,
        recording: _RecordingBuilder,
        later: Sequence[tuple[int, _RecordingBuilder]],
        entries: Sequence[Entry],
    ) -> _RecordingBuilder | None:
        """What `recording` comes to by all that follows, where it stands as the first of the
        `later` states of before did: then what those came to holds on. None where it does not."""
        (_, then), *others = later
        if not recording.stands_as(then):
            return None
        *between, (end, last) = others
        whole = recording.with_tail(then, last, entries[recording.taken : end])
        if whole is not None:
            made = [
                (place, recording.with_tail(then, state, entries[recording.taken : place], whole))
                for place, state in between
            ]
            kept = [(place, state) for place, state in made if state is not None]
            self._kept.take_over(kept, entries)
        return whole


def _built(
    sessions: Sequence[SessionBuilder], roster: Roster, wore: set[str]
) -> tuple[Session, ...]:
    """The sessions; what one tells of a dog's collar holds in those that it has after it."""
    built = []
    for session in sessions:
        built.append(session.build(roster, wore=session.dog.name in wore))
        if session.tells_of_collar:
            wore.add(session.dog.name)
    return tuple(built)


class _RecordingBuilder:
    """The sessions of a recording so far; `session` is the last that began."""

    def __init__(
        self,
        roster: Roster,
        dog: str | None,
        temperature_unit: str,
        include_doubtful: bool,
        apply_corrections: bool,
        told: ToldReps,
        by_stranger: BegunByStranger,
    ) -> None:
        self.told = told
        self.roster, self.dog, self.temperature_unit = roster, dog, temperature_unit
        self.include_doubtful, self.apply_corrections = include_doubtful, apply_corrections
        self.by_stranger = by_stranger
        self.sessions: list[SessionBuilder] = []
        self.session: SessionBuilder | None = None
        self.ended = False
        self.paused = False
        self.memo_since: float | None = None
        self.taken = 0
        self.has_doubt = self.has_corrections = False

    def copied(self) -> _RecordingBuilder:
        """The same, to go on with beside this one."""
        twin = copy(self)
        twin.go_on_with([session.copied() for session in self.sessions])
        return twin

    def go_on_with(self, sessions: list[SessionBuilder]) -> None:
        """Go on with these in place of the same ones."""
        pairs = zip(self.sessions, sessions, strict=True)
        self.session = next((new for old, new in pairs if old is self.session), None)
        self.sessions = sessions

    def stands_as(self, then: _RecordingBuilder) -> bool:
        """Whether the same entries do the same to both from here on, but for those that speak of
        what lies further back (`with_tail` sees to those)."""
        if (self.ended, self.paused, self.memo_since) != (then.ended, then.paused, then.memo_since):
            return False
        mine, theirs = self.sessions, then.sessions
        if [(one.id, one.dog) for one in mine] != [(one.id, one.dog) for one in theirs]:
            return False
        if self.session is None or then.session is None:
            return self.session is then.session
        last = self.session is mine[-1] and then.session is theirs[-1]
        return last and self.session.stands_as(then.session)

    def with_tail(
        self,
        then: _RecordingBuilder,
        later: _RecordingBuilder,
        tail: Sequence[Entry],
        whole: _RecordingBuilder | None = None,
    ) -> _RecordingBuilder | None:
        """What this comes to by the entries of the `tail`, where it `stands_as` the state `then`,
        which came to `later` by them; None where that cannot be told without taking them. `whole`
        is what it comes to by these and more, where that is known. `later` is used up, and so is
        this once it has come to anything."""
        many = len(self.sessions)
        if [one.id for one in then.sessions] != [one.id for one in later.sessions[:many]]:
            return None
        if whole is None and not self._tail_aims_at_none_of(then, later, tail):
            return None
        sessions = [session.copied() for session in self.sessions[:-1]]
        if self.session is not None and then.session is not None:
            known = whole.sessions[many - 1] if whole is not None else None
            joined = self.session.with_tail(then.session, later.sessions[many - 1], known)
            if joined is None:
                return None
            sessions.append(joined)
        made = copy(self)
        made.end_as(later, [*sessions, *later.sessions[many:]], tail)
        return made

    def _tail_aims_at_none_of(
        self, then: _RecordingBuilder, later: _RecordingBuilder, tail: Sequence[Entry]
    ) -> bool:
        """Whether no entry of the tail is about a rep of here or of then, or of a dog that a person
        chose among several."""
        aims = {entry.target for entry in tail if entry.target is not None}
        reps = (rep for one in (*self.sessions, *then.sessions) for rep in one.reps)
        if aims and any(rep.id in aims for rep in reps):
            return False
        return len(later.sessions) == 1 or all(entry.dog is None for entry in tail)

    def end_as(
        self, later: _RecordingBuilder, sessions: list[SessionBuilder], tail: Sequence[Entry]
    ) -> None:
        """It has come to these `sessions` by the entries of the `tail`, and stands as `later`."""
        self.sessions = sessions
        self.session = sessions[-1] if sessions else None
        self.ended, self.paused, self.memo_since = later.ended, later.paused, later.memo_since
        self.taken += len(tail)
        self.has_doubt = self.has_doubt or (
            later.has_doubt and any(entry.status == "doubtful" for entry in tail)
        )
        self.has_corrections = self.has_corrections or (
            later.has_corrections and any(entry.voided or bool(entry.target) for entry in tail)
        )

    def take(self, entry: Entry) -> None:
        """The next entry; it falls in the session that is under way, or begins one, unless a person
        says of which it is."""
        self.taken += 1
        self.has_doubt |= entry.status == "doubtful"
        self.has_corrections |= entry.voided or bool(entry.target)
        before = self.session
        self.take_phrases(entry)
        by_person = entry.dog is not None or entry.by == "person"
        for session in self.sessions if by_person else (before, self.session):
            if session is not None:
                session.make_anew()

    def take_phrases(self, entry: Entry) -> None:
        doubtful = entry.status == "doubtful"
        said = entry.status == "accepted" or (doubtful and self.include_doubtful)
        if not said or not entry.phrases:
            self.pass_over(entry)
            return
        if entry.voided and self.apply_corrections:
            self.struck(entry, entry.phrases)
            return
        phrases = entry.phrases
        if entry.target == entry.id and self.apply_corrections:
            last = max((i for i, phrase in enumerate(phrases) if is_strike(phrase)), default=-1)
            self.struck(entry, phrases[:last])
            phrases = phrases[last + 1 :]
        parts = _UtteranceParts()
        for phrase in phrases:
            if isinstance(phrase, SessionPhrase):
                self.place_parts(entry, parts)
                parts = _UtteranceParts()
                self.take_session_phrase(entry, phrase)
            elif self.silent(entry, phrase):
                continue
            elif isinstance(phrase, RepPhrase):
                parts.tell(phrase)
            elif isinstance(phrase, EquipmentPhrase) and parts.told and phrase.collar != "none":
                parts.do_then(phrase)
            elif isinstance(phrase, EditPhrase) and phrase.do == "correct":
                parts.begin_correction()
            else:
                self.other(entry, phrase)
        self.place_parts(entry, parts)
        if self.session is not None:
            self.include(self.session, entry)

    def pass_over(self, entry: Entry) -> None:
        """What was not understood does nothing, but may hide a word of the open rep or a dog, and
        a name that is not known may be of whom is worked from here on."""
        if entry.status == "rejected" and not entry.voided:
            self.take_stranger(entry, self.by_stranger(entry.heard))
        elif entry.status == "doubtful" and entry.stranger and not entry.voided:
            for phrase in entry.phrases:
                self.take_stranger(entry, begun_by_name(phrase))
        session = self.session
        if session is None:
            return
        self.include(session, entry)
        missed = entry.status == "rejected" and entry.confidence >= NOTE_PROBABILITY_THRESHOLD
        if missed:
            session.doubt_open_rep()
        if missed or not entry.phrases:
            calls = dogs_named_in(entry.reading or entry.heard, self.roster)
            if calls:
                session.set_calls(entry, calls)

    def take_stranger(self, entry: Entry, begins: StrangeBegin | None) -> None:
        """Nothing that follows a name that is not known is of whoever was there before."""
        match begins:
            case "start":
                self.memo_since = None
                self.start(entry, NO_DOG, of_stranger=True)
            case "wrong dog" if (session := self.current(entry)) is not None:
                session.change_dog(NO_DOG, of_stranger=True)
                session.place(entry)
            case "handler" if (session := self.current(entry)) is not None:
                session.forget_handler(entry)
            case _:
                pass

    def place_parts(self, entry: Entry, parts: _UtteranceParts) -> None:
        self.add_reps(entry, parts.told)
        if parts.mended is not None:
            self.correct(entry, parts.mended)
        for phrase in parts.after:
            self.other(entry, phrase)

    def struck(self, entry: Entry, phrases: Sequence[Phrase]) -> None:
        """Struck words did nothing; only the whole rep that they told stays, void."""
        memo_since = self.memo_since
        told = [p for p in phrases if not self.silent(entry, p) and isinstance(p, RepPhrase)]
        self.memo_since = memo_since  # a struck "memo" begins none
        session = self.session_of(entry) if told else self.session
        if session is not None:
            self.include(session, entry)
            keep_struck_reps(session, entry, told)

    def include(self, session: SessionBuilder, entry: Entry) -> None:
        if not self.ended or entry.id in session.placed:
            session.include(entry)

    def silent(self, entry: Entry, phrase: Phrase) -> bool:
        """Whether the log is paused, or this is part of a memo; a memo begins and ends here."""
        if self.memo_since is not None and entry.start_s - self.memo_since > MEMO_S:
            self.memo_since = None
        edit = phrase.do if isinstance(phrase, EditPhrase) else None
        if edit == "end memo":
            self.memo_since = None
        elif self.memo_since is None and not self.paused:
            if edit == "memo":
                self.memo_since = entry.start_s
            return False
        return self.paused or self.memo_since is not None

    # --- sessions ------------------------------------------------------------------------

    def take_session_phrase(self, entry: Entry, phrase: SessionPhrase) -> None:
        do = phrase.do
        self.memo_since = None
        if do == "pause":
            self.paused = True
        elif do == "resume":
            self.paused = False
        if self.paused and do not in ("start", "next", "end"):
            return
        match phrase:
            case SessionDogPhrase(do="start" | "next"):
                self.start(entry, self.profile(phrase.dog))
            case SessionDogPhrase():
                if (session := self.current(entry)) is not None:
                    session.change_dog(self.profile(phrase.dog))
                    session.place(entry)
            case HandlerPhrase():
                if (session := self.current(entry)) is not None:
                    session.set_conditions(entry, phrase)
            case SessionControlPhrase(do="end") if self.session is not None:
                self.session.settle_rep()
                self.session.place(entry)
                self.session.include(entry)
                self.ended, self.paused = True, False
            case SessionControlPhrase():
                pass

    def start(self, entry: Entry, dog: Dog, *, of_stranger: bool = False) -> None:
        previous = self.session
        unstarted = (
            previous is not None
            and previous.dog.name == ""
            and not previous.of_stranger
            and not previous.reps
        )
        session = self.new_session(entry, dog, of_stranger=of_stranger)
        if previous is not None:
            previous.settle_rep()
            if (
                entry.id in previous.placed
            ):  # one utterance may end one dog's work and begin another's
                self.include(previous, entry)
            if unstarted:
                self.sessions = [one for one in self.sessions if one is not previous]
                session.take_over(previous)
            else:
                session.carry_over(previous.conditions, entry.start_s)
        session.place(entry)
        self.ended, self.paused = False, False

    def new_session(self, entry: Entry, dog: Dog, *, of_stranger: bool = False) -> SessionBuilder:
        begun_here = sum(session.id.startswith(f"{entry.id}.s") for session in self.sessions)
        self.session = SessionBuilder(
            id=f"{entry.id}.s{begun_here + 1}" if begun_here else f"{entry.id}.s",
            recording=entry.recording,
            dog=dog,
            start_s=entry.start_s,
            end_s=entry.end_s,
            temperature_unit=self.temperature_unit,
            told=self.told,
            of_stranger=of_stranger,
        )
        self.sessions.append(self.session)
        return self.session

    def profile(self, name: str) -> Dog:
        return self.roster.dog(name) or Dog(name=name)

    def current(self, entry: Entry) -> SessionBuilder | None:
        """The session that an entry falls in; the first word of any begins one."""
        if self.ended:
            return None
        if self.session is None:
            return self.new_session(entry, self.profile(self.dog) if self.dog else NO_DOG)
        return self.session

    # --- what is said in a session -------------------------------------------------------

    def add_reps(self, entry: Entry, told: list[RepPhrase]) -> None:
        session = self.session_of(entry) if told else None
        if session is not None:
            add_rep_phrases(session, entry, told)
            if self.session is not None and session is not self.session:
                session.adopt(entry)
                if (calls := session.calls.get(entry.id)) is not None:
                    self.session.set_calls(entry, calls)  # its neighbours were not moved with it

    def session_of(self, entry: Entry) -> SessionBuilder | None:
        """The session of the dog that a person moved the entry to, else the current one."""
        session = self.current(entry)
        if entry.dog is None or (session is not None and session.dog.name == entry.dog):
            return session
        return next((one for one in reversed(self.sessions) if one.dog.name == entry.dog), session)

    def other(self, entry: Entry, phrase: Phrase) -> None:
        session = self.current(entry)
        if session is None:
            return
        if isinstance(phrase, EquipmentPhrase | ConditionPhrase):
            session.set_conditions(entry, phrase)
            return
        session.place(entry)
        match phrase:
            case EditPhrase(do="flag") if entry.target is not None:
                session.flag(entry.target)
            case EditPhrase(do="strike") if entry.status == "doubtful":
                session.doubt_rep()
            case StrikeRepPhrase() if entry.status == "doubtful":
                session.doubt_rep(phrase.rep)
            case StrikeRepPhrase() if self.apply_corrections:
                session.strike_rep(entry.target)
            case _:
                pass

    def session_with(self, rep_id: str | None) -> SessionBuilder | None:
        return next((s for s in self.sessions if any(r.id == rep_id for r in s.reps)), None)

    def correct(self, entry: Entry, mended: list[RepPhrase]) -> None:
        """ "correction ..." speaks of the rep it was aimed at, with the rest of its utterance."""
        if entry.by == "person" and (owner := self.session_with(entry.target)) is not None:
            session: SessionBuilder | None = owner  # said in the evening: its session may be over
            owner.adopt(entry)
        else:
            session = self.current(entry)
        if session is None:
            return
        if entry.status == "doubtful":
            session.doubt_rep()
            return
        rep = next((rep for rep in reversed(session.reps) if rep.id == entry.target), None)
        if rep is None:
            return
        session.place(entry)
        if self.apply_corrections:
            correct_rep(session, session.own(rep), entry, mended)


@dataclass(slots=True)
class _UtteranceParts:
    """An utterance sorted: what it tells, what it corrects, what it does to the collar then.
    "No collar" does nothing to one: it holds for all of its breath."""

    told: list[RepPhrase] = field(default_factory=list)
    mended: list[RepPhrase] | None = None
    after: list[EquipmentPhrase] = field(default_factory=list)

    def tell(self, phrase: RepPhrase) -> None:
        """It tells of a rep, or corrects one where a correction has begun."""
        (self.told if self.mended is None else self.mended).append(phrase)

    def begin_correction(self) -> None:
        """What follows corrects a rep."""
        self.mended = self.mended or []

    def do_then(self, phrase: EquipmentPhrase) -> None:
        """It is done to the collar after the rep that was told."""
        self.after.append(phrase)


NO_DOG = Dog(name="")
"""Worked before any dog was named."""
