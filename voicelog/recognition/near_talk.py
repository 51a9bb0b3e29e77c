"""Asks more of a note near talk: of people, to the dog, of a radio.

A word that is a note when it is said alone is said in talk as well, and what is close to a note
sounds like one. So what was heard last tells how far a note may be trusted: of a single word close
behind talk, or of a note between two stretches of it, it is worth a look and no more; some while
behind talk more is asked of every note; and where most of what was said last was no note, most of a
short one. A sign of the dog is spared some of this: to miss one is worse than to have one too many.
And what follows a sure note of several words is most likely of the same rep, whatever was said
before that: talk makes such a note once in hours.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Collection

from voicelog.audio.resampling import RATE
from voicelog.grammar.grammar import Grammar
from voicelog.model.phrases import SignPhrase
from voicelog.recognition.recognized_segment import RecognizedSegment, doubted, speech_pause
from voicelog.recognition.segmenter import Segment

__all__ = ["HOLD_S", "NearTalk"]

HOLD_S = 1.0
"""How long (s of quiet) a sure note that could go on waits for more, and one close behind talk for
more talk; common practice, no source."""
TALK_PAUSE_S = 1.5
"""Pause (s) behind what is no note within which a single word is not sure, nor any other note if
talk follows it within HOLD_S. In two hours of people's talk all four words that were taken for
notes came so, of 57 single words of narrations two."""
TALK_NEAR_S = 10.0
"""Pause (s) behind what is no note within which a note is held to ACCEPT_IN_TALK, and behind a sure
note of several words within which none is; a guess."""
ACCEPT_IN_TALK = (0.99, 0.98, 0.96)
"""From which probability a note of one, of two, and of more words, in which phones were heard, is
accepted amid talk. By the thresholds alone, 13.9 hours of people's talk made eight entries of what
nobody had said: four of two words at 0.938 to 0.979, two of one at 0.988 and 0.994, two of three at
0.956 and 0.987."""

TALK_SHARE, TALK_LAST, TALK_LAST_S = 2, 3, 15.0
ACCEPT_SHORT = 0.999
"""Where so many of the last segments, of those that ended within so long (s), were no note, one of
one or two words is accepted from this probability on. Of eleven entries that ten hours of people's
talk still made of what nobody had said (names of things, said one by one, among it) this leaves
six. Were they never accepted, it would be four, and ten notes of the demo would be to check."""


class NearTalk:
    """Remembers where the last talk ended and what the last segments were; says what stands of the
    next ones there."""

    def __init__(self, grammar: Grammar) -> None:
        self._grammar = grammar
        self._talk_end: int | None = None
        self._note_end: int | None = None
        self._last: deque[tuple[int, bool]] = deque(maxlen=TALK_LAST)

    def is_close_behind(self, segment: Segment) -> bool:
        """Whether talk ended shortly before a segment."""
        return _follows(segment, self._talk_end, TALK_PAUSE_S)

    def held_to_more(self, heard: RecognizedSegment) -> RecognizedSegment:
        """What was heard next, to check where talk was near and it is not sure enough for that."""
        told = heard.decision
        if told.status != "accepted" or heard.heard_phones is None:
            return heard
        if _follows(heard.segment, self._note_end, TALK_NEAR_S):
            return heard
        words, needed = len(told.words.split()), 0.0
        if _follows(heard.segment, self._talk_end, TALK_NEAR_S):
            needed = ACCEPT_IN_TALK[min(words, len(ACCEPT_IN_TALK)) - 1]
        if words <= 2 and self._is_amid(heard.segment) and not self._is_sign(heard, {"strong"}):
            needed = ACCEPT_SHORT
        return doubted(heard) if told.confidence < needed else heard

    def before(self, first: RecognizedSegment, then: RecognizedSegment) -> RecognizedSegment:
        """What was heard, with what stands of it where `then` is what was heard after it."""
        if then.decision.status != "rejected" or not self.is_close_behind(first.segment):
            return first
        follows = speech_pause(first.segment, then.segment) <= HOLD_S * RATE
        sure = first.decision.status == "accepted" and not self._is_sign(first, {"strong"})
        return doubted(first) if follows and sure else first

    def judged(self, heard: RecognizedSegment) -> RecognizedSegment:
        """What was heard next, in order, with what stands of it there."""
        behind, decision = self.is_close_behind(heard.segment), heard.decision
        if not behind or decision.status != "accepted" or " " in decision.words:
            return heard
        return heard if self._is_sign(heard, {"strong", "weak", "noticed"}) else doubted(heard)

    def remember(self, heard: RecognizedSegment) -> None:
        """Take in what was heard next, in order."""
        end, told = heard.segment.end, heard.decision
        talk = told.status == "rejected"
        self._last.append((end, talk))
        if talk:
            self._talk_end = end
        self._note_end = end if told.status == "accepted" and " " in told.words else None

    def _is_amid(self, segment: Segment) -> bool:
        """Whether most of what was said last was no note."""
        since = segment.start - TALK_LAST_S * RATE
        return sum(talk and end >= since for end, talk in self._last) >= TALK_SHARE

    def _is_sign(self, heard: RecognizedSegment, classes: Collection[str]) -> bool:
        phrases = self._grammar.interpret(heard.decision.words) or ()
        return any(isinstance(one, SignPhrase) and one.class_ in classes for one in phrases)


def _follows(segment: Segment, end: int | None, pause_s: float) -> bool:
    """Whether a segment begins within that pause (s) behind a sample, if there is one."""
    return end is not None and segment.start - end <= pause_s * RATE
