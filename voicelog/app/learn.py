"""How right the log is, from what people have read, and what can be done about confusions."""

from __future__ import annotations

from dataclasses import dataclass

from voicelog.analysis.accuracy import AccuracyReport, learn
from voicelog.analysis.word_advice import advise
from voicelog.app.grammars import grammar_with
from voicelog.app.rehear.reviewed import ReviewCache, reviews
from voicelog.report.accuracy_text import sections, too_few
from voicelog.report.paper import PaperSection
from voicelog.safety.settings import Settings
from voicelog.store import Log

__all__ = ["AccuracyPaper", "accuracy_paper", "measure_accuracy"]


@dataclass(frozen=True, slots=True)
class AccuracyPaper:
    """An accuracy report as it is shown."""

    missing: str
    """Where too few entries were read: how many are missing, in words; else empty."""
    sections: tuple[PaperSection, ...]
    """Empty where entries are missing."""


def measure_accuracy(log: Log, memo: ReviewCache | None = None) -> AccuracyReport:
    """How right the log is, by all entries that people have read.

    Args:
        memo: what earlier calls found, which is used and filled; None to read everything.
    """
    return learn(reviews(log, memo))


def accuracy_paper(log: Log, report: AccuracyReport, settings: Settings) -> AccuracyPaper:
    """The report in words, with advice, if it rests on as many entries as the settings ask."""
    if missing := too_few(report.read, settings.learn_entries):
        return AccuracyPaper(missing, ())
    grammar = grammar_with(log.roster())
    return AccuracyPaper("", tuple(sections(report, advise(report.confusions, grammar))))
