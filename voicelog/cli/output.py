"""Summaries in the form asked for, to the screen or to a file."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, Literal

import typer

from voicelog.model import VoicelogError
from voicelog.report import html, markdown, text
from voicelog.report.summary import Summary

__all__ = ["PaperFormat", "papers", "write_file_bytes", "write_output"]

PaperFormat = Annotated[
    Literal["text", "markdown", "html"],
    typer.Option("--format", help="How to lay it out."),
]


def papers(
    summaries: Sequence[Summary], output: str, *, to_screen: bool = True, plain: bool = False
) -> str:
    """The summaries as one text, ready to print; `plain` text is for a screen reader."""
    if output == "html":
        return html.render(*summaries)
    if output == "markdown":
        return "\n".join(markdown.render(summary) for summary in summaries)
    colour = to_screen and not plain and sys.stdout.isatty()
    return "\n".join(text.render(one, colour=colour, plain=plain) for one in summaries)


def write_output(content: str, file: Path | None) -> None:
    """Print, or write to a file, whole or not at all."""
    if file is None:
        typer.echo(content, nl=not content.endswith("\n"))
        return
    write_file_bytes(content.encode("utf-8"), file)


def write_file_bytes(content: bytes, file: Path) -> None:
    """Write to a file, whole or not at all."""
    part = file.with_name(f"{file.name}.part")
    try:
        part.unlink(missing_ok=True)
        # Names of people: for its owner alone, whatever the system would allow others.
        with os.fdopen(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as out:
            out.write(content)
        part.replace(file)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise VoicelogError(
            f"Found no way to write '{file}' ({error.strerror}), wanted a file in a folder of "
            "your own; name another with --output."
        ) from error
