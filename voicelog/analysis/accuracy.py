"""How right the log is on the voices that people have read, and what is taken for what. Pure.

What is read is no fair sample: what is to check is read first, and a sure entry mostly when
somebody sees that it is wrong. So shares are given by how sure the log was, never as one number
for all, and what was left unread is counted beside them.

A confusion is a stretch of words that a listener had otherwise in a reading that does not mean
what was said: "nine" heard as "five". It counts once an utterance, however many heard it so.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher

from voicelog.analysis.reviewed_entries import (
    OutcomeTally,
    ReviewedEntries,
    ReviewedEntry,
    tallied,
)
from voicelog.model import CONTRACT_VERSION, FrozenModel

__all__ = [
    "LOG",
    "AccuracyReport",
    "Confusion",
    "ListenerAccuracy",
    "OutcomeCounts",
    "learn",
    "loudness_band",
    "noise_band",
    "word_substitutions",
]

LOG = "the log"
"""Stands among the listeners for what was made of them."""
QUIET_BAND_DB, NOISY_BAND_DB = 25.0, 15.0
"""Speech over the noise (dB): from the first on a recording is quiet, under the second noisy.
Our own bands."""
LOUD_DBFS, FAINT_DBFS = -30.0, -45.0
"""RMS of a whole recording (dBFS), its pauses with it: loud from the first on, under the second
faint. Our own bands."""


class OutcomeCounts(FrozenModel):
    """What became of the entries that were read under one circumstance."""

    name: str
    score: OutcomeTally


class ListenerAccuracy(FrozenModel):
    """How one listener did by itself: what it had right, otherwise, and not at all."""

    listener: str
    right: int
    otherwise: int
    nothing: int

    @property
    def of(self) -> int:
        """The notes that it listened to and a person has read."""
        return self.right + self.otherwise + self.nothing


class Confusion(FrozenModel):
    """`said` was heard as `heard` ("" where it was left out) in `count` utterances, `of` all that
    were read and have it. By listener, by noise, and the utterances as (recording, id, s)."""

    said: str
    heard: str
    count: int
    of: int
    listeners: Mapping[str, int]
    noise: Mapping[str, int]
    at: tuple[tuple[str, str, float], ...]


class AccuracyReport(FrozenModel):
    """What the entries that people have read show.

    `score` is of those in which a note was said; `sure` and `sure_right` count those that the log
    was sure of; `no_note` are those in which a person read none.
    """

    format: int = CONTRACT_VERSION
    read: int
    struck: int
    unread: int
    no_note: int
    score: OutcomeTally
    sure: int
    sure_right: int
    listeners: tuple[ListenerAccuracy, ...]
    noise: tuple[OutcomeCounts, ...]
    loudness: tuple[OutcomeCounts, ...]
    confusions: tuple[Confusion, ...]


def learn(found: ReviewedEntries) -> AccuracyReport:
    """What reviews show."""
    notes = [one for one in found.read if one.note]
    sure = [one for one in found.read if one.status == "accepted"]
    return AccuracyReport(
        read=len(found.read),
        struck=found.struck,
        unread=found.unread,
        no_note=len(found.read) - len(notes),
        score=_score(notes),
        sure=len(sure),
        sure_right=sum(one.outcome == "right" for one in sure),
        listeners=_listeners(notes),
        noise=_groups(notes, lambda one: noise_band(one.snr_db), _NOISE),
        loudness=_groups(notes, lambda one: loudness_band(one.rms_dbfs), _LOUDNESS),
        confusions=_confusions(notes),
    )


# --- how right --------------------------------------------------------------------------

_UNKNOWN = "not measured"
_NOISE = ("quiet", "some noise", "noisy", _UNKNOWN)
_LOUDNESS = ("loud", "middling", "faint", _UNKNOWN)


def noise_band(snr_db: float | None) -> str:
    """The band of noise that a recording is in, by its speech-to-noise ratio (dB)."""
    if snr_db is None:
        return _UNKNOWN
    return (
        "quiet" if snr_db >= QUIET_BAND_DB else "noisy" if snr_db < NOISY_BAND_DB else "some noise"
    )


def loudness_band(rms_dbfs: float | None) -> str:
    """How loud a recording came in, by its RMS (dBFS)."""
    if rms_dbfs is None:
        return _UNKNOWN
    return "loud" if rms_dbfs >= LOUD_DBFS else "faint" if rms_dbfs < FAINT_DBFS else "middling"


def _score(notes: Iterable[ReviewedEntry]) -> OutcomeTally:
    return tallied(one.outcome for one in notes)


def _groups(
    notes: Sequence[ReviewedEntry], band: Callable[[ReviewedEntry], str], order: Sequence[str]
) -> tuple[OutcomeCounts, ...]:
    by_band: dict[str, list[ReviewedEntry]] = {}
    for one in notes:
        by_band.setdefault(band(one), []).append(one)
    return tuple(
        OutcomeCounts(name=name, score=_score(by_band[name])) for name in order if name in by_band
    )


def _listeners(notes: Iterable[ReviewedEntry]) -> tuple[ListenerAccuracy, ...]:
    counts: dict[str, Counter[str]] = {}
    for one in notes:
        for ear in one.ears:
            kind = "right" if ear.right else "otherwise" if ear.words else "nothing"
            counts.setdefault(ear.listener, Counter())[kind] += 1
    return tuple(
        ListenerAccuracy(
            listener=name,
            right=count["right"],
            otherwise=count["otherwise"],
            nothing=count["nothing"],
        )
        for name, count in sorted(counts.items())
    )


# --- what for what ----------------------------------------------------------------------


@dataclass(slots=True)
class _Counting:
    listeners: Counter[str]
    noise: Counter[str]
    at: list[tuple[str, str, float]]


def _confusions(notes: Sequence[ReviewedEntry]) -> tuple[Confusion, ...]:
    """Every confusion, the most frequent first."""
    tallies: dict[tuple[str, str], _Counting] = {}
    for one in notes:
        heard = [(ear.listener, ear.words) for ear in one.ears if not ear.right]
        if one.status in ("accepted", "doubtful") and not one.meant:
            heard.append((LOG, one.heard))
        by_pair: dict[tuple[str, str], list[str]] = {}
        for listener, words in heard:
            for pair in word_substitutions(one.said, words):
                by_pair.setdefault(pair, []).append(listener)
        for pair, listeners in by_pair.items():
            tally = tallies.setdefault(pair, _Counting(Counter(), Counter(), []))
            tally.listeners.update(dict.fromkeys(listeners, 1))
            tally.noise[noise_band(one.snr_db)] += 1
            tally.at.append((one.recording, one.utterance, one.start_s))
    padded = [f" {one.said} " for one in notes]
    found = [
        Confusion(
            said=said,
            heard=other,
            count=len(tally.at),
            of=sum(f" {said} " in words for words in padded),
            listeners=dict(tally.listeners.most_common()),
            noise=dict(tally.noise.most_common()),
            at=tuple(tally.at),
        )
        for (said, other), tally in tallies.items()
    ]
    return tuple(sorted(found, key=lambda one: (-one.count, one.said, one.heard)))


def word_substitutions(said: str, heard: str) -> tuple[tuple[str, str], ...]:
    """The stretches of `said` for which `heard` has others, or none; nothing where `heard` is
    empty, since all was missed then.

    >>> word_substitutions("here level nine came", "here level five came")
    (('nine', 'five'),)
    """
    a, b = said.split(), heard.split()
    if not b:
        return ()
    steps = SequenceMatcher(None, a, b, autojunk=False).get_opcodes()
    return tuple(
        (" ".join(a[i:j]), " ".join(b[k:m]))
        for tag, i, j, k, m in steps
        if tag in ("replace", "delete")
    )
