"""What may be said, by kind, and which words are too alike, not known, or say two things."""

from __future__ import annotations

from voicelog.grammar import confusability
from voicelog.grammar.ambiguity import ambiguous_words
from voicelog.grammar.grammar import Grammar
from voicelog.recognition.vosk_models import vosk_model_for
from voicelog.report.vocabulary_words import (
    ALIKE_NAMES,
    ALIKE_WORDS,
    SOUNDED_OUT,
    TWO_MEANINGS,
    UNPRONOUNCED,
    name_line,
    not_known_title,
    sounded_out_line,
    two_ways_line,
    unknown_line,
    unpronounced_line,
    word_line,
)

__all__ = ["MANY_LEVELS", "checked_vocabulary", "phrases_by_kind"]

MANY_LEVELS = 20
"""Levels from which it is worth saying how far the transmitter goes."""


def phrases_by_kind(grammar: Grammar) -> dict[str, tuple[str, ...]]:
    """Every phrase that may be spoken, once, by its kind; N stands for a number. `grammar` has the
    roster's names."""
    found: dict[str, dict[str, None]] = {}
    for form in grammar.forms:
        spoken = " ".join(part if isinstance(part, str) else "N" for part in form.parts)
        found.setdefault(form.kind, {})[spoken] = None
    return {kind: tuple(phrases) for kind, phrases in found.items()}


def checked_vocabulary(grammar: Grammar) -> list[tuple[str, list[str]]]:
    """What is found under each heading, a line each; names and cues are those of the grammar's
    roster."""
    model = vosk_model_for(grammar.language)
    derived = confusability.derived(grammar)
    sections = [
        (ALIKE_NAMES, [name_line(one) for one in confusability.confusable_names(grammar)]),
        (UNPRONOUNCED, [unpronounced_line(one.word) for one in derived if not one.phones]),
    ]
    if model is None:
        by_letters = [one for one in derived if one.phones and one.origin == "letters"]
        lines = [sounded_out_line(one.word, one.phones or ()) for one in by_letters]
        sections.append((SOUNDED_OUT, lines))
    else:
        known = model.word_ids()
        unknown = [word for word in grammar.vocabulary if word not in known]
        lines = [
            unknown_line(word, confusability.phrases_without_word(grammar, word))
            for word in unknown
        ]
        sections.append((not_known_title(model.name), lines))
    top = grammar.roster.top_level
    return [
        *sections,
        (TWO_MEANINGS, [two_ways_line(one) for one in ambiguous_words(grammar)]),
        (ALIKE_WORDS, [word_line(one) for one in confusability.confusable_words(grammar, top)]),
    ]
