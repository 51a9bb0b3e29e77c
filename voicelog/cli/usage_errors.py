"""What the parser of the command line refuses, as a sentence with an example.

The parser says "Missing option '--day'." over three lines of usage. Which command it is, what it
wants there and how that is typed stand in the command's own help, so they are taken from it.
"""

from __future__ import annotations

import re
from difflib import get_close_matches
from typing import Any, Final

__all__ = ["is_usage_error", "usage_sentence"]

_WANTED: Final = (
    (r"valid integer", "a whole number"),
    (r"valid (?:float|number)", "a number"),
    (r"greater than or equal to (\S+)", r"a number from \1 on"),
    (r"less than or equal to (\S+)", r"a number up to \1"),
    (r"not in the range \w*?>?=?(\d+)<=\w+<=(\d+)", r"a number from \1 to \2"),
    (r"not in the range \w+>=(\d+)", r"a number from \1 on"),
    (r"'[^']*' is not one of (.*?)\.?$", r"one of \1"),
    (r"Input should be (.*?)\.?$", r"\1"),
)
"""What the parser says of a value that it cannot take, and what is wanted in its place."""


def is_usage_error(error: Exception) -> bool:
    """Whether the parser of the command line raised it; its own classes have no public place."""
    return hasattr(error, "format_message") and hasattr(error, "ctx")


def usage_sentence(error: Any) -> str:
    """What is wanted in place of what was typed, and an example from the command's help. `error` is
    one for which `is_usage_error` holds."""
    context = error.ctx
    command = "voicelog" if context is None else str(context.command_path)
    example = _example(context)
    said = str(error.format_message())
    name = type(error).__name__
    param = getattr(error, "param", None)
    if name == "MissingParameter" and param is not None:
        about = str(getattr(param, "help", "") or "").strip().rstrip(".")
        beside = f" ({about[0].lower()}{about[1:]})" if about else ""
        return f"'{command}' needs {_named(param)}{beside}; {example}"
    if name == "NoSuchOption":
        like = get_close_matches(error.option_name, tuple(error.possibilities or ()), 1)
        end = f"{example[0].upper()}{example[1:]}"
        meant = f"; did you mean {like[0]}? {end}" if like else f"; {example}"
        return f"'{command}' has no option {error.option_name}{meant}"
    if name == "BadOptionUsage":
        return f"There is no value after '{error.option_name}'; type it there."
    if name == "BadParameter" and param is not None:
        message = str(error.message)
        for pattern, wanted in _WANTED:
            if (found := re.search(pattern, message)) is not None:
                return f"'{command}' wants {found.expand(wanted)} for {_named(param)}; {example}"
    if (extra := re.search(r"unexpected extra arguments?(?:\(s\))? \((.*)\)", said)) is not None:
        return (
            f"'{command}' does not know what to do with '{extra[1]}'; put a name of several words "
            f"into quotes; {example}"
        )
    if (unknown := re.search(r"No such command '(.*?)'", said)) is not None:
        like = re.findall(r"Did you mean (.+?)\??$", said)
        end = f"did you mean {like[0]}?" if like else f"see '{command} --help'."
        return f"There is no command '{command} {unknown[1]}'; {end}"
    return f"{said.rstrip('.')}; {example}"


def _named(param: Any) -> str:
    """An option with what follows it, or the place of an argument, as the help writes them."""
    metavar = re.sub(r"[^\w ]", "", str(param.metavar or ""))
    if param.param_type_name == "argument":
        return metavar or str(param.name).upper()
    option = max(param.opts, key=len)
    return f"{option} {metavar}" if metavar else str(option)


def _example(context: Any) -> str:
    text = "" if context is None else str(context.command.help or "")
    found = re.search(r"Example: (voicelog .+?)(?:\n\s*\n|$)", text, re.DOTALL)
    if found is None:
        command = "voicelog" if context is None else context.command_path
        return f"see '{command} --help'."
    return f"for example: {' '.join(found[1].split())}"
