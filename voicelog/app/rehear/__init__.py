"""Hear a kept recording again, and take over what is new where no person has read.

Listeners and vocabulary get better; what was heard with older ones need not stay as it is.
`rehear` hears the kept sound, holds it against what the log says and against what people
have read, and changes nothing. `accept_rehearing` appends what differs: new verdicts for the same
utterances; new utterances where the sound falls apart otherwise, and a verdict for each old
one that says which stand in its place. So nothing is removed and no note stands twice.

Whatever a person has read, put in or acted on stays as it is, and so do the utterances
beside it that would have to be cut or joined with it. The same listeners and the same
vocabulary change nothing.
"""

from voicelog.app.rehear.chosen import recordings_to_rehear
from voicelog.app.rehear.compare import compare
from voicelog.app.rehear.current_roster import current_roster
from voicelog.app.rehear.difference import (
    Difference,
    SoundGoneError,
    UtteranceChange,
    UtteranceText,
)
from voicelog.app.rehear.rehear import accept_rehearing, rehear, rehear_task, rehear_today
from voicelog.app.rehear.told import HeardAgain, difference_lines, name_of, sum_lines

__all__ = [
    "Difference",
    "HeardAgain",
    "SoundGoneError",
    "UtteranceChange",
    "UtteranceText",
    "accept_rehearing",
    "compare",
    "current_roster",
    "difference_lines",
    "name_of",
    "recordings_to_rehear",
    "rehear",
    "rehear_task",
    "rehear_today",
    "sum_lines",
]
