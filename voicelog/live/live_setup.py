"""Everything a live session is worked with, made from the log and what was asked for."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Literal

from voicelog.app.pipeline import Derivation, RecognitionSetup, RecognizedUtterance, derive
from voicelog.app.session_catalog import SessionCatalog
from voicelog.audio.resampling import Samples
from voicelog.grammar.grammar import Grammar, RecognitionContext, optional_grammars_of
from voicelog.live.clock import Clock, SystemClock
from voicelog.live.dialogue import DialogueManager, ReplyPolicy
from voicelog.model import Event, Roster, Session
from voicelog.safety.history import History, PastSession, history_after, past_session
from voicelog.safety.settings import Settings, stored_settings
from voicelog.store import Log, Recording, StoredRecording

__all__ = ["ListenOptions", "LiveSetup", "grammar_of", "make_live_setup", "recognize_again"]

Listener = Literal["quick", "careful", "both"]
"""Who shall listen."""


@dataclass(frozen=True, slots=True)
class ListenOptions:
    """What was asked for. `dog` is worked until another is named; `who` speaks.
    `listener`: both where both are there, for None.

    `earpiece`: what the program says itself cannot come back through the microphone.
    """

    roster: Roster
    settings: Settings
    dog: str | None = None
    optional: tuple[str, ...] = ()
    listener: Listener | None = None
    replies: ReplyPolicy = "doubtful"
    earpiece: bool = False
    who: str = ""


@dataclass(frozen=True, slots=True)
class LiveSetup:
    """Where a session is worked: the log, who is expected, how it derives and answers."""

    log: Log
    setup: RecognitionSetup
    optional: tuple[str, ...]
    derive: Callable[[Recording, Sequence[Event]], Derivation]
    loop: DialogueManager
    clock: Clock
    listener: Listener | None = None
    earpiece: bool = False


def make_live_setup(log: Log, wanted: ListenOptions, clock: Clock | None = None) -> LiveSetup:
    """The post for a session that starts now; what was known of each dog is read once."""
    clock = clock or SystemClock()
    began = clock.wall()
    grammar = Grammar.load(roster=wanted.roster, optional=wanted.optional)
    session_catalog = SessionCatalog(log, grammar_of)
    session_catalog.refresh()

    @cache
    def past(dog: str) -> tuple[PastSession, ...]:
        return tuple(past_session(page.began, page.session) for page in session_catalog.pages(dog))

    def derived(recording: Recording, events: Sequence[Event]) -> Derivation:
        return derive(recording, events, grammar, past)

    def history(session: Session) -> History:
        return history_after(past(session.dog.name), began)

    loop = DialogueManager(
        settings=wanted.settings, history=history, replies=wanted.replies, who=wanted.who
    )
    setup = RecognitionSetup(grammar=grammar, settings=wanted.settings, dog=wanted.dog)
    return LiveSetup(
        log,
        setup,
        wanted.optional,
        derived,
        loop,
        clock,
        listener=wanted.listener,
        earpiece=wanted.earpiece,
    )


def recognize_again(
    kept: StoredRecording, *, listener: Listener | None = None
) -> tuple[RecognitionSetup, Callable[[Iterable[Samples]], Iterator[RecognizedUtterance]]]:
    """How a kept recording was set up, and the listeners of today for its sound."""
    from voicelog.recognition.recognize import recognize
    from voicelog.recognition.recognizers import make_recognizers

    grammar = grammar_of(kept)
    narrowing = RecognitionContext(top_level=kept.roster.top_level)
    ears = make_recognizers(grammar, narrowing, listener)
    setup = RecognitionSetup(
        grammar=grammar,
        settings=stored_settings(kept.settings),
        dog=kept.dog,
        listeners=ears.names,
    )

    def again(blocks: Iterable[Samples]) -> Iterator[RecognizedUtterance]:
        return recognize(blocks, ears, grammar, narrowing, kept.id)

    return setup, again


def grammar_of(recording: StoredRecording) -> Grammar:
    """The grammar that a recording was heard with."""
    return Grammar.load(roster=recording.roster, optional=optional_grammars_of(recording.grammar))
