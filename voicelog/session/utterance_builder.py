"""What one breath does to the reps of a session. The meaning of a rep is written here.

- A cue, a stimulus or "no button" opens a rep; an outcome closes it. While it is open,
  another level is part of its trace; after the outcome a stimulus opens the next.
- Within a breath the order is free: "came, level three, neck twitch" is one rep.
- A new cue within 10 s repeats the first; a later one closes the open rep as unknown.
- In the drill "find level" each stimulus is a rep of its own, closed by a sign.
- A sign in the outcome's breath, or within 6 s after it, belongs to that rep.
- Outcomes and signs with no rep to belong to change nothing.
- A breath that calls another dog is doubtful as a whole: see whose.py.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from voicelog.model import Entry, Mark, Mode, Outcome, SignMark
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
from voicelog.session.rep_builder import Press, RepBuilder
from voicelog.session.session_builder import SessionBuilder

__all__ = ["add_rep_phrases", "correct_rep"]

REPEATED_CUE_S = 10.0
SIGN_AFTER_S = 6.0
REWARD_AFTER_S = 30.0  # a retrieve takes its time; common practice, no source
STALE_S = 60.0  # a rep that nobody spoke of for so long is over; common practice, no source

_OPENING = frozenset({"none", "vibrate", "tone", "level"})
_MENDED_BY_LINE = frozenset({"ignored", "left", "broke"})


def add_rep_phrases(book: SessionBuilder, entry: Entry, phrases: Sequence[RepPhrase]) -> None:
    """Take the rep phrases of one breath, in spoken order."""
    breath = _UtteranceBuilder(book, entry, phrases)
    for phrase in phrases:
        breath.take(phrase)
    breath.finish()


def correct_rep(
    book: SessionBuilder, draft: RepBuilder, entry: Entry, phrases: Sequence[RepPhrase]
) -> None:
    """Correct a rep: what the phrases speak of replaces what it held of that kind.

    Times stay those of the words corrected: when a cue or a press was is not said again. So
    a new mark has the place and the time of the first that it replaces; a press where none
    was is as old as its rep; anything else that was not said before is as new as this.
    """
    phrases = [phrase for phrase in phrases if _corrects(phrase)]
    kinds = {phrase.kind for phrase in phrases}
    first_press = draft.presses[0].at_s if draft.presses else draft.start_s
    first_sign = draft.signs[0].at_s if draft.signs else entry.start_s
    cued = draft.cue_at, draft.last_cue_s
    if "cue" in kinds:
        if any(isinstance(phrase, CuePhrase) for phrase in phrases):
            draft.cue, draft.cue_by = None, None
        draft.cues = 0
    if "stimulus" in kinds:
        draft.presses, draft.no_button = [], False
    if "sign" in kinds:
        draft.signs = []
    if "reward" in kinds:
        draft.rewards = []
    before = len(book.marks)
    for phrase in phrases:
        _correct_phrase(book, draft, entry, phrase, first_press)
    draft.cue_at, draft.last_cue_s = cued
    new: dict[str, float | None] = {"at_s": first_sign} if "sign" in kinds else {}
    new |= {"level": draft.level} if "stimulus" in kinds else {}
    draft.signs = [mark.model_copy(update=new) for mark in draft.signs]
    added = book.marks[before:]
    book.marks = _replaced(book.marks[:before], draft, kinds, added)
    draft.entries[entry.id] = None


def _replaced(
    marks: Sequence[Mark], draft: RepBuilder, kinds: Collection[str], added: Sequence[Mark]
) -> list[Mark]:
    """The marks with a rep's own of these kinds given up for those added."""
    gone = {"press", "off"} if "stimulus" in kinds else set()
    gone |= {"cue", "outcome", "sign", "reward"}.intersection(kinds)
    own = [(place, mark) for place, mark in enumerate(marks) if mark.rep == draft.number]
    placed: list[tuple[float, Mark]] = [
        (place, mark)
        for place, mark in enumerate(marks)
        if mark.rep != draft.number or mark.kind not in gone
    ]
    for mark in added:
        first = next((old for old in own if old[1].kind == mark.kind), None)
        at: tuple[float, float] = (len(marks), mark.at_s)
        if first is not None:
            at = (first[0], first[1].at_s)
        elif mark.kind == "press":
            after_cue = next((place for place, old in own if old.kind != "cue"), len(marks))
            at = (after_cue - 0.5, draft.start_s)
        placed.append((at[0], mark.model_copy(update={"at_s": at[1]})))
    return [mark for _, mark in sorted(placed, key=lambda one: one[0])]


def _correct_phrase(
    book: SessionBuilder, draft: RepBuilder, entry: Entry, phrase: RepPhrase, first_press: float
) -> None:
    match phrase:
        case CuePhrase() | CueCountPhrase():
            _give_cue(book, draft, entry, phrase)
        case ModePhrase() | LevelPhrase() | NotchPhrase():
            mode, level = _stimulus(book, draft, phrase)
            if mode == "none":
                draft.no_button = True
            elif mode is not None:
                draft.presses.append(Press(first_press, entry.id, mode, level))
                book.mark(entry, "press", mode, level, draft)
                if level is not None and draft is book.drafts[-1]:
                    book.current_level = level
        case OutcomePhrase():
            draft.outcome = phrase.outcome
            book.mark(entry, "outcome", draft.outcome, phrase.word, draft)
            draft.doubtful = False
            if draft is book.open:
                book.open, book.closed, book.closed_by = None, draft, entry.id
        case SignPhrase():
            _add_sign(book, draft, entry, phrase)
        case RewardPhrase():
            _add_reward(book, draft, entry, phrase)
        case _:
            pass


class _UtteranceBuilder:
    """One utterance on its way into the book.

    `held` are phrases that came before the rep they belong to was opened.
    """

    def __init__(self, book: SessionBuilder, entry: Entry, phrases: Sequence[RepPhrase]) -> None:
        self.book, self.entry = book, entry
        self.held: list[RepPhrase] = []
        self.closed_here: RepBuilder | None = None
        self.whole = any(_opens(p) for p in phrases) and any(
            isinstance(p, OutcomePhrase) for p in phrases
        )
        self.drafts_before = len(book.drafts)

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

    def finish(self) -> None:
        """What found no rep stays unplaced, but a strong sign is still a sign."""
        for phrase in self.held:
            if isinstance(phrase, SignPhrase):
                self.book.mark(self.entry, "sign", phrase.sign, phrase.class_)

    def place(self, draft: RepBuilder | None = None) -> None:
        self.book.placed[self.entry.id] = None
        if draft is not None:
            draft.entries[self.entry.id] = None

    def opened(self) -> RepBuilder:
        """Open a rep and give it what this breath had said of it already."""
        draft = self.book.open_rep(self.entry)
        self.place(draft)
        return draft

    def add_held_phrases(self) -> None:
        held, self.held = self.held, []
        for phrase in sorted(held, key=lambda phrase: isinstance(phrase, OutcomePhrase)):
            self.take(phrase)

    # --- opening -------------------------------------------------------------------------

    def cue(self, phrase: CuePhrase) -> None:
        book, now = self.book, self.entry.start_s
        if phrase.cue_by == "voice":
            call = VoiceCall(phrase.dog, phrase.cue)
            book.calls.setdefault(self.entry.id, []).append(call)
        if phrase.dog is not None and phrase.dog.casefold() != book.dog.name.casefold():
            return
        if phrase.cue_by == "voice" and phrase.cue not in book.dog.cues:
            return
        draft = book.open
        if draft is None:
            draft = self.closed_without_cue()
        else:
            last = draft.last_cue_s if draft.last_cue_s is not None else draft.start_s
            if now - last > REPEATED_CUE_S:
                book.abandon_rep()
                draft = None
        self.give_cue(draft, phrase)

    def cue_count(self, phrase: CueCountPhrase) -> None:
        self.give_cue(self.book.open or self.closed_here, phrase)

    def give_cue(self, draft: RepBuilder | None, phrase: CuePhrase | CueCountPhrase) -> None:
        if draft is None:
            draft = self.opened()
        _give_cue(self.book, draft, self.entry, phrase)
        self.place(draft)
        self.add_held_phrases()

    def closed_without_cue(self) -> RepBuilder | None:
        """The rep that this breath told whole, where its cue is said after the outcome."""
        closed = self.closed_here
        if closed is None or closed.cues or closed not in self.book.drafts[self.drafts_before :]:
            return None
        return closed

    def stimulus(self, phrase: ModePhrase | LevelPhrase | NotchPhrase) -> None:
        book, entry, do = self.book, self.entry, phrase.do
        if isinstance(phrase, LevelPhrase) and (
            do == "dial" or (do == "back" and book.open is None)
        ):
            book.current_level = phrase.level
            book.mark(entry, "dial", "dial", book.current_level, book.open)
            self.place()
            return
        mode, level = _stimulus(book, book.open, phrase)
        if mode is None:
            return
        draft = self.rep_for_stimulus(do)
        draft.end_press(entry.start_s, entry.id)
        if do == "none":
            draft.no_button = True
        else:
            draft.presses.append(Press(entry.start_s, entry.id, mode, level))
            draft.collar_on = book.collar_on = True
            book.mark(entry, "press", mode, level, draft)
            if level is not None:
                book.current_level = level
        draft.end_s = max(draft.end_s, entry.end_s)
        self.place(draft)
        self.add_held_phrases()

    def rep_for_stimulus(self, do: str) -> RepBuilder:
        """The rep that a stimulus belongs to: the open one, one told in this breath, or a new."""
        book = self.book
        draft = book.open
        if draft is not None:
            if book.finding_level and draft.has_stimulus:
                book.close_rep(self.entry, None)
                return self.opened()
            stale = self.entry.start_s - draft.end_s > STALE_S
            if stale or (do == "none" and draft.presses):
                book.abandon_rep()
                return self.opened()
            return draft
        closed = self.closed_here
        if closed is not None and do in _OPENING and not closed.has_stimulus:
            return closed
        return self.opened()

    def thumb_off(self) -> None:
        book, entry = self.book, self.entry
        draft = book.open or self.recently_closed()
        if draft is None or not draft.presses:
            return
        draft.end_press(entry.start_s, entry.id)
        book.mark(entry, "off", "off", None, draft)
        self.place(draft)

    # --- closing -------------------------------------------------------------------------

    def outcome(self, phrase: OutcomePhrase) -> None:
        book, outcome = self.book, phrase.outcome
        word = outcome if phrase.word is None else phrase.word
        if book.open is not None:
            self.closed_here = book.open
            book.close_rep(self.entry, outcome, word)
            self.place(self.closed_here)
        elif self.closed_here is not None:
            self.second_outcome(self.closed_here, outcome, word)
        else:
            self.held.append(phrase)

    def second_outcome(self, draft: RepBuilder, outcome: Outcome, word: str) -> None:
        """A failed rep that the line finished was helped; any other second word is doubt."""
        if draft.outcome == outcome:
            return
        mended = draft.outcome in _MENDED_BY_LINE and outcome == "helped"
        if draft.outcome is not None and not mended:
            draft.doubtful = True
        draft.outcome = outcome
        draft.outcome_at = (self.entry.start_s, self.entry.id)
        self.book.mark(self.entry, "outcome", outcome, word, draft)

    def turned(self, phrase: TurnedPhrase) -> None:
        draft = self.book.open or self.closed_here
        if draft is None:
            self.held.append(phrase)
            return
        if draft.turned_at is None:
            draft.turned_at = (self.entry.start_s, self.entry.id)
        draft.end_s = max(draft.end_s, self.entry.end_s)
        self.book.mark(self.entry, "turned", phrase.turned, None, draft)
        self.place(draft)

    def sign(self, phrase: SignPhrase) -> None:
        book = self.book
        draft = book.open or self.closed_here
        if draft is None and not self.whole:
            draft = self.recently_closed()
        if draft is None:
            self.held.append(phrase)
            return
        _add_sign(book, draft, self.entry, phrase)
        self.place(draft)
        if book.open is draft and draft.drill == "find level" and draft.has_stimulus:
            book.close_rep(self.entry, None)
            self.closed_here = draft

    def reward(self, phrase: RewardPhrase) -> None:
        book = self.book
        draft = book.open or self.closed_here
        if draft is None and not self.whole and book.closed is not None:
            recent = self.entry.start_s - book.closed.end_s <= REWARD_AFTER_S
            draft = book.closed if recent else None
        if draft is None:
            self.held.append(phrase)
            return
        _add_reward(book, draft, self.entry, phrase)
        self.place(draft)

    def recently_closed(self) -> RepBuilder | None:
        """The rep whose outcome was said in this breath or at most 6 s before it."""
        closed = self.book.closed
        if self.closed_here is not None:
            return self.closed_here
        if closed is not None and self.entry.start_s - closed.end_s <= SIGN_AFTER_S:
            return closed
        return None


def _opens(phrase: RepPhrase) -> bool:
    match phrase:
        case CuePhrase() | ModePhrase() | NotchPhrase():
            return True
        case LevelPhrase():
            return phrase.do in ("level", "up", "down")
        case _:
            return False


def _corrects(phrase: RepPhrase) -> bool:
    """Whether a correction may speak of it: not of the moment of a turn or of the thumb's going
    off, nor of the dial alone."""
    match phrase:
        case TurnedPhrase() | ThumbOffPhrase() | LevelPhrase(do="dial"):
            return False
        case _:
            return True


def _give_cue(
    book: SessionBuilder, draft: RepBuilder, entry: Entry, phrase: CuePhrase | CueCountPhrase
) -> None:
    name, by = "called", None
    if isinstance(phrase, CueCountPhrase):
        draft.cues = max(draft.cues, phrase.cues)
    else:
        name, by = phrase.cue, phrase.cue_by
        if draft.cue is None:
            draft.cue, draft.cue_by = name, by
        draft.cues += 1
    if draft.cue_at is None:
        draft.cue_at = (entry.start_s, entry.id)
    draft.last_cue_s = entry.start_s
    draft.end_s = max(draft.end_s, entry.end_s)
    book.mark(entry, "cue", name, by, draft)


def _stimulus(
    book: SessionBuilder,
    draft: RepBuilder | None,
    phrase: ModePhrase | LevelPhrase | NotchPhrase,
) -> tuple[Mode | None, int | None]:
    """Mode and level of a stimulus phrase; no mode when it names no level one can know."""
    if isinstance(phrase, ModePhrase):
        return phrase.do, None
    if isinstance(phrase, LevelPhrase):
        ladder = phrase.do in ("up", "down", "back")
        return phrase.mode or _mode_unsaid(book, draft, ladder), phrase.level
    stood = book.current_level
    if stood is None:
        return None, None
    unit = book.dog.transmitter
    notch = unit.step or 1
    moved = stood + (notch if phrase.do == "notch up" else -notch)
    level = min(max(moved, unit.lowest), max(unit.highest, stood))
    return _mode_unsaid(book, draft, True), level


def _mode_unsaid(book: SessionBuilder, draft: RepBuilder | None, ladder: bool) -> Mode:
    """A ladder goes on in the mode it began with; "level N" alone is the dog's default."""
    if ladder:
        for told in [draft] if draft else reversed(book.drafts):
            for press in reversed(told.presses):
                if press.level is not None:
                    return press.mode
    return book.dog.default_mode


def _add_sign(book: SessionBuilder, draft: RepBuilder, entry: Entry, phrase: SignPhrase) -> None:
    sign, class_ = phrase.sign, phrase.class_
    draft.signs.append(
        SignMark.model_validate(
            {"at_s": entry.start_s, "sign": sign, "class": class_, "level": draft.level}
        )
    )
    book.mark(entry, "sign", sign, class_, draft)


def _add_reward(
    book: SessionBuilder, draft: RepBuilder, entry: Entry, phrase: RewardPhrase
) -> None:
    draft.rewards.append(phrase.reward)
    book.mark(entry, "reward", phrase.reward, None, draft)
