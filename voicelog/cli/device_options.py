"""Options of commands that work with a microphone and an earphone."""

from __future__ import annotations

from typing import Annotated, Literal

import typer

__all__ = ["DeviceName", "OutputName", "RateOption", "Side", "SideOption"]

Side = Literal["left", "right"]
DeviceName = Annotated[
    str | None,
    typer.Option(
        "--device", metavar="NAME", help="Microphone, by a part of its name. Default: the system's."
    ),
]
RateOption = Annotated[
    int | None,
    typer.Option("--rate", min=8000, max=192000, metavar="HZ", help="Sample rate to ask for."),
]
OutputName = Annotated[
    str | None,
    typer.Option(
        "--output", metavar="NAME", help="Earphone, by a part of its name; 'none' for silence."
    ),
]
SideOption = Annotated[Side, typer.Option("--side", help="The ear with the earphone in it.")]
