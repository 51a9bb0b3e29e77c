"""`voicelog learn`: how right the log is on the voices that people have read."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Sequence
from functools import partial
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from voicelog.cli import options
from voicelog.cli.intake import each
from voicelog.cli.lists import load_settings, open_log
from voicelog.cli.log import ready_diary
from voicelog.cli.rehear import again, name_of

if TYPE_CHECKING:
    from voicelog.diary import Diary
    from voicelog.grammar.grammar import Grammar
    from voicelog.hearing.engines import Wanted
    from voicelog.log import Kept, Log
    from voicelog.model import Roster
    from voicelog.rehear.learn import Learned
    from voicelog.rehear.ways import Trial, Way
    from voicelog.report.paper import Section

__all__ = ["learn"]


def learn(
    output: Annotated[
        Literal["text", "json"], typer.Option("--format", help="How to lay it out.")
    ] = "text",
    plain: Annotated[
        bool, typer.Option("--plain", help="Text for a screen reader: no indents.")
    ] = False,
    word: Annotated[
        str | None,
        typer.Option(
            "--try",
            metavar="WORD",
            help="Hear what was corrected again, with another way to say this word beside it.",
        ),
    ] = None,
    like: Annotated[
        str | None,
        typer.Option(
            "--like",
            metavar="SPELLING",
            help="How the word is said, spelled by ear. Default: from the accents.",
        ),
    ] = None,
    who: Annotated[
        str | None, typer.Option("--as", metavar="NAME", help="Whose voice it is for.")
    ] = None,
    keep: Annotated[
        bool, typer.Option("--keep", help="Keep what gains without asking first.")
    ] = False,
    listener: options.ListenerOption = None,
    jobs: options.Jobs = 1,
    settings: options.SettingsFile = None,
    data_dir: options.DataDir = None,
) -> None:
    """Say how right the log is, and which words are taken for others, from what was corrected.

    It wants 200 entries that people have read at the page of 'voicelog review' (set another
    number: learn_entries), and then says what could be done about the words that go wrong.
    With --try another way to say a word is tried on the recordings that were corrected; it is
    kept with the handler's voice only where it gains, and only when told to.

    Example: voicelog learn --try nine --as Anna
    """
    from voicelog.grammar.grammar import Grammar
    from voicelog.model import UsageError
    from voicelog.rehear.advise import advise
    from voicelog.rehear.learn import learn as learnt_from
    from voicelog.rehear.reviewed import reviews
    from voicelog.rehear.told import sections, too_few

    if word is None and (like or keep or who):
        raise UsageError("Found --like, --as or --keep, wanted a word to try; add --try WORD.")
    with open_log(data_dir) as log:
        wanted = load_settings(settings, data_dir).learn_entries
        grammar = Grammar.load(roster=log.roster())
        diary = ready_diary(log)
        found = reviews(log)
        learned = learnt_from(found)
        missing = too_few(learned.read, wanted)
        if output == "text" and missing:
            typer.echo(missing)
        elif word is not None:
            name = _speaker(log.roster(), who)
            way = _way(word, like, grammar, learned)
            recordings = dict.fromkeys(one.recording for one in found.read)
            trial = _tried(log, way, _by(log, diary, name, recordings), listener, jobs)
            _settle(log, trial, name, keep=keep)
        elif output == "json":
            typer.echo(learned.model_dump_json(indent=2))
        else:
            _print(sections(learned, advise(learned.confusions, grammar)), plain=plain)


# --- another way to say a word ------------------------------------------------------------


def _speaker(roster: Roster, who: str | None) -> str:
    """Whose voice; refused where that is not clear or not on the roster."""
    from voicelog.model import UsageError

    known = {one.casefold(): one for one in roster.handlers}
    if who is None and len(known) == 1:
        return roster.handlers[0]
    if who is None or who.casefold() not in known:
        have = ", ".join(roster.handlers) or "none yet: voicelog dogs handler NAME"
        what = f"no handler '{who}'" if who else "no handler named"
        raise UsageError(f"Found {what}, wanted one of the roster ({have}); name one with --as.")
    return known[who.casefold()]


def _way(word: str, like: str | None, grammar: Grammar, learned: Learned) -> Way:
    from voicelog.model import UsageError
    from voicelog.rehear.ways import spelled, toward

    word = word.casefold()
    if word not in grammar.vocabulary:
        raise UsageError(
            f"Found '{word}' to try, wanted one word that may be spoken; see 'voicelog words list'."
        )
    if like is not None:
        return spelled(word, like)
    heard = next((one.heard for one in learned.confusions if one.said == word), "")
    return toward(word, heard)


def _by(log: Log, diary: Diary, handler: str, recordings: Iterable[str]) -> list[Kept]:
    """Of these recordings those with sound in which no other handler was named."""
    found = []
    for recording in recordings:
        kept = log.recording(recording)
        sessions = diary.line(recording).sessions
        named = {c.value.casefold() for s in sessions for c in s.conditions if c.name == "handler"}
        if kept is not None and log.sound_of(kept) and named <= {handler.casefold()}:
            found.append(kept)
    return found


def _tried(log: Log, way: Way, recordings: list[Kept], listener: Wanted | None, jobs: int) -> Trial:
    """Hear the recordings without the way and with it; one that cannot be heard counts in
    neither."""
    from voicelog.model import VoicelogError
    from voicelog.rehear import Score
    from voicelog.rehear.ways import Trial

    if not recordings:
        raise VoicelogError(
            "Found no recording of that handler that was corrected and has its sound, wanted one "
            "to try it on; see --as."
        )
    scores: list[dict[str, Score]] = []
    for with_it in (None, way):
        work = partial(again, log.folder, listener, way=with_it)
        heard: dict[str, Score] = {}
        for kept, result in each(recordings, work, jobs, name_of):
            if isinstance(result, Exception):
                typer.echo(f"voicelog: {result}", err=True)
            else:
                heard[kept.id] = result.after
        scores.append(heard)
    both = scores[0].keys() & scores[1].keys()
    before, after = (sum((some[one] for one in both), Score()) for some in scores)
    return Trial(way=way, before=before, after=after)


def _settle(log: Log, trial: Trial, name: str, *, keep: bool) -> None:
    """Show what a trial gave, and keep the way where it gains and that is wanted."""
    from voicelog.hearing.voice import voice_at
    from voicelog.rehear.told import OUTCOMES
    from voicelog.rehear.ways import GAIN, with_way

    way = trial.way
    typer.echo(f"'{way.word}' said as {way.phones} too, on {trial.before.read} entries read:")
    for outcome, meaning in OUTCOMES.items():
        then, now = getattr(trial.before, outcome), getattr(trial.after, outcome)
        typer.echo(f"  {meaning:<42}{then:>5} without {now:>5} with it")
    if not trial.gains:
        typer.echo(
            f"No gain ({GAIN} more right and no more wrong were wanted), so nothing to keep."
        )
        return
    typer.echo("It was tried on the same recordings that it was looked for in, so expect less.")
    if not keep and not (sys.stdin.isatty() and typer.confirm(f"Keep it for {name}?")):
        typer.echo("Not kept; to keep it, run this again with --keep.")
        return
    voices = log.voices()
    log.put_voice(with_way(voice_at(voices, name), way, name, voices))
    typer.echo(
        f"Kept for {name}; used where {name} speaks (--as {name}). To let go of it: "
        f"voicelog voice {name} --forget."
    )


# --- the report ---------------------------------------------------------------------------


def _print(sections: Sequence[Section], *, plain: bool) -> None:
    from voicelog.report.page import Page

    page = Page(sys.stdout.isatty() and not plain)
    for section in sections:
        page.gap()
        page.put("", section.title.upper())
        for line in section.lines:
            label = f"{line.label}: " if line.label else ""
            page.put_hanging("few" if line.few else "", "", f"{label}{line.words}")
        if section.note:
            page.put("", f"({section.note})")
    typer.echo("\n".join(line.strip() if plain else line for line in page.lines))
