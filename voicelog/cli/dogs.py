"""`voicelog dogs`: the roster, one profile a dog."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated, Literal

import typer

from voicelog.app.open_log import known_roster, open_log
from voicelog.app.roster import add_handler, change_dog, remove_dog, remove_handler
from voicelog.cli import options
from voicelog.model import Dog
from voicelog.report.roster_words import cues_words
from voicelog.report.wording.dial import describe_steps

__all__ = ["app"]

app = typer.Typer(
    help="The dogs and handlers whose names may be spoken.",
    no_args_is_help=True,
    rich_markup_mode=None,
)


@app.command("list")
def show_all(data_dir: options.DataDir = None) -> None:
    """List the dogs and handlers.

    Example: voicelog dogs list
    """
    roster = known_roster(data_dir)
    if not roster.dogs and not roster.handlers:
        typer.echo("No dogs yet. Add one: voicelog dogs put Bracken --top 20")
        return
    for dog in roster.dogs:
        unit = dog.transmitter
        parts = [
            f"cues {cues_words(dog)}",
            f"levels {unit.lowest} to {unit.top or 'an unknown top'}, {describe_steps(unit)}",
            _level_words(dog),
        ]
        if dog.collar_number is not None:
            parts.append(f"collar {dog.collar_number}")
        if dog.ceiling is not None:
            parts.append(f"ceiling {dog.ceiling}")
        if dog.born is not None:
            parts.append(f"born {dog.born}")
        if dog.reached:
            parts.append(f"reached {', '.join(dog.reached)}")
        if dog.heat_traits:
            parts.append(f"heat is hard on it ({', '.join(dog.heat_traits)})")
        if dog.litter:
            parts.append(f"litter {dog.litter}")
        if dog.client:
            parts.append(f"client {dog.client}")
        if dog.identification:
            parts.append(f"identified by {dog.identification}")
        typer.echo(f"{dog.name}: {'; '.join(parts)}")
    if roster.handlers:
        typer.echo(f"Handlers: {', '.join(roster.handlers)}")


def _level_words(dog: Dog) -> str:
    """What a level alone is kept as."""
    held = "a held press (continuous)" if dog.default_mode == "continuous" else "a tap (momentary)"
    return f"'level N' alone means {held}"


@app.command("put")
def put(
    name: Annotated[str, typer.Argument(help="The dog's name, as it is called.")],
    cue: Annotated[
        list[str] | None, typer.Option("--cue", help="A cue word of its own; repeat for more.")
    ] = None,
    means: Annotated[
        list[str] | None,
        typer.Option(
            "--means",
            help="What a cue asks for, in your words, as hup=sit; repeat for more. It replaces "
            "what was given before.",
        ),
    ] = None,
    top: Annotated[
        int | None, typer.Option("--top", help="The highest level of its transmitter.")
    ] = None,
    lowest: Annotated[int | None, typer.Option("--lowest", help="The lowest level.")] = None,
    step: Annotated[
        int | None, typer.Option("--step", help="How many levels one notch of its dial moves.")
    ] = None,
    cutoff: Annotated[
        float | None, typer.Option("--cutoff", help="Seconds after which the unit cuts off.")
    ] = None,
    collar: Annotated[int | None, typer.Option("--collar", help="Its collar's number.")] = None,
    mode: Annotated[
        Literal["momentary", "continuous"] | None,
        typer.Option(
            "--mode",
            help="What 'level N' alone means: a held press (continuous, unless you say otherwise) "
            "or a tap (momentary).",
        ),
    ] = None,
    born: Annotated[str | None, typer.Option("--born", help="Birth date, as 2025-09-30.")] = None,
    ceiling: Annotated[
        int | None, typer.Option("--ceiling", help="Its ceiling: never above this level.")
    ] = None,
    reached: Annotated[
        list[str] | None,
        typer.Option("--reached", help="A stage reached: bird, gun, 'off line'; repeat for more."),
    ] = None,
    heat_trait: Annotated[
        list[str] | None,
        typer.Option(
            "--heat-trait",
            help="Why heat is hard on it: heavy, dark, short-faced; repeat for more.",
        ),
    ] = None,
    client: Annotated[
        str | None,
        typer.Option("--client", help="The client it belongs to, for the record of use."),
    ] = None,
    identification: Annotated[
        str | None,
        typer.Option("--ident", help="Chip number or description, for the record of use."),
    ] = None,
    litter: Annotated[
        str | None, typer.Option("--litter", help="The litter it comes from, for the kennel paper.")
    ] = None,
    data_dir: options.DataDir = None,
) -> None:
    """Add a dog, or change the profile of one that is there.

    You are told of names and cue words that sound like other words that may be said.

    Example: voicelog dogs put Bracken --top 20 --cue here --collar 4
    """
    unit = _given(top=top, lowest=lowest, step=step, cutoff_s=cutoff)
    changes = _given(
        cues=tuple(cue) if cue else None,
        cue_meanings=None if means is None else tuple(map(_meaning, means)),
        collar_number=collar,
        default_mode=mode,
        born=options.day_of(born, "--born"),
        ceiling=ceiling,
        reached=tuple(reached) if reached else None,
        heat_traits=tuple(heat_trait) if heat_trait else None,
        client=client,
        litter=litter,
        identification=identification,
    )
    with open_log(data_dir) as log:
        changed = change_dog(log, name, changes | {"transmitter": unit})
    _warn(filter(None, (changed.tidied, *changed.conflicts)))
    known = changed.dog.transmitter
    typer.echo(
        f"{changed.dog.name} is on the roster: levels {known.lowest} to "
        f"{known.top or 'an unknown top (--top)'}; {_level_words(changed.dog)} (--mode)."
    )


def _meaning(given: str) -> dict[str, str]:
    """A cue and what it asks for, of what was typed as hup=sit."""
    cue, _, meaning = (part.strip() for part in given.partition("="))
    return {"cue": cue, "meaning": meaning}


@app.command("remove")
def remove(
    name: Annotated[str, typer.Argument(help="The dog's name.")],
    data_dir: options.DataDir = None,
) -> None:
    """Take a dog off the roster. Its sessions stay in the log.

    Example: voicelog dogs remove Bracken
    """
    with open_log(data_dir) as log:
        remove_dog(log, name)
    typer.echo(f"{name} is off the roster; its sessions stay.")


@app.command("handler")
def handler(
    name: Annotated[str, typer.Argument(help="The handler's name, as it is spoken.")],
    gone: Annotated[bool, typer.Option("--remove", help="Take the name off again.")] = False,
    data_dir: options.DataDir = None,
) -> None:
    """Add a handler's name, or take it off.

    A name that sounds like something else that may be said is pointed out.

    Example: voicelog dogs handler Anna
    """
    with open_log(data_dir) as log:
        if gone:
            remove_handler(log, name)
        else:
            _warn(add_handler(log, name))
    typer.echo(f"{name} is {'off' if gone else 'on'} the roster.")


def _warn(conflicts: Iterable[str]) -> None:
    for conflict in conflicts:
        typer.echo(f"voicelog: {conflict}", err=True)


def _given(**values: object) -> dict[str, object]:
    return {name: value for name, value in values.items() if value is not None}
