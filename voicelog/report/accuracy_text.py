"""What was learnt, in words: sections of lines, which the terminal and the page lay out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from voicelog.analysis.accuracy import (
    FAINT_DBFS,
    LOG,
    LOUD_DBFS,
    NOISY_BAND_DB,
    QUIET_BAND_DB,
    AccuracyReport,
    Confusion,
    ListenerAccuracy,
    OutcomeCounts,
)
from voicelog.analysis.reviewed_entries import OutcomeTally
from voicelog.analysis.statistics.proportion import Proportion, wilson_interval
from voicelog.analysis.word_advice import OFTEN, Advice
from voicelog.report.paper import PaperLine, PaperSection
from voicelog.report.state_words import NOT_UNDERSTOOD, TO_CHECK, VOID
from voicelog.report.words import clean, counted, listed

__all__ = ["OUTCOMES", "sections", "too_few"]

OUTCOMES: Mapping[str, str] = {
    "right": "sure and right",
    "offered": f"{TO_CHECK}, the right one offered",
    "asked": f"{TO_CHECK}, the right one not offered",
    "missed": NOT_UNDERSTOOD,
    "wrong": "sure and wrong",
}
FEW = 10
"""A share of fewer is marked as little."""
SHOWN = 12
"""Confusions shown; the others are counted."""


def too_few(read: int, wanted: int) -> str:
    """Why nothing is said yet, or "" where enough was read."""
    if read >= wanted:
        return ""
    have = f"{counted(read, 'entry has', 'entries have') if read else 'No entry has'}"
    so_far = "so far" if read else "yet"
    more = f"{wanted - read} more" if read else f"{wanted}"
    are = "is" if wanted - read == 1 else "are"
    return (
        f"{have} been reviewed by a person {so_far}; {more} {are} needed to say how well you are "
        "heard. Review them on the page, in Evening or in a session; typed notes do not count."
    )


def sections(learned: AccuracyReport, advice: Sequence[Advice]) -> tuple[PaperSection, ...]:
    """All that was learnt, to be laid out."""
    found = (
        PaperSection(
            title="How accurate the log is", lines=_outcomes(learned), note=_sample(learned)
        ),
        PaperSection(title="By listener", lines=tuple(map(_listener, learned.listeners))),
        PaperSection(title="By noise", lines=tuple(map(_group, learned.noise)), note=_NOISE),
        PaperSection(
            title="By how loud it came in",
            lines=tuple(map(_group, learned.loudness)),
            note=_LOUDNESS,
        ),
        PaperSection(title="What was heard as what", lines=_confusions(learned.confusions)),
        PaperSection(title="What could be done", lines=_advice(advice), note=_UNMEASURED),
    )
    return tuple(one for one in found if one.lines)


_NOISE = (
    f"Quiet: speech stands {QUIET_BAND_DB:g} dB and more over the noise of its recording; noisy: "
    f"less than {NOISY_BAND_DB:g} dB."
)
_LOUDNESS = (
    f"Loud: {LOUD_DBFS:g} dBFS and more over the whole recording; faint: less than "
    f"{FAINT_DBFS:g}. It stands for the microphone and how it is worn, which are not in the log."
)
_UNMEASURED = (
    "A word that was never said cannot be tried on kept sound: what it gains shows here once "
    "entries with it were read. New words are heard in what is recorded from then on."
)


# --- how right --------------------------------------------------------------------------


def _outcomes(learned: AccuracyReport) -> tuple[PaperLine, ...]:
    score = learned.score
    lines = [
        PaperLine(label=meaning, words=f"{_of(getattr(score, name), score.read)}.")
        for name, meaning in OUTCOMES.items()
    ]
    lines.insert(
        0,
        PaperLine(
            label="of those marked sure",
            words=f"{_of(learned.sure_right, learned.sure)} right. {_unread(learned)}",
            few=learned.sure < FEW,
        ),
    )
    if learned.no_note:
        lines.append(
            PaperLine(
                label="no note",
                words=f"{counted(learned.no_note, 'entry was', 'entries were')} read as none, and "
                "count only in the first line above.",
            )
        )
    if learned.struck:
        lines.append(
            PaperLine(
                label=VOID,
                words=f"{counted(learned.struck, 'entry', 'entries')}; whether misheard or "
                "misspoken is not known, so they are not counted here.",
            )
        )
    return tuple(lines)


def _unread(learned: AccuracyReport) -> str:
    if not learned.unread:
        return "None in these recordings was left unreviewed."
    left = (
        "1 other in the same recordings was left unreviewed; if it is right, it is"
        if learned.unread == 1
        else f"{learned.unread} others in the same recordings were left unreviewed; if all of "
        "those are right, it is"
    )
    return f"{left} {_of(learned.sure_right + learned.unread, learned.sure + learned.unread)}."


def _sample(learned: AccuracyReport) -> str:
    return (
        f"{counted(learned.read, 'entry', 'entries')} that people have reviewed, with the 95% "
        "interval of each share. They are not a fair sample: those to check are reviewed first, "
        "and a sure one mostly when it seems wrong."
    )


def _of(count: int, of: int) -> str:
    share = wilson_interval(count, of)
    if not isinstance(share, Proportion):
        return "none reviewed"
    return f"{count} of {of} ({share.share:.0%}, {share.low:.0%} to {share.high:.0%})"


def _listener(one: ListenerAccuracy) -> PaperLine:
    return PaperLine(
        label=clean(one.listener),
        words=f"right by itself {_of(one.right, one.of)}; otherwise {one.otherwise}, nothing "
        f"{one.nothing}.",
        few=one.of < FEW,
    )


def _group(one: OutcomeCounts) -> PaperLine:
    score = one.score
    return PaperLine(
        label=one.name,
        words=f"{OUTCOMES['right']} or the right one offered "
        f"{_of(score.right + score.offered, score.read)}; {_rest(score)}.",
        few=score.read < FEW,
    )


def _rest(score: OutcomeTally) -> str:
    return (
        f"not offered {score.asked}, {NOT_UNDERSTOOD} {score.missed}, sure and wrong {score.wrong}"
    )


# --- what for what ----------------------------------------------------------------------


def _confusions(found: Sequence[Confusion]) -> tuple[PaperLine, ...]:
    lines = [
        PaperLine(
            label=f'"{clean(one.said)}"',
            words=f"{_as(one.heard)} {_times(one.count)} of the {one.of} it was said "
            f"({_by(one.listeners)}; {_by(one.noise)}).",
            few=one.count < OFTEN,
        )
        for one in found[:SHOWN]
    ]
    if len(found) > SHOWN:
        more = counted(len(found) - SHOWN, "other confusion")
        lines.append(PaperLine(label="", words=f"And {more}, {found[SHOWN].count} times at most."))
    return tuple(lines or [PaperLine(label="", words="Nothing was taken for something else.")])


def _as(heard: str) -> str:
    return f'heard as "{clean(heard)}"' if heard else "left out"


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"


def _by(counts: Mapping[str, int]) -> str:
    named = (
        (f"left as it was in {LOG}" if name == LOG else name, count)
        for name, count in counts.items()
    )
    return ", ".join(f"{clean(name)} {count}" for name, count in named)


def _advice(found: Sequence[Advice]) -> tuple[PaperLine, ...]:
    return tuple(PaperLine(label=f'"{clean(one.said)}"', words=_instead(one)) for one in found) or (
        PaperLine(label="", words=f"Nothing is heard wrong {OFTEN} times or more."),
    )


def _instead(one: Advice) -> str:
    if not one.instead:
        return (
            "nothing else says the same. Leave a little pause around it, and look at "
            f'"{clean(one.heard)}" with care.'
        )
    words = listed((f'"{clean(word)}"' for word in one.instead), "or")
    if one.role is None:
        return f"say {words} instead, which means the same and need not be put anywhere."
    unlike = f"{words} would sound like nothing else"
    if one.role == "dog":
        return f"{unlike}. A dog's sessions are kept under its name, so this is for the next dog."
    heard = f" To have it heard: {clean(one.command)}" if one.command else ""
    return f"{unlike}.{heard}"
