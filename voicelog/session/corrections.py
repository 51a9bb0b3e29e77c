"""What "correction ..." does to the rep that it is aimed at (`spoken_edits` says which)."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from voicelog.model import Entry, Mark
from voicelog.model.domain import FAILED
from voicelog.model.grown import Grown
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
from voicelog.session.rep_builder import Press, RepBuilder
from voicelog.session.session_builder import SessionBuilder, is_rung

__all__ = ["correct_rep"]

_Stimulus = ModePhrase | LevelPhrase | NotchPhrase


def correct_rep(
    session: SessionBuilder, rep: RepBuilder, entry: Entry, phrases: Sequence[RepPhrase]
) -> None:
    """Correct a rep: what the phrases speak of replaces what it held of that kind.

    Times stay those of the words corrected: when a cue or a press was is not said again. So
    a new mark has the place and the time of the first that it replaces, an outcome those of the
    last, since it is how the rep ended; a press where none
    was is as old as its rep, an outcome as the last word of a rep that is over; anything else that
    was not said before is as new as this.

    What the dog did before it came is not how it ended: "correction came slow" leaves it ignored
    first. That goes where the correction says that it failed at the end, or calls it anew.

    `entry` is the one that corrects, in `session`. "Up to three" speaks of a ladder's last rung
    alone: what was pressed before it stays.
    """
    phrases = [phrase for phrase in phrases if _corrects(phrase)]
    kinds = {phrase.kind for phrase in phrases}
    outcomes = [phrase.outcome for phrase in phrases if isinstance(phrase, OutcomePhrase)]
    rungs = [one for one in phrases if isinstance(one, _Stimulus)]
    last = rep.last_level_press
    if rungs and last is not None and all(map(is_rung, rungs)):
        _correct_ladder(session, rep, entry, last, rungs)
        phrases = [phrase for phrase in phrases if phrase not in rungs]
        kinds.discard("stimulus")
    first_press = rep.presses[0].at_s if rep.presses else rep.start_s
    first_sign = rep.signs[0].at_s if rep.signs else entry.start_s
    cued = rep.cue_at, rep.last_cue_s
    over = rep is not session.open
    failed_first = rep.failed_first
    rep.forget(kinds, cue_words=any(isinstance(phrase, CuePhrase) for phrase in phrases))
    before = len(session.marks)
    for phrase in phrases:
        _correct_phrase(session, rep, entry, phrase, first_press)
    rep.set_cue_times(*cued)
    first, last_said = outcomes[-2:] if len(outcomes) > 1 else (None, None)
    if first in FAILED and last_said not in FAILED:
        rep.fail_first(first)
    elif failed_first and outcomes and outcomes[0] not in FAILED and "cue" not in kinds:
        rep.fail_first(failed_first)
    new: dict[str, float | None] = {"at_s": first_sign} if "sign" in kinds else {}
    new |= {"level": rep.level} if "stimulus" in kinds else {}
    rep.correct_signs(**new)
    session.replace_marks(_replaced(session.marks, before, rep, kinds, over=over))
    rep.add_entry(entry)


def _correct_ladder(
    session: SessionBuilder, rep: RepBuilder, entry: Entry, last: Press, rungs: Sequence[_Stimulus]
) -> None:
    """What is said of a ladder takes the place of its `last` press; it follows on it where that is
    the only one, and no rung, and the way up or down leads on from it."""
    levels = [press.level for press in rep.presses if press.level is not None]
    follows = len(levels) == 1 and not last.rung and _leads_on(last, rungs[0])
    marks = session.marks
    begin = _first_of(marks, rep)
    own = [
        place
        for place, mark in enumerate(marks[begin:], begin)
        if (mark.rep, mark.kind, mark.entry) == (rep.number, "press", last.entry)
        and mark.value == last.level
    ]
    cut = own[-1] + 1 if own else len(marks)
    if not follows:
        rep.drop_press(last)
        if rep.level is not None and rep is session.reps[-1]:
            session.set_level(rep.level)
    for rung in rungs:
        _correct_phrase(session, rep, entry, rung, last.at_s)
    added = [mark.model_copy(update={"at_s": last.at_s}) for mark in session.marks[len(marks) :]]
    kept = cut if follows or not own else cut - 1
    session.replace_marks(marks.then(kept, (*added, *marks[cut:])))
    if not follows:
        rep.order_presses(ended_s=last.ended_s)
        rep.correct_signs_at(last)


def _leads_on(last: Press, rung: _Stimulus) -> bool:
    if not isinstance(rung, LevelPhrase) or last.level is None:
        return True
    return rung.level > last.level if rung.do == "up" else rung.level < last.level


def _first_of(marks: Sequence[Mark], rep: RepBuilder) -> int:
    """The place of a rep's first mark; where it has none, the end."""
    return next((at for at, mark in enumerate(marks) if mark.rep == rep.number), len(marks))


def _replaced(
    marks: Grown[Mark], before: int, rep: RepBuilder, kinds: Collection[str], *, over: bool
) -> Grown[Mark]:
    """The marks with a rep's own of these kinds given up for those from the place `before` on;
    `over`: nothing more was waited for in the rep."""
    gone = {"press", "off"} if "stimulus" in kinds else set()
    gone |= {"cue", "outcome", "sign", "reward"}.intersection(kinds)
    begin = _first_of(marks.until(before), rep)
    later = tuple(enumerate(marks[begin:before], begin))
    own = [(place, mark) for place, mark in later if mark.rep == rep.number]
    placed: list[tuple[float, Mark]] = [
        (place, mark) for place, mark in later if mark.rep != rep.number or mark.kind not in gone
    ]
    for mark in marks[before:]:
        replaced = [old for old in own if old[1].kind == mark.kind]
        first = replaced[-1 if mark.kind == "outcome" else 0] if replaced else None
        at: tuple[float, float] = (before, mark.at_s)
        if first is not None:
            at = (first[0], first[1].at_s)
        elif mark.kind == "press":
            after_cue = next((place for place, old in own if old.kind != "cue"), before)
            at = (after_cue - 0.5, rep.start_s)
        elif mark.kind == "outcome" and own and over:
            at = (own[-1][0] + 0.5, own[-1][1].at_s)
        placed.append((at[0], mark.model_copy(update={"at_s": at[1]})))
    placed.sort(key=lambda one: one[0])
    return marks.then(begin, (mark for _, mark in placed))


def _correct_phrase(
    session: SessionBuilder, rep: RepBuilder, entry: Entry, phrase: RepPhrase, first_press: float
) -> None:
    match phrase:
        case CuePhrase() | CueCountPhrase():
            session.give_cue(rep, entry, phrase)
        case ModePhrase() | LevelPhrase() | NotchPhrase():
            mode, level = session.mode_and_level(rep, phrase)
            if mode == "none":
                rep.leave_button()
            elif mode is not None:
                if level != 0:
                    session.add_press(rep, entry, first_press, mode, level, rung=is_rung(phrase))
                if level is not None and rep is session.reps[-1]:
                    session.set_level(level)
        case OutcomePhrase():
            rep.correct_outcome(phrase)
            session.mark(entry, "outcome", phrase.outcome, phrase.word, rep)
            if rep is session.open:
                session.settle_rep()
        case SignPhrase():
            session.add_sign(rep, entry, phrase)
        case RewardPhrase():
            session.add_reward(rep, entry, phrase)
        case _:
            pass


def _corrects(phrase: RepPhrase) -> bool:
    """Whether a correction may speak of it: not of the moment of a turn or of the thumb's going
    off, nor of the dial alone."""
    match phrase:
        case TurnedPhrase() | ThumbOffPhrase() | LevelPhrase(do="dial"):
            return False
        case _:
            return True
