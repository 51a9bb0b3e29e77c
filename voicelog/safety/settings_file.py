"""Read and write the safety settings file; a slip of the pen in it is found at the start.

Errors name the file and the line, what was found there, and what is allowed: a setting that
was silently ignored would be a safety rule that nobody knows has its old threshold.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Collection, Iterator, Sequence
from pathlib import Path
from typing import Any, get_args

from pydantic import ValidationError
from rapidfuzz import process

from voicelog.analysis.criteria import Criteria
from voicelog.grammar.signs import signs
from voicelog.model import VoicelogError
from voicelog.model.input_limits import OddFileError, checked_file
from voicelog.model.names import name_key
from voicelog.safety.settings import Settings, Thresholds, bounds

__all__ = ["SettingsError", "default_toml", "load_settings", "toml_value", "with_setting"]

_OWN = tuple(sorted(Thresholds.model_fields, key=lambda name: name in Criteria.model_fields))
_COMMON = (*_OWN, "temperature_unit", "learn_entries")
_LONGEST = 1 << 18
"""Bytes of a settings file, at most; with every setting for two hundred dogs it has a fifth."""
_LONGEST_LINE = 4_000
"""Characters of a line, at most: each point in a key costs the reader of TOML as much as all before
it."""
_KEY = re.compile(r"""\s*["']?([\w-]+)["']?\s*=""")


class SettingsError(VoicelogError):
    """The settings file says something that cannot be meant; `key` and `line` say where. Where
    `others` are wrong in it too, they are told after it."""

    def __init__(
        self,
        path: Path,
        line: int | None,
        key: str | None,
        fault: str,
        others: Sequence[SettingsError] = (),
    ) -> None:
        self.path, self.line, self.key, self.fault = path, line, key, fault
        told = f"{path}{f', line {line}' if line else ''}: {fault}"
        super().__init__("\n".join((told, *map(str, others))))


def load_settings(path: Path, known_dogs: Collection[str] | None = None) -> Settings:
    """The settings in a TOML file: those of every dog at the top, a dog's own thresholds
    under [dog.NAME].

    Where `known_dogs` are given, a heading for any other dog is an error.

    Raises SettingsError when the file cannot be read, is not TOML, names something that is
    not a setting, or gives a value that is not allowed; it tells all that is wrong with a file that
    can be read.
    """
    try:
        checked_file(path, _LONGEST)
        text = path.read_text(encoding="utf-8")
    except OddFileError as error:
        raise SettingsError(path, None, None, f"{error.fault}.") from error
    except (OSError, UnicodeDecodeError) as error:
        raise SettingsError(path, None, None, f"cannot be read ({error}).") from error
    for number, words in enumerate(text.splitlines(), start=1):
        if len(words) > _LONGEST_LINE:
            fault = f"this line has {len(words)} characters, and no setting needs a tenth of that."
            raise SettingsError(path, number, None, fault)
    try:
        found = tomllib.loads(text)
    except RecursionError as error:
        fault = "values lie within values far deeper than any setting; look at its brackets."
        raise SettingsError(path, None, None, fault) from error
    except tomllib.TOMLDecodeError as error:
        at = re.search(r"at line (\d+)", str(error))
        end = len(text.splitlines())
        fault = f"this is not TOML: {error}."
        raise SettingsError(path, int(at[1]) if at else end, None, fault) from error
    except ValueError as error:  # a number of thousands of digits
        fault = "a number is longer than any setting; look for a run of digits."
        raise SettingsError(path, None, None, fault) from error
    dogs = found.pop("dog", {})
    if not isinstance(dogs, dict) or not all(isinstance(own, dict) for own in dogs.values()):
        line = _line_of(text, (), "dog") or _line_of(text, ("dog",), "")
        wanted = "a dog's own thresholds stand under a heading such as [dog.Juno]."
        raise SettingsError(path, line, "dog", wanted)
    wrong = list(_faults(path, text, (), found, found))
    thresholds = {key: value for key, value in found.items() if key in _OWN}
    for name, own in dogs.items():
        if known_dogs is not None and name_key(name) not in map(name_key, known_dogs):
            line = _line_of(text, ("dog", name), "")
            fault = f'"{name}" is not a dog of this log; {_hint(name, known_dogs)}'
            wrong.append(SettingsError(path, line, name, fault))
        wrong += _faults(path, text, ("dog", name), own, _over(thresholds, own))
    if wrong:
        first, *others = sorted(wrong, key=lambda one: one.line or 0)
        raise SettingsError(path, first.line, first.key, first.fault, others)
    whole = {name: Thresholds(**_over(thresholds, own)) for name, own in dogs.items()}
    return Settings(**found, dog=whole)


def default_toml() -> str:
    """The settings file with every default, its meaning, unit and basis beside it."""
    lines = [
        "# Settings of voicelog. Change a value here for every dog, or a threshold under",
        "# [dog.NAME] for one. A changed threshold is named in what it changes and in every",
        "# summary; no rule can be switched off.",
        "",
    ]
    for name in _COMMON:
        field = Settings.model_fields[name]
        lines += [f"# {field.description}. Allowed: {_wanted(name)}."]
        lines += [f"{name} = {_toml(field.default)}", ""]
    lines += ["# [dog.Juno]", "# presses_adult = 10"]
    return "\n".join(lines) + "\n"


def with_setting(text: str, name: str, value: str | None, dog: str = "") -> str:
    """The text of a settings file with one setting changed, the rest as people wrote it.

    Args:
        text: the file.
        name: the setting.
        value: as TOML; None: the line goes, so that the default holds.
        dog: whose; empty for every dog's.

    Raises:
        ValueError: the file is laid out so that the change would change something else.
    """
    table = ("dog", dog) if dog else ()
    lines = text.splitlines()
    here = _line_of(text, table, name)
    own = here is not None and _KEY.match(lines[here - 1]) is not None
    if own and here is not None:
        lines[here - 1 : here] = [] if value is None else [f"{name} = {value}"]
    elif value is not None and here is not None:
        lines.insert(here, f"{name} = {value}")
    elif value is not None and dog:
        lines += ["", f"[dog.{_quoted(dog)}]", f"{name} = {value}"]
    elif value is not None:
        heads = (place for place, line in enumerate(lines) if line.lstrip().startswith("["))
        lines.insert(next(heads, len(lines)), f"{name} = {value}")
    changed_text = "\n".join(lines) + "\n"
    wanted = tomllib.loads(text)
    own_table = wanted.setdefault("dog", {}).setdefault(dog, {}) if dog else wanted
    own_table.pop(name, None)
    if value is not None:
        own_table[name] = tomllib.loads(f"x = {value}")["x"]
    if _bare(tomllib.loads(changed_text)) != _bare(wanted):
        raise ValueError("the layout of the file")
    return changed_text


def toml_value(name: str, typed: str) -> str:
    """What a person typed for a setting, as TOML; it is checked when the file is read. `typed` is a
    number, a word, or words with commas between."""
    default = Settings.model_fields[name].default
    if isinstance(default, tuple):
        return "[" + ", ".join(_quoted(one.strip()) for one in typed.split(",")) + "]"
    if isinstance(default, str) or re.fullmatch(r"-?\d{1,9}(\.\d{1,9})?", typed) is None:
        return _quoted(typed)
    return f"{typed}.0" if isinstance(default, float) and "." not in typed else typed


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=True)


def _bare(found: dict[str, Any]) -> dict[str, Any]:
    """What a file says, without headings under which nothing stands."""
    dogs = {name: own for name, own in found.get("dog", {}).items() if own}
    rest = {name: value for name, value in found.items() if name != "dog"}
    return rest | ({"dog": dogs} if dogs else {})


def _faults(
    path: Path, text: str, table: tuple[str, ...], said: dict[str, Any], whole: dict[str, Any]
) -> Iterator[SettingsError]:
    """All that is wrong with what stands in one table, each line once."""
    names = _OWN if table else _COMMON
    told: set[str] = set()

    def wrong(key: str, fault: str) -> SettingsError:
        told.add(key)
        return SettingsError(path, _line_of(text, table, key), key, fault)

    for key in said:
        if key in names:
            fault = _no_ending(said[key]) if key == "ending_signs" else None
        elif key in _COMMON:
            fault = f"{key} is the same for every dog; move it above the first heading."
        else:
            fault = f'"{key}" is not a setting; {_hint(key, names if table else (*names, "dog"))}'
        if fault is not None:
            yield wrong(key, fault)
    known = {key: value for key, value in whole.items() if key in names and key not in told}
    try:
        (Thresholds if table else Settings)(**known)
    except ValidationError as error:
        for one in error.errors():
            if one["loc"]:
                at = str(one["loc"][0])
                fault = f"{at} is {whole[at]!r:.60}, but has to be {_wanted(at)}."
            else:
                at = next((key for key in said if key.startswith("heat_")), "")
                fault = f"{one['msg'].removeprefix('Value error, ')}."
            if at in said and at not in told:  # what is wrong above this table is told there
                yield wrong(at, fault)


def _over(common: dict[str, Any], own: dict[str, Any]) -> dict[str, Any]:
    """A dog's own thresholds over the common ones; to a set both add."""
    both = {
        name: [*common[name], *own[name]]
        for name in common.keys() & own.keys()
        if isinstance(common[name], list) and isinstance(own[name], list)
    }
    return common | own | both


def _no_ending(given: Any) -> str | None:
    """What is wrong with signs that are to end the day's stimulation."""
    known = signs()
    strong = [sign for sign, class_ in known.items() if class_ == "strong"]
    for sign in given if isinstance(given, list) else ():
        if sign not in strong:
            found = f"ending_signs holds {sign!r}"
            if sign in known:
                words = ", ".join(strong)
                return f"{found}, wanted are signs that are strong; use some of {words}."
            return f"{found}, which is no strong sign; {_hint(str(sign), strong)}"
    return None


def _hint(found: str, known: Collection[str]) -> str:
    if not known:
        return f"none is known yet; add it first: voicelog dogs put {found}."
    near = process.extractOne(found, known, processor=str.casefold, score_cutoff=60)
    return f'did you mean "{near[0]}"?' if near else f"known are {', '.join(known)}."


def _line_of(text: str, table: tuple[str, ...], key: str) -> int | None:
    """The line (from 1) where a key of a table stands, else the table's heading, else None."""
    here: tuple[str, ...] = ()
    heading = None
    for number, line in enumerate(text.splitlines(), 1):
        if line.lstrip().startswith("[") and "=" not in line:
            here = _heading(line)
            if here[: len(table)] == table and here[len(table) :][:1] in ((), (key,)):
                heading = heading or number
        elif here == table and (at := _KEY.match(line)) and at[1] == key:
            return number
    return heading


def _heading(line: str) -> tuple[str, ...]:
    try:
        inner: Any = tomllib.loads(line)
    except tomllib.TOMLDecodeError:
        return ()
    names: list[str] = []
    while isinstance(inner, dict) and inner:
        name, inner = next(iter(inner.items()))
        names.append(name)
    return tuple(names)


def _wanted(name: str) -> str:
    field = Settings.model_fields[name]
    if isinstance(field.default, tuple):
        return "a list of at least one strong sign, added to those that always end it"
    if isinstance(field.default, str):
        return " or ".join(f'"{choice}"' for choice in get_args(field.annotation))
    low, high = bounds(field)
    kind = "a whole number" if isinstance(field.default, int) else "a number"
    return f"{kind} from {low:g} to {high:g}"


def _toml(value: Any) -> str:
    if isinstance(value, tuple):
        return "[" + ", ".join(f'"{item}"' for item in value) + "]"
    return f'"{value}"' if isinstance(value, str) else str(value)
