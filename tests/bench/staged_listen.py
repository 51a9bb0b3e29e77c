"""`voicelog listen`, with a line in a file at each stage of a note; run as a child.

python -m tests.bench.staged_listen STAGES listen ...

Each line is the moment in the recording (s), a stage, and what it is about: `pause` and `talk` as
she stops and begins, `noted ID END STATUS WORDS` as an utterance comes from recognition, `lag S`
with it: how much sound was not heard through by then, `kept ID` once it is committed and derived,
`says RULE WORDS` as words are handed to the earphone.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from voicelog.cli import main
from voicelog.live.live_session import LiveSession
from voicelog.live.outputs import SpeakWords
from voicelog.live.recognition_messages import SpeechChanged, UtteranceRecognized
from voicelog.model import Event


def watch(path: Path) -> None:
    """Write the stages of every live session into the file."""
    file = path.open("a", buffering=1)

    def tell(live: LiveSession, *words: object) -> None:
        print(f"{live.at_s:.3f}", *words, file=file, sep="\t")

    message, commit, begun = LiveSession._message, LiveSession._commit, LiveSession.__init__

    def told_message(live: LiveSession) -> Any:
        one = message(live)
        if isinstance(one, SpeechChanged):
            tell(live, "talk" if one.speaking else "pause")
        elif isinstance(one, UtteranceRecognized):
            utterance, _, verdict = one.utterance
            tell(live, "noted", utterance.id, utterance.end_s, verdict.status, verdict.words)
            tell(live, "lag", live.lag_s)
        return one

    def told_commit(live: LiveSession, batch: Sequence[Event]) -> None:
        commit(live, batch)
        tell(live, "kept", batch[0].id)

    def told_begun(live: LiveSession, *given: Any, **named: Any) -> None:
        begun(live, *given, **named)
        say = live.feedback.say

        def told_say(output: SpeakWords, at_s: float) -> Any:
            tell(live, "says", output.rule or "", output.words)
            return say(output, at_s)

        live.feedback.say = told_say  # type: ignore[method-assign]

    for name, told in (
        ("_message", told_message),
        ("_commit", told_commit),
        ("__init__", told_begun),
    ):
        setattr(LiveSession, name, told)


if __name__ == "__main__":
    watch(Path(sys.argv[1]))
    del sys.argv[1]
    main()
