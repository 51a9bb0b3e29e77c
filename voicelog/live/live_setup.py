"""Everything a live session is worked with, made from the log and what was asked for."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache

from voicelog.analysis.open_matters import OpenMatter
from voicelog.app.derivation_walk import DerivationWalk, Derived
from voicelog.app.grammars import grammar_with
from voicelog.app.intake import RecognitionSetup
from voicelog.app.recognizers import RecognitionOptions
from voicelog.app.session_catalog import SessionCatalog
from voicelog.live.clock import Clock, SystemClock
from voicelog.live.dialogue import DialogueManager, ReplyPolicy
from voicelog.model import Event, Session
from voicelog.model.names import name_key
from voicelog.recognition.recognizers import RecognizerChoice
from voicelog.safety.history import History, PastSession, history_after
from voicelog.store import Log, Recording

__all__ = ["ListenOptions", "LiveSetup", "make_live_setup"]


@dataclass(frozen=True, slots=True)
class ListenOptions(RecognitionOptions):
    """What was asked for of a live session.

    `replies`: which notes are read back. `earpiece`: what the program says itself cannot come
    back through the microphone. `who` speaks.
    """

    replies: ReplyPolicy = "doubtful"
    earpiece: bool = False
    who: str = ""


@dataclass(frozen=True, slots=True)
class LiveSetup:
    """Where a session is worked: the log, who is expected, how it derives and answers.

    `derive` is `DerivationWalk.derived`.
    """

    log: Log
    recognition: RecognitionSetup
    optional: tuple[str, ...]
    derive: Callable[[Recording, Sequence[Event], Sequence[Event]], Derived]
    dialogue: DialogueManager
    clock: Clock
    listener: RecognizerChoice | None = None
    earpiece: bool = False


def make_live_setup(log: Log, wanted: ListenOptions, clock: Clock | None = None) -> LiveSetup:
    """All for a session that starts now; what was known of each dog is read once."""
    clock = clock or SystemClock()
    began = clock.wall()
    grammar = grammar_with(wanted.roster, wanted.optional)
    session_catalog = SessionCatalog(log)
    session_catalog.refresh()

    @cache
    def past(dog: str) -> tuple[PastSession, ...]:
        return session_catalog.traces(dog)

    @cache
    def history_of_dog(dog: str) -> History:
        return history_after(past(dog), began)

    def history(session: Session) -> History:
        return history_of_dog(session.dog.name)

    lists = session_catalog.matters(began.date())
    names = {name_key(dog): dog for dog in lists.dogs}

    @cache
    def matters(dog: str) -> tuple[OpenMatter, ...]:
        return lists.get(names.get(name_key(dog), dog), ())

    loop = DialogueManager(
        settings=wanted.settings,
        history=history,
        replies=wanted.replies,
        who=wanted.who,
        matters=matters,
    )
    setup = RecognitionSetup(grammar=grammar, settings=wanted.settings, dog=wanted.dog)
    return LiveSetup(
        log,
        setup,
        wanted.optional,
        DerivationWalk(grammar, past, live=True).derived,
        loop,
        clock,
        listener=wanted.listener,
        earpiece=wanted.earpiece,
    )
