"""The output contract: what `voicelog read --format json` prints.

Field names and meanings change only together with the format's number. Two are written: format 1,
which every output carries unless another was asked for, and format 2, which adds to each rep the
moments that were said and what lies between them. `docs/contract.md` tells what is in them.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any, Literal, get_args

from voicelog.model.base import FrozenModel
from voicelog.model.events import By, Status
from voicelog.model.findings import Finding
from voicelog.model.sessions import Condition, Rep

__all__ = [
    "CONTRACT_FORMATS",
    "CONTRACT_VERSION",
    "ContractFormat",
    "Document",
    "EntryOutput",
    "RecordingOutput",
    "SessionOutput",
    "SoundLevel",
]

CONTRACT_VERSION: Literal[1] = 1
"""Version of the output contract; every machine-readable output carries it that was not asked
for another."""
ContractFormat = Literal[1, 2]
CONTRACT_FORMATS: tuple[ContractFormat, ...] = get_args(ContractFormat)
"""The formats in which a document is written."""


class SoundLevel(FrozenModel):
    """Level of a recording: dBFS re digital full scale (a full-scale sine has RMS -3.01).

    Null where it cannot be measured: digital silence has no level, and sound without
    speech no speech-to-noise ratio.
    """

    peak_dbfs: float | None = None
    rms_dbfs: float | None = None
    clipped_share: float | None = None
    snr_db: float | None = None


class SessionOutput(FrozenModel):
    """A session in the contract."""

    id: str
    dog: str
    start_s: float
    end_s: float
    conditions: tuple[Condition, ...] = ()


class EntryOutput(FrozenModel):
    """An entry in the contract.

    `kind` names the kinds of its phrases in spoken order, joined by "+" ("stimulus+outcome").
    `slots` merges the phrases' values; a name said more than once holds a list.
    """

    id: str
    session: str | None = None
    start_s: float
    end_s: float
    heard: str
    reading: str
    status: Status
    confidence: float
    alternatives: tuple[str, ...] = ()
    kind: str = ""
    slots: Mapping[str, Any] = {}
    by: By = "listener"
    voided: bool = False
    placed: bool = True


class RecordingOutput(FrozenModel):
    """A recording in the contract, with everything derived from it."""

    audio: str
    sha256: str
    started_at: datetime | None = None
    duration_s: float
    listeners: tuple[str, ...] = ()
    grammar: str = ""
    dog: str | None = None
    sound: SoundLevel = SoundLevel()
    sessions: tuple[SessionOutput, ...] = ()
    entries: tuple[EntryOutput, ...] = ()
    reps: tuple[Rep, ...] = ()
    findings: tuple[Finding, ...] = ()


class Document(FrozenModel):
    """The whole output of `voicelog read --format json`.

    In format 1 the reps are written without `times`, `intervals`, `doubts` and `failed_first`
    (`voicelog.report.tables.dump`).
    """

    format: ContractFormat = CONTRACT_VERSION
    recordings: tuple[RecordingOutput, ...] = ()
