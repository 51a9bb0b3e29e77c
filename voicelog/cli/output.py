"""Summaries in the form asked for, to the screen or to a file."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable, Iterator
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
    summaries: Iterable[Summary], output: str, *, to_screen: bool = True, plain: bool = False
) -> Iterator[str]:
    """The summaries as text, a piece of it for each where the format allows that, ready to print;
    `plain` text is for a screen reader."""
    if output == "html":
        yield html.render(*summaries)
        return
    colour = to_screen and not plain and sys.stdout.isatty()
    for number, one in enumerate(summaries):
        yield "\n" if number else ""
        if output == "markdown":
            yield markdown.render(one)
        else:
            yield text.render(one, colour=colour, plain=plain)


def write_output(content: str | Iterable[str], file: Path | None) -> None:
    """Print, or write to a file, whole or not at all. Of pieces none is held longer than it takes
    to write it."""
    pieces = (content,) if isinstance(content, str) else content
    if file is None:
        last = ""
        for piece in pieces:
            typer.echo(piece, nl=False)
            last = piece or last
        typer.echo("", nl=not last.endswith("\n"))
        return
    write_file_bytes((piece.encode("utf-8") for piece in pieces), file)


def write_file_bytes(content: bytes | Iterable[bytes], file: Path) -> None:
    """Write to a file, whole or not at all."""
    part = file.with_name(f"{file.name}.part")
    try:
        part.unlink(missing_ok=True)
        # Names of people: for its owner alone, whatever the system would allow others.
        with os.fdopen(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as out:
            for piece in (content,) if isinstance(content, bytes) else content:
                out.write(piece)
        part.replace(file)
    except OSError as error:
        raise VoicelogError(
            f"Found no way to write '{file}' ({error.strerror}), wanted a file in a folder of "
            "your own; name another with --output."
        ) from error
    finally:
        part.unlink(missing_ok=True)  # where it was not finished, for whatever reason
