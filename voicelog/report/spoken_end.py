"""What is said when a session has ended: how many reps, how many unaided, what is left to do."""

from __future__ import annotations

from collections.abc import Sequence

from voicelog.analysis.rep_questions import RepQuestion
from voicelog.analysis.unaided import unaided
from voicelog.model import Finding, Session
from voicelog.report.spoken_wording import spoken_warning
from voicelog.report.state_words import TO_CHECK
from voicelog.report.wording.rep_questions import spoken_rep_question
from voicelog.report.words import counted

__all__ = ["spoken_end"]


def spoken_end(
    session: Session, questions: Sequence[RepQuestion], findings: Sequence[Finding]
) -> str:
    """What the ear hears once, in sentences of six words at most: "6 reps, 4 unaided."

    `session` is the one that ended, `questions` are those about reps of the recording, and
    `findings` are told with it. Reps to check count as reps, and in no number but their own.
    """
    reps = [rep for rep in session.reps if not rep.void]
    sure = [rep for rep in reps if not rep.doubtful]
    check = len(reps) - len(sure)
    sentences = [f"{counted(len(reps), 'rep')}, {sum(map(unaided, sure))} unaided"]
    if check and not questions:
        sentences.append(f"{check} {TO_CHECK}")
    if questions:
        sentences.append(spoken_rep_question(questions))
    sentences += [spoken_warning(finding) for finding in findings]
    return " ".join(one if one.endswith("?") else f"{one}." for one in sentences)
