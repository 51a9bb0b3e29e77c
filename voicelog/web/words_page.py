"""The words that may be spoken, on the page: the list, what words become, what is too alike."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response

from voicelog.app.grammars import grammar_with
from voicelog.app.typed_file import judge_typed
from voicelog.app.vocabulary import MANY_LEVELS, checked_vocabulary, phrases_by_kind
from voicelog.report.vocabulary_words import many_levels_words, typed_lines
from voicelog.web.job_desk import JobDesk

__all__ = ["checked_words", "words"]


def words(desk: JobDesk, request: Request) -> Response:
    """Every phrase by kind, and what the words that were typed (`text`) become."""
    grammar = grammar_with(desk.service.log.roster())
    text = request.query_params.get("text", "")[:200].strip()
    return desk.page(
        request,
        "words.html",
        kinds=phrases_by_kind(grammar),
        text=text,
        lines=list(typed_lines(grammar, *judge_typed(grammar, text))) if text else [],
    )


def checked_words(desk: JobDesk, request: Request) -> Response:
    """Which names, cues and words are too alike, not known, or say two things."""
    grammar = grammar_with(desk.service.log.roster())
    top = grammar.roster.top_level
    return desk.page(
        request,
        "words_check.html",
        sections=checked_vocabulary(grammar),
        levels=many_levels_words(top) if top > MANY_LEVELS else "",
    )
