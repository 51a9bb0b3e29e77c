"""The log for other programs, as the contents of files by their names; nothing is written here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from voicelog.app.session_catalog import SessionCatalog
from voicelog.app.session_choice import chosen_sessions
from voicelog.model import CONTRACT_VERSION, ContractFormat, Document
from voicelog.report import tables
from voicelog.report.data_package import PACKAGE, datapackage
from voicelog.report.use_record import use_record, uses_csv

__all__ = ["ExportedFiles", "export_log", "export_use_record"]


@dataclass(frozen=True, slots=True)
class ExportedFiles:
    """What is to be written, and how much it tells of."""

    files: Mapping[str, str]
    """Contents by file name."""
    count: int
    """Recordings, or, in a record of use, sessions."""


def export_log(
    catalog: SessionCatalog,
    form: Literal["json", "csv"],
    contract: ContractFormat = CONTRACT_VERSION,
) -> ExportedFiles:
    """Every recording: as the contract in JSON, or as three tables with their description."""
    document = Document(format=contract, recordings=catalog.lines())
    if form == "json":
        files = {"voicelog.json": tables.dump(document) + "\n"}
    else:
        files = {
            "reps.csv": tables.reps_csv(document),
            "entries.csv": tables.entries_csv(document),
            "findings.csv": tables.findings_csv(document),
            PACKAGE: datapackage(),
        }
    return ExportedFiles(files, len(document.recordings))


def export_use_record(
    catalog: SessionCatalog, dog: str | None = None, reason: str = ""
) -> ExportedFiles:
    """The record of use of collars of one dog, or of all: a row for each session with one, by date.

    Raises:
        VoicelogError: there is no session.
    """
    roster = catalog.log.roster()
    pages = (catalog.page(row.key) for row in chosen_sessions(catalog, dog, every=True))
    uses = [
        use_record(
            page.session,
            page.findings,
            page.began,
            reason=reason,
            today=roster.dog(page.session.dog.name),
        )
        for page in filter(None, pages)
    ]
    found = sorted(filter(None, uses), key=lambda use: use.date)
    return ExportedFiles({"record.csv": uses_csv(found)}, len(found))
