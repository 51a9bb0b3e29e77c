"""What one utterance does to the reps of a session. The meaning of a rep is written here.

- A cue, a stimulus or "no button" opens a rep; an outcome closes it. While it is open,
  another level is part of its trace; after the outcome a stimulus opens the next.
- Within a breath the order is free: "came, level three, neck twitch" is one rep.
- A new cue within 10 s repeats the first; a later one closes the open rep as unknown. So does a
  breath that tells a whole rep with its cue, where no time lies between the two (typed lines
  without times): they are two calls, and how the first ended is asked. There a press that was
  told in a line of its own, before any call, is never taken into the call of a later line.
- A level after a failed outcome, in the breath of that and of the next outcome and with no other
  call, is of the same call: "here level three ignored level four came".
- In the drill "find level" each stimulus is a rep of its own, closed by a sign.
- A sign in the outcome's breath, or within 6 s after it, belongs to that rep; so does "no
  button", unless the dog is called in the same breath: then it is of that call. A rep that was
  pressed is then to be checked, and so are both where another outcome follows, since "no button"
  may have begun a second one; and where the dog is called within 6 s after it and nothing more is
  said of the button in that call. What is said of it there settles the first, where "no button"
  was nearer to its outcome than to the call, or the second was pressed.
- "Line help" within 10 s after a failed outcome mends it, and so does "came" in its breath where a
  press was said between: the rep keeps what the dog did first. "Came slow" after "came" says more
  of it; another outcome in that time is doubt.
- What is said of an open rep more than 60 s after the word before is doubt, and tells no time.
- Level zero is no press.
- "No button" and a press right after it in a breath contradict each other, and so does "no button"
  after a press in a breath that tells no outcome between them: the rep is to check.
- "Down to three" right after the dog did it, in the same breath and with no outcome after it, eases
  the dial for the next rep: no press. Right after "came" the rep is to check: "came down to three"
  may be said of the thumb.
- "Thumb off" within 30 s after it ends the press of that rep that was not said to be over.
- Outcomes and signs with no rep to belong to change nothing.
- A breath that calls another dog is doubtful as a whole: see other_dogs.py.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from voicelog.model import Entry
from voicelog.model.domain import FAILED
from voicelog.model.names import name_key
from voicelog.model.phrases import (
    CueCountPhrase,
    CuePhrase,
    LevelPhrase,
    ModePhrase,
    NotchPhrase,
    OutcomePhrase,
    RepPhrase,
    RewardPhrase,
    SignPhrase,
    ThumbOffPhrase,
    TurnedPhrase,
)
from voicelog.session.other_dogs import VoiceCall
from voicelog.session.rep_builder import RepBuilder
from voicelog.session.session_builder import SessionBuilder, is_rung

__all__ = ["add_rep_phrases", "keep_struck_reps"]

REPEATED_CUE_S = 10.0
SIGN_AFTER_S = 6.0
OFF_AFTER_S = 30.0  # a thumb that stayed on is told when it comes off; common practice, no source
REWARD_AFTER_S = 30.0  # a retrieve takes its time; common practice, no source
OUTCOME_AFTER_S = 10.0  # a line takes a moment to bring a dog in; common practice, no source
STALE_S = 60.0  # a rep that nobody spoke of for so long is over; common practice, no source

_OPENING = frozenset({"none", "vibrate", "tone", "level"})
_MORE_OF_COMPLIED = frozenset({"slow", "partial"})
_DONE = frozenset({"complied", "slow", "partial"})


def add_rep_phrases(session: SessionBuilder, entry: Entry, phrases: Sequence[RepPhrase]) -> None:
    """Take the rep phrases of one utterance (`entry`) into a session, in spoken order."""
    utterance = _UtteranceBuilder(session, entry, phrases)
    for phrase in phrases:
        utterance.take(phrase)
    utterance.finish()


def keep_struck_reps(session: SessionBuilder, entry: Entry, told: Sequence[RepPhrase]) -> None:
    """A struck entry that told a whole rep leaves it in the list, void.

    Numbers given out stay given: a later "strike rep 4" means the same rep as before.
    """
    if session.open is not None:
        return
    trial = session.trial(entry)
    add_rep_phrases(trial, entry, told)
    if trial.open is None:
        session.keep_void(trial.reps)


class _UtteranceBuilder:
    """One utterance on its way into a session.

    `held` are phrases that came before the rep they belong to was opened.
    """

    def __init__(self, session: SessionBuilder, entry: Entry, phrases: Sequence[RepPhrase]) -> None:
        self.session, self.entry = session, entry
        self.held: list[RepPhrase] = []
        self.pressed_though = _pressed_though(phrases)
        self.mending = _pressed_again(phrases)
        self.closed_here: RepBuilder | None = None
        before, self.eased = _eased(() if session.finding_level else phrases)
        self.came_down = before is not None and before.words == "came"
        self.whole = any(_opens(p) for p in phrases if p is not self.eased) and any(
            isinstance(p, OutcomePhrase) for p in phrases
        )
        self.calls = any(isinstance(phrase, CuePhrase) for phrase in phrases)
        self.reps_before = len(session.reps)
        self.late = session.open if _is_late(session.open, entry) else None
        if (self.whole and (self.late is not None or self.calls_untimed())) or (
            self.calls and self.is_untimed_press()
        ):
            session.abandon_rep()

    def take(self, phrase: RepPhrase) -> None:
        match phrase:
            case CuePhrase():
                self.cue(phrase)
            case CueCountPhrase():
                self.cue_count(phrase)
            case ModePhrase() | LevelPhrase() | NotchPhrase():
                self.stimulus(phrase)
            case ThumbOffPhrase():
                self.thumb_off()
            case TurnedPhrase():
                self.turned(phrase)
            case OutcomePhrase():
                self.outcome(phrase)
            case SignPhrase():
                self.sign(phrase)
            case RewardPhrase():
                self.reward(phrase)

    def calls_untimed(self) -> bool:
        """Whether this breath calls the dog at the very moment at which it was called before."""
        rep = self.session.open
        return self.calls and rep is not None and rep.last_cue_s == self.entry.start_s

    def is_untimed_press(self) -> bool:
        """Whether the open rep is a press without a call, told at the very moment of this breath:
        in a typed line above."""
        rep = self.session.open
        if rep is None or rep.cues or not rep.presses:
            return False
        return rep.start_s == self.entry.start_s

    def finish(self) -> None:
        """What found no rep stays unplaced, but a strong sign is still a sign."""
        for phrase in self.held:
            if isinstance(phrase, SignPhrase):
                self.session.mark(self.entry, "sign", phrase.sign, phrase.class_)

    def place(self, rep: RepBuilder | None = None) -> None:
        self.session.place(self.entry)
        if rep is not None:
            rep.add_entry(self.entry)
            if rep is self.late:
                rep.doubt("late")
            if rep is self.session.open:
                rep.extend(self.entry)

    def opened(self) -> RepBuilder:
        """Open a rep and give it what this breath had said of it already."""
        rep = self.session.open_rep(self.entry)
        self.place(rep)
        return rep

    def add_held_phrases(self) -> None:
        held, self.held = self.held, []
        for phrase in sorted(held, key=lambda phrase: isinstance(phrase, OutcomePhrase)):
            self.take(phrase)

    # --- opening -------------------------------------------------------------------------

    def cue(self, phrase: CuePhrase) -> None:
        session, now = self.session, self.entry.start_s
        if phrase.cue_by == "voice":
            session.add_call(self.entry, VoiceCall(phrase.dog, phrase.cue))
        if phrase.dog is not None and name_key(phrase.dog) != name_key(session.dog.name):
            return
        if phrase.cue_by == "voice" and phrase.cue not in session.dog.cues:
            return
        rep = session.open
        if rep is None:
            rep = self.closed_without_cue()
        else:
            last = rep.last_cue_s if rep.last_cue_s is not None else rep.start_s
            if now - last > REPEATED_CUE_S:
                session.abandon_rep()
                rep = None
        self.give_cue(rep, phrase)

    def cue_count(self, phrase: CueCountPhrase) -> None:
        """How often the dog was called; said soon after the outcome, it is of that rep. More calls
        heard than said stand: "first call" never takes one back."""
        rep = self.session.open or (self.closed_here if self.whole else self.recently_closed())
        self.give_cue(rep, phrase)

    def give_cue(self, rep: RepBuilder | None, phrase: CuePhrase | CueCountPhrase) -> None:
        if rep is None:
            rep = self.opened()
        self.session.give_cue(rep, self.entry, phrase)
        self.place(rep)
        self.add_held_phrases()

    def closed_without_cue(self) -> RepBuilder | None:
        """The rep that this breath told whole, where its cue is said after the outcome."""
        closed = self.closed_here
        if closed is None or closed.cues or closed not in self.session.reps[self.reps_before :]:
            return None
        return closed

    def stimulus(self, phrase: ModePhrase | LevelPhrase | NotchPhrase) -> None:
        session, entry, do = self.session, self.entry, phrase.do
        if phrase is self.eased:
            self.ease(phrase)
            return
        if isinstance(phrase, LevelPhrase) and (
            do == "dial" or (do == "back" and session.open is None)
        ):
            session.dial(entry, phrase.level)
            self.place()
            return
        mode, level = session.mode_and_level(session.open, phrase)
        if mode is None:
            return
        if do == "none" and (after := self.left_after_outcome()) is not None:
            session.leave_button_after(after, entry)
            self.place(after)
            return
        if level == 0 and session.finding_level:
            session.dial(entry, level)
            self.place()
            return
        rep = self.rep_for_stimulus(phrase)
        rep.end_press(entry.start_s, entry.id)
        if do == "none":
            session.leave_button(rep)
        elif level == 0:
            session.dial(entry, level)
        else:
            session.press_now(rep, entry, mode, level, rung=is_rung(phrase))
        if phrase is self.pressed_though or (do == "none" and rep.presses):
            rep.doubt("button")
        rep.extend(entry)
        self.place(rep)
        self.add_held_phrases()

    def ease(self, phrase: LevelPhrase) -> None:
        """The dial is set lower for the next rep; whether the dog came is then not sure where the
        words may be of the thumb."""
        self.session.dial(self.entry, phrase.level)
        if self.closed_here is not None and self.came_down:
            self.closed_here.doubt("missed")
        self.place()

    def rep_for_stimulus(self, phrase: ModePhrase | LevelPhrase | NotchPhrase) -> RepBuilder:
        """The rep that a stimulus belongs to: the open one, one told in this breath, or a new."""
        session, do = self.session, phrase.do
        rep = session.open
        if rep is not None:
            if session.finding_level and rep.has_stimulus:
                session.close_rep(self.entry, None)
                return self.opened()
            pressed = rep.presses[-1].entry if rep.presses else self.entry.id
            if rep is self.late or (do == "none" and pressed != self.entry.id):
                session.abandon_rep()
                return self.opened()
            return rep
        closed = self.closed_here
        if closed is not None and do in _OPENING and not closed.has_stimulus:
            return closed
        if closed is not None and do != "none" and closed.is_pressed_since:
            return closed  # "ignored level three, nothing, level four, came" is one call
        if closed is not None and self.is_pressed_again(closed, phrase):
            return closed  # and so is "here level three, ignored, level four, came"
        return self.opened()

    def is_pressed_again(
        self, closed: RepBuilder, phrase: ModePhrase | LevelPhrase | NotchPhrase
    ) -> bool:
        """Whether this press goes on with the call of a rep that was pressed, and failed."""
        called = closed.cues and closed.presses and not closed.no_button
        return bool(called) and any(phrase is one for one in self.mending)

    def left_after_outcome(self) -> RepBuilder | None:
        """The rep with an outcome that "no button" is said of, unless that was said of it before:
        said of it again, it opens the next."""
        if self.session.open is not None or (self.whole and self.closed_here is None):
            return None
        if self.calls and self.closed_here is None:
            return None
        rep = self.recently_closed()
        if rep is None or rep.no_button:
            return None
        return rep if rep.presses or self.closed_here is None else None

    def thumb_off(self) -> None:
        session, entry = self.session, self.entry
        rep = session.open or self.recently_closed() or self.still_pressed()
        if rep is None or not rep.presses:
            return
        if rep is not self.late:
            rep.end_press(entry.start_s, entry.id)
        session.mark(entry, "off", "off", None, rep)
        self.place(rep)

    def still_pressed(self) -> RepBuilder | None:
        """The last rep with an outcome, where its press was not said to be over."""
        closed = self.session.closed
        if closed is None or not closed.is_pressed:
            return None
        return closed if self.entry.start_s - closed.end_s <= OFF_AFTER_S else None

    # --- closing -------------------------------------------------------------------------

    def outcome(self, phrase: OutcomePhrase) -> None:
        session, closed = self.session, self.session.closed
        if session.open is not None:
            self.closed_here = session.open
            session.close_rep(self.entry, phrase, timed=session.open is not self.late)
            self.place(self.closed_here)
        elif self.closed_here is not None:
            self.second_outcome(self.closed_here, phrase)
        elif self.whole or closed is None:
            self.held.append(phrase)
        elif session.left_after is closed:
            self.outcome_of_another(closed, phrase)
        elif self.may_be_said_of(closed, phrase):
            self.second_outcome(closed, phrase)
            self.place(closed)
            closed.extend(self.entry)
        else:
            self.held.append(phrase)

    def second_outcome(self, rep: RepBuilder, phrase: OutcomePhrase) -> None:
        """A failed rep that the line finished was helped, one that was pressed since and came did
        so after it had failed, and one that complied may have done so slowly; any other second word
        is doubt."""
        if rep.outcome == phrase.outcome:
            return
        if rep.outcome == "complied" and phrase.outcome in _MORE_OF_COMPLIED:
            rep.refine(phrase.outcome)
        else:
            mended = phrase.outcome == "helped" or (
                phrase.outcome in _DONE and rep.is_pressed_since
            )
            if rep.outcome in FAILED and mended:
                rep.fail_first(rep.outcome)
            elif rep.outcome is not None:
                rep.doubt("outcomes")
            rep.end(self.entry, phrase)
        self.session.mark_outcome(self.entry, phrase, rep)

    def may_be_said_of(self, rep: RepBuilder, phrase: OutcomePhrase) -> bool:
        """Whether an outcome in a breath of its own is another word on how a rep ended."""
        soon = self.entry.start_s - rep.end_s <= OUTCOME_AFTER_S
        return soon and not rep.void and rep.outcome not in (None, "unknown", phrase.outcome)

    def outcome_of_another(self, before: RepBuilder, phrase: OutcomePhrase) -> None:
        """The "no button" that was taken to be of the rep before may have begun this one."""
        if self.entry.start_s - before.end_s > STALE_S:
            self.held.append(phrase)
            return
        rep = self.opened()
        rep.leave_button()
        self.outcome(phrase)
        for one in (before, rep):
            one.share_button()
            one.doubt("two reps")

    def turned(self, phrase: TurnedPhrase) -> None:
        rep = self.session.open or self.closed_here
        if rep is None:
            self.held.append(phrase)
            return
        rep.turn(self.entry, timed=rep is not self.late)
        self.session.mark(self.entry, "turned", phrase.turned, None, rep)
        self.place(rep)

    def sign(self, phrase: SignPhrase) -> None:
        session = self.session
        rep = session.open or self.closed_here
        if rep is None and not self.whole:
            rep = self.recently_closed()
        if rep is None:
            self.held.append(phrase)
            return
        session.add_sign(rep, self.entry, phrase)
        self.place(rep)
        if session.open is rep and rep.drill == "find level" and rep.has_stimulus:
            session.close_rep(self.entry, None)
            self.closed_here = rep

    def reward(self, phrase: RewardPhrase) -> None:
        session = self.session
        rep = session.open or self.closed_here
        if rep is None and not self.whole and session.closed is not None:
            recent = self.entry.start_s - session.closed.end_s <= REWARD_AFTER_S
            rep = session.closed if recent else None
        if rep is None:
            self.held.append(phrase)
            return
        session.add_reward(rep, self.entry, phrase)
        self.place(rep)

    def recently_closed(self) -> RepBuilder | None:
        """The rep whose outcome was said in this breath or at most 6 s before it."""
        closed = self.session.closed
        if self.closed_here is not None:
            return self.closed_here
        if closed is not None and self.entry.start_s - closed.end_s <= SIGN_AFTER_S:
            return closed
        return None


def _is_late(rep: RepBuilder | None, entry: Entry) -> bool:
    return rep is not None and entry.start_s - rep.end_s > STALE_S


def _opens(phrase: RepPhrase) -> bool:
    match phrase:
        case CuePhrase() | ModePhrase() | NotchPhrase():
            return True
        case LevelPhrase():
            return phrase.do in ("level", "up", "down")
        case _:
            return False


def _pressed_though(phrases: Sequence[RepPhrase]) -> RepPhrase | None:
    """The press of a breath right before which "no button" is said."""
    return next(
        (
            press
            for none, press in pairwise(phrases)
            if isinstance(none, ModePhrase) and none.do == "none" and _presses(press)
        ),
        None,
    )


def _pressed_again(phrases: Sequence[RepPhrase]) -> tuple[RepPhrase, ...]:
    """The presses of a breath that each come first after a failed outcome, where it is said how
    the dog did then and it was not called in between."""
    outcomes = [(at, one) for at, one in enumerate(phrases) if isinstance(one, OutcomePhrase)]
    found = []
    for (start, failed), (end, then) in pairwise(outcomes):
        between = phrases[start + 1 : end]
        other_failure = then.outcome in FAILED and then.outcome != failed.outcome
        called = any(isinstance(one, CuePhrase) for one in between)
        if failed.outcome in FAILED and not (other_failure or called):
            found += [one for one in between if _presses(one)][:1]
    return tuple(found)


def _presses(phrase: RepPhrase) -> bool:
    match phrase:
        case LevelPhrase(level=0):
            return False
        case ModePhrase() | LevelPhrase():
            return phrase.do in ("vibrate", "tone", "level", "up")
        case _:
            return isinstance(phrase, NotchPhrase)


def _eased(
    phrases: Sequence[RepPhrase],
) -> tuple[OutcomePhrase | None, LevelPhrase | None]:
    """ "Down to N" right after the last outcome of a breath, one that the dog did, and that
    outcome."""
    outcomes = [place for place, one in enumerate(phrases) if isinstance(one, OutcomePhrase)]
    if not outcomes:
        return None, None
    before = phrases[outcomes[-1]]
    following = phrases[outcomes[-1] + 1 : outcomes[-1] + 2]
    after = following[0] if following else None
    if not isinstance(before, OutcomePhrase) or before.outcome not in _DONE:
        return None, None
    if isinstance(after, LevelPhrase) and after.do == "down":
        return before, after
    return None, None
