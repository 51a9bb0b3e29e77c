"""What people have read of a recording, beside what each listener heard there.

This is all that can be learnt from: where no person read, nobody knows what was said.
"""

from __future__ import annotations

from collections.abc import MutableMapping, Sequence

from voicelog.analysis.reviewed_entries import ReviewedEntries, ReviewedEntry, ReviewedReading
from voicelog.app.grammars import grammar_of
from voicelog.app.rehear.outcomes import alike, outcome
from voicelog.app.typed_file import TYPED
from voicelog.grammar.grammar import Grammar
from voicelog.model import Event, Reading, Verdict
from voicelog.session.entries import fold
from voicelog.store import Log, StoredRecording

__all__ = ["ReviewCache", "reviews", "reviews_in"]


ReviewCache = MutableMapping[str, tuple[int, ReviewedEntries]]
"""What was found in a recording, and the number of its newest event then."""


def reviews(log: Log, memo: ReviewCache | None = None) -> ReviewedEntries:
    """What people have read in the whole log, but for what is set aside; `memo` spares reading
    a recording again."""
    memo = {} if memo is None else memo
    found: list[ReviewedEntries] = []
    out = log.asides()
    for recording in log.read_by_people():
        if recording in out:
            continue
        seq = log.event_seq(recording)
        if memo.get(recording, (0,))[0] != seq:
            kept = log.recording(recording)
            memo[recording] = (seq, ReviewedEntries() if kept is None else _of(log, kept))
        found.append(memo[recording][1])
    return ReviewedEntries(
        read=tuple(one for some in found for one in some.read),
        struck=sum(some.struck for some in found),
        unread=sum(some.unread for some in found),
    )


def _of(log: Log, kept: StoredRecording) -> ReviewedEntries:
    """Those of one recording; typed words were heard by nobody."""
    if not kept.complete or kept.listeners == (TYPED,):
        return ReviewedEntries()
    return reviews_in(kept, log.events(kept.id), grammar_of(kept))


def reviews_in(kept: StoredRecording, events: Sequence[Event], grammar: Grammar) -> ReviewedEntries:
    """What people have read in a recording, from its events in the order of commit; pure."""
    verdicts = {event.utterance: event for event in events if isinstance(event, Verdict)}
    ears = _ears(events)
    read: list[ReviewedEntry] = []
    struck = unread = 0
    for entry in fold(events, grammar.interpret):
        if entry.by != "person":
            unread += entry.status == "accepted" and not entry.voided
            struck += entry.voided
        elif entry.voided:
            struck += 1
        else:
            verdict = verdicts.get(entry.id)
            read.append(
                ReviewedEntry(
                    utterance=entry.id,
                    recording=kept.id,
                    start_s=entry.start_s,
                    said=entry.reading,
                    note=bool(entry.phrases),
                    outcome=outcome(entry.reading, verdict, grammar),
                    status=verdict.status if verdict else None,
                    heard=verdict.words if verdict else "",
                    meant=verdict is not None and alike(entry.reading, verdict.words, grammar),
                    ears=tuple(
                        ReviewedReading(
                            listener=name, words=words, right=alike(entry.reading, words, grammar)
                        )
                        for name, words in ears.get(entry.id, {}).items()
                    ),
                    snr_db=kept.level.snr_db,
                    rms_dbfs=kept.level.rms_dbfs,
                )
            )
    return ReviewedEntries(read=tuple(read), struck=struck, unread=unread)


def _ears(events: Sequence[Event]) -> dict[str, dict[str, str]]:
    """The newest words of each listener for each utterance; versions of one are one."""
    found: dict[str, dict[str, str]] = {}
    for event in events:
        if isinstance(event, Reading) and event.by == "listener":
            name = event.who.split()[0] if event.who.strip() else "not named"
            found.setdefault(event.utterance, {})[name] = event.words
    return found
