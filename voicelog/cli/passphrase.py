"""Ask for a passphrase at the terminal; where there is none, nobody is asked."""

from __future__ import annotations

import getpass
import os
import sys
from pathlib import Path

import typer

from voicelog.model import UsageError
from voicelog.report.lock_words import LOST

__all__ = ["ask_passphrase", "new_passphrase"]


def ask_passphrase(place: Path) -> str | None:
    """The passphrase of a log, or of a locked file; None where nobody can be asked."""
    if not sys.stdin.isatty():
        return None
    return getpass.getpass(f"Passphrase of {place}: ") or None


def new_passphrase(variable: str, *, lost: bool = True) -> str:
    """A passphrase that does not stand yet: of the environment, or typed twice. `lost`: say what
    losing it means.

    Raises:
        UsageError: the two are not the same, or nobody can be asked.
    """
    said = os.environ.get(variable)
    if said:
        return said
    if not sys.stdin.isatty():
        raise UsageError(f"Found no passphrase and nobody to ask for it; set {variable}.")
    if lost:
        typer.echo(LOST, err=True)
    first = getpass.getpass("New passphrase (four words will do): ")
    if getpass.getpass("The same again: ") != first:
        raise UsageError("Found two different passphrases, wanted the same twice; begin again.")
    return first
