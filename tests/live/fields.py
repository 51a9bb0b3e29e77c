"""A field without a field: say words to the dialogue, let time pass, see what it does."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from voicelog.app.derive import Derivation, derive
from voicelog.grammar.grammar import Grammar
from voicelog.live.dialogue import DialogueManager, ReplyPolicy
from voicelog.live.outputs import CommitAction, Output, PlayTone, SpeakWords
from voicelog.model import Dog, Event, Reading, Roster, Status, Transmitter, Utterance, Verdict
from voicelog.safety.history import History
from voicelog.safety.settings import Settings
from voicelog.session.entries import fold
from voicelog.session.spoken_edits import resolve_spoken_edit
from voicelog.store import Recording

__all__ = ["BRACKEN", "Field", "said", "tones", "warned"]

BRACKEN = Dog(
    name="Bracken", transmitter=Transmitter(top=20), collar_number=4, ceiling=6, cues=("here",)
)
WREN = Dog(name="Wren", transmitter=Transmitter(top=20))
ROSTER = Roster(dogs=(BRACKEN, WREN))
GRAMMAR = Grammar.load(roster=ROSTER)

SPOKEN_S = 1.0
"""How long (s) each utterance lasts here."""
HEARD_S = 0.6
"""How long (s) after its end it is committed."""


@dataclass
class Field:
    """`says` and `waits` give back the acts that followed; `at_s` is the moment (s)."""

    replies: ReplyPolicy = "doubtful"
    settings: Settings = field(default_factory=Settings)
    history: History = field(default_factory=History)
    at_s: float = 0.0
    events: list[Event] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.dialogue = DialogueManager(
            settings=self.settings,
            history=lambda session: self.history,
            replies=self.replies,
            who="Anna",
        )
        self.count = 0

    def derived(self, undecided: Sequence[Event] = ()) -> Derivation:
        recording = Recording(
            id="r",
            roster=ROSTER,
            grammar=GRAMMAR.name,
            settings=self.settings.model_dump(mode="json", exclude_defaults=True),
        )
        return derive(recording, [*self.events, *undecided], GRAMMAR)

    def says(
        self,
        words: str,
        *,
        status: Status = "accepted",
        confidence: float = 0.9,
        over_voice: bool = False,
    ) -> list[Output]:
        """She says something now; the moment after is when it has been committed."""
        self.count += 1
        name, end_s = f"u-{self.count:03d}", self.at_s + SPOKEN_S
        self.events += self.said(name, words, status, confidence)
        *before, entry = fold(self.events, GRAMMAR.interpret)
        edit = resolve_spoken_edit(entry, tuple(before), ROSTER)
        if edit is not None:  # kept with its utterance, as in the intake
            self.events.append(edit)
        self.at_s = end_s + HEARD_S
        return self.settle(
            self.dialogue.heard(name, self.derived(), self.at_s, over_voice=over_voice)
        )

    def said(self, name: str, words: str, status: Status, confidence: float) -> list[Event]:
        """The events of an utterance that begins now."""
        return [
            Utterance(id=name, recording="r", start_s=self.at_s, end_s=self.at_s + SPOKEN_S),
            Reading(id=f"{name}.r", utterance=name, words=words, by="listener", who="test"),
            Verdict(
                id=f"{name}.v",
                utterance=name,
                status=status,
                words=words,
                confidence=confidence,
                judge="test",
            ),
        ]

    def undecided(self, words: str, status: Status = "doubtful") -> list[Output]:
        """She says something that may be joined with what comes next."""
        name = f"u-{self.count + 1:03d}"
        derived = self.derived(self.said(name, words, status, 0.6))
        return list(self.dialogue.undecided(name, derived, self.at_s + SPOKEN_S + HEARD_S))

    def waits(self, seconds: float) -> list[Output]:
        """Time passes in quiet."""
        outputs: list[Output] = []
        end_s = self.at_s + seconds
        while self.at_s < end_s - 1e-9:
            self.at_s = min(end_s, self.at_s + 0.1)
            outputs += self.settle(self.dialogue.tick(self.at_s))
        return outputs

    def settle(self, outputs: tuple[Output, ...]) -> list[Output]:
        """Keep what is to be kept, as the live session does."""
        done = list(outputs)
        kept = [output.action for output in outputs if isinstance(output, CommitAction)]
        if kept:
            self.events += kept
            done += self.settle(self.dialogue.settled(self.derived(), self.at_s))
        return done

    def start(self) -> Field:
        """Begin a session of Bracken's in which nothing is to be warned of at first."""
        for words in ("start session bracken", "affirm", "fit check two fingers", "here vibrate"):
            self.says(words)
        self.says("came")
        self.waits(61.0)
        return self


def tones(outputs: list[Output]) -> list[str]:
    """The tones among acts."""
    return [output.tone for output in outputs if isinstance(output, PlayTone)]


def said(outputs: list[Output]) -> list[str]:
    """The words spoken among acts."""
    return [output.words for output in outputs if isinstance(output, SpeakWords)]


def warned(outputs: list[Output]) -> list[str]:
    """The rules that spoke among acts."""
    return [output.rule for output in outputs if isinstance(output, SpeakWords) and output.rule]
