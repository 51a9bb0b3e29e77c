"""Everything a live session is worked with, made from the log and what was asked for."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Literal

from voicelog.diary import Diary
from voicelog.field.clock import Clock, SystemClock
from voicelog.field.loop import Loop, Replies
from voicelog.grammar.grammar import Grammar, Narrowing, optional_of
from voicelog.log import Kept, Log, Recording
from voicelog.model import Event, Roster, Session
from voicelog.pipeline import Derivation, Heard, Setup, derive
from voicelog.safety.history import History, Trace, history_after, trace_of
from voicelog.safety.settings import Settings, kept_settings
from voicelog.sound.mono import Samples

__all__ = ["ListenOptions", "Post", "grammar_of", "hear_again", "post_for"]

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
    replies: Replies = "doubtful"
    earpiece: bool = False
    who: str = ""


@dataclass(frozen=True, slots=True)
class Post:
    """Where a session is worked: the log, who is expected, how it derives and answers."""

    log: Log
    setup: Setup
    optional: tuple[str, ...]
    derive: Callable[[Recording, Sequence[Event]], Derivation]
    loop: Loop
    clock: Clock
    listener: Listener | None = None
    earpiece: bool = False


def post_for(log: Log, wanted: ListenOptions, clock: Clock | None = None) -> Post:
    """The post for a session that starts now; what was known of each dog is read once."""
    clock = clock or SystemClock()
    began = clock.wall()
    grammar = Grammar.load(roster=wanted.roster, optional=wanted.optional)
    diary = Diary(log, grammar_of)
    diary.refresh()

    @cache
    def past(dog: str) -> tuple[Trace, ...]:
        return tuple(trace_of(page.began, page.session) for page in diary.pages(dog))

    def derived(recording: Recording, events: Sequence[Event]) -> Derivation:
        return derive(recording, events, grammar, past)

    def history(session: Session) -> History:
        return history_after(past(session.dog.name), began)

    loop = Loop(settings=wanted.settings, history=history, replies=wanted.replies, who=wanted.who)
    setup = Setup(grammar=grammar, settings=wanted.settings, dog=wanted.dog)
    return Post(
        log,
        setup,
        wanted.optional,
        derived,
        loop,
        clock,
        listener=wanted.listener,
        earpiece=wanted.earpiece,
    )


def hear_again(
    kept: Kept, *, listener: Listener | None = None
) -> tuple[Setup, Callable[[Iterable[Samples]], Iterator[Heard]]]:
    """How a kept recording was set up, and the listeners of today for its sound."""
    from voicelog.hearing.engines import ears_for
    from voicelog.hearing.hear import hear

    grammar = grammar_of(kept)
    narrowing = Narrowing(top_level=kept.roster.top_level)
    ears = ears_for(grammar, narrowing, listener)
    setup = Setup(
        grammar=grammar,
        settings=kept_settings(kept.settings),
        dog=kept.dog,
        listeners=ears.names,
    )

    def again(blocks: Iterable[Samples]) -> Iterator[Heard]:
        return hear(blocks, ears, grammar, narrowing, kept.id)

    return setup, again


def grammar_of(recording: Kept) -> Grammar:
    """The grammar that a recording was heard with."""
    return Grammar.load(roster=recording.roster, optional=optional_of(recording.grammar))
