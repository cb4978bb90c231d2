"""The command line: every command, one catch of the program's own errors, exit codes 0, 1 (error), 2 (usage)."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from typer.core import TyperGroup

from assistant.audio_cli import audio_app
from assistant.calc_cli import calc
from assistant.errors import AssistantError, UnknownName
from assistant.jobs_cli import jobs_app
from assistant.list_cli import list_tables
from assistant.models_cli import models_app
from assistant.talk_cli import mount as mount_talk
from assistant.upkeep_cli import mount as mount_upkeep
from assistant.visit_cli import prepare

if TYPE_CHECKING:
    from assistant.assembly import Options
    from assistant.domain.answer import Answer
    from assistant.pipeline import Assistant
    from assistant.settings import Settings

app = typer.Typer(
    help="An offline assistant for the technician inside a packaging machine's cabinet. Without a command: the chat.",
    invoke_without_command=True,
    no_args_is_help=False,
    pretty_exceptions_enable=False,
    add_completion=False,
    rich_markup_mode=None,
)
app.add_typer(models_app, name="models", no_args_is_help=True)
mount_upkeep(jobs_app)
app.add_typer(jobs_app, name="jobs", no_args_is_help=True)
app.command("prepare")(prepare)
app.command("calc")(calc)
app.command("list")(list_tables)
app.add_typer(audio_app, name="audio", no_args_is_help=True)

JsonFlag = Annotated[bool, typer.Option("--json", help="Print a JSON object instead of text.")]
MachineFlag = Annotated[str | None, typer.Option("--machine", "-m", help="The machine in scope (see `machines`).")]
LastGood = Annotated[bool, typer.Option("--last-good", help="Serve the last good index if the knowledge has faults.")]
NoModel = Annotated[bool, typer.Option("--no-model", help="Leave the language model out.")]


MOST_LINES = 9
"""Lines of one error on the screen; the knowledge's faults are listed whole by `check`."""


def say(text: str) -> None:
    """A notice to the user, beside the answer."""
    typer.echo(f"note: {text}", err=True)


def _settings(machine: str | None = None) -> Settings:
    from dataclasses import replace

    from assistant.settings import load_settings

    settings = load_settings()
    return settings if machine is None else replace(settings, machine=machine)


def _assistant(settings: Settings, *, last_good: bool = False, model: bool = True) -> Assistant:
    from assistant.assembly import Options, make_assistant

    assistant = make_assistant(settings, Options(last_good=last_good, model=model), say)
    _check_machine(assistant, settings.machine)
    return assistant


def _check_machine(assistant: Assistant, machine: str | None) -> None:
    packs = [m.pack for m in assistant.knowledge.machines]
    if machine is not None and machine not in packs:
        raise UnknownName(f"There is no machine `{machine}`.", f"Machines: {', '.join(packs)}.")


@app.callback()
def root(
    context: typer.Context,
    machine: MachineFlag = None,
    json_lines: Annotated[bool, typer.Option("--json", help="Chat: an object for each turn.")] = False,
) -> None:
    """Start the chat when no command is given."""
    if context.invoked_subcommand is None:
        chat(machine=machine, json_lines=json_lines)
    elif isinstance(context.command, TyperGroup):
        given: dict[str, object] = {"--machine": machine, "--json": json_lines or None}
        context.default_map = handed_down(context.command, given)


def handed_down(group: TyperGroup, given: Mapping[str, object]) -> dict[str, object]:
    """Options said before the command -> defaults of every command that takes them, so that none is heard and then lost.

    A machine named before `ask` and dropped on the way would answer with another machine's figures.
    """
    found: dict[str, object] = {}
    for name, command in group.commands.items():
        if isinstance(command, TyperGroup):
            found[name] = handed_down(command, given)
        else:
            found[name] = {
                p.name: value
                for option, value in given.items()
                if value is not None
                for p in command.params
                if option in p.opts
            }
    return found


@app.command()
def chat(
    machine: MachineFlag = None,
    json_lines: Annotated[bool, typer.Option("--json", help="Read turns from standard input, an object each.")] = False,
    last_good: LastGood = False,
    no_model: NoModel = False,
) -> None:
    """The conversation: questions, follow-ups, declarations; `?` for help."""
    from assistant.chat import run_chat

    settings = _settings(machine)
    run_chat(_assistant(settings, last_good=last_good, model=not no_model), settings, json_lines=json_lines)


@app.command()
def ask(
    question: Annotated[list[str] | None, typer.Argument(help="The question; left out: standard input.")] = None,
    as_json: JsonFlag = False,
    audio: Annotated[bool, typer.Option("--audio", help="What is named are sound files, a question in each.")] = False,
    sure: Annotated[
        bool, typer.Option("--sure", help="With --audio: codes and figures heard count as confirmed.")
    ] = False,
    lines: Annotated[bool, typer.Option("--lines", help="One independent question a line of standard input.")] = False,
    machine: MachineFlag = None,
    last_good: LastGood = False,
    no_model: NoModel = False,
) -> None:
    """Answer one question, or one a line."""
    settings = _settings(machine)
    assistant = _assistant(settings, last_good=last_good, model=not no_model)
    if audio:
        from assistant.audio_cli import ask_files

        if not ask_files(assistant, settings, question or [], lambda a: _print(a, as_json), sure=sure):
            raise typer.Exit(1)
        return
    if lines:
        questions: Iterator[str] = iter(_stdin().splitlines())
    else:
        questions = iter([" ".join(question) if question else _stdin()])
    failed = False
    for text in questions:
        if lines and not text.strip():
            continue
        answer = _one(assistant, text, settings.machine)
        failed |= str(answer.outcome) == "error"
        if not as_json and not lines:
            _to_inbox(answer, settings)
        _print(answer, as_json)
    if failed:
        raise typer.Exit(1)


def _to_inbox(answer: Answer, settings: Settings) -> None:
    """A question that found nothing is kept for the author, on this machine only."""
    from datetime import date

    from assistant.inbox import INBOX, Inbox

    try:
        Inbox(settings.data_dir / INBOX).keep_if_lost(answer, date.today().isoformat())
    except AssistantError as error:
        say(f"{error.message} {error.hint}")


def _stdin() -> str:
    return sys.stdin.buffer.read().decode("utf-8", errors="replace")


def _one(assistant: Assistant, text: str, machine: str | None) -> Answer:
    from assistant.dialogue.session import Session

    return Session(assistant, machine).say(text)


def _print(answer: Answer, as_json: bool) -> None:
    from assistant.rendering.contract import as_object
    from assistant.rendering.screen import screen_style
    from assistant.rendering.terminal import render

    if as_json:
        typer.echo(json.dumps(as_object(answer), ensure_ascii=False))
    else:
        typer.echo(render(answer, screen_style()))


@app.command()
def code(
    number: Annotated[str, typer.Argument(help="The code of the display, in any form: 204, 2-0-4, two oh four.")],
    as_json: JsonFlag = False,
    machine: MachineFlag = None,
) -> None:
    """What a code means, what raises and clears it, what to do first."""
    settings = _settings(machine)
    _print(_one(_assistant(settings, model=False), f"code {number}", settings.machine), as_json)


@app.command()
def show(
    name: Annotated[str, typer.Argument(help="A designation (FC3), or an entry id.")],
    as_json: JsonFlag = False,
    machine: MachineFlag = None,
    plan: Annotated[bool, typer.Option("--plan", help="Where it sits, as a plan in letters.")] = False,
    picture: Annotated[bool, typer.Option("--picture", help="Where it sits, as an SVG file.")] = False,
    out: Annotated[Path | None, typer.Option("--out", help="The file of --picture.")] = None,
) -> None:
    """A component: where, what it does, what is dangerous about it, the entries that mention it."""
    from assistant.dialogue.session import Session
    from assistant.retrieval.mentions import mentions_of

    settings = _settings(machine)
    assistant = _assistant(settings, model=False)
    session = Session(assistant, settings.machine)
    answer = session.show(name)
    if plan or picture or out:
        from assistant.placing import place

        return place(settings, answer, out, as_text=plan and not (picture or out), as_json=as_json)
    _print(answer, as_json)
    if not as_json and answer.sources:
        mentioned = mentions_of(assistant.knowledge, answer.sources[0])
        if mentioned:
            typer.echo("\nMentioned in:")
            for entry, title in mentioned:
                typer.echo(f"  {entry}  {title}")


@app.command()
def machines(as_json: JsonFlag = False) -> None:
    """The machines that are known, with the number of entries of each."""
    assistant = _assistant(_settings(), model=False)
    rows = []
    for machine in assistant.knowledge.machines:
        count = sum(1 for entry in assistant.knowledge.entries() if entry.pack == machine.pack)
        rows.append({"id": machine.pack, "name": machine.name, "entries": count, "what": " ".join(machine.what)})
    if as_json:
        typer.echo(json.dumps(rows, ensure_ascii=False))
        return
    for row in rows:
        typer.echo(f"{row['id']:<12} {row['name']}, {row['entries']} entries. {row['what']}")


@app.command()
def check(
    as_json: JsonFlag = False,
    folder: Annotated[
        Path | None, typer.Argument(help="A folder of knowledge; left out: the one of the settings.")
    ] = None,
) -> None:
    """Read and lint the knowledge: every fault of every file, with its line."""
    from assistant.corpus.reader import read_knowledge
    from assistant.errors import KnowledgeError

    place = folder or _settings().knowledge
    try:
        knowledge = read_knowledge(place)
    except KnowledgeError as error:
        if as_json:
            faults = [{"file": f.file, "line": f.line, "message": f.message, "hint": f.hint} for f in error.faults]
            typer.echo(json.dumps({"faults": faults}, ensure_ascii=False))
            raise typer.Exit(1) from error
        raise
    entries = len(knowledge.entries())
    typer.echo(json.dumps({"faults": [], "entries": entries}) if as_json else f"{entries} entries, no faults.")


@app.command("new-pack")
def new_pack_command(name: Annotated[str, typer.Argument(help="Small letters and hyphens.")]) -> None:
    """Write a skeleton of a new machine, which `check` accepts at once."""
    from assistant.corpus.skeleton import FILES, new_pack

    folder = new_pack(_settings().knowledge, name)
    typer.echo(f"{folder} is written. Replace the examples in this order, with `handlamp check` after each:")
    for number, file in enumerate(FILES, 1):
        typer.echo(f"  {number}. {file}")


@app.command()
def index(
    fresh: Annotated[bool, typer.Option("--fresh", help="Build it anew even if it is up to date.")] = False,
) -> None:
    """Build the search index of the knowledge."""
    from assistant.assembly import Options, built_index, make_encoder, shelf_of

    settings = _settings()
    options: Options = Options(fresh=fresh)
    built = built_index(settings, make_encoder(shelf_of(settings)), options, say)
    count = sum(len(vectors) for vectors in built.vectors.values())
    typer.echo(f"{len(built.knowledge.entries())} entries, {count} passages, in {settings.cache_dir / 'index'}")


mount_talk(app, _settings, lambda settings: _assistant(settings), say)


def run() -> None:
    """The entry point: the program's own errors in two lines and exit 1; anything else is a bug and keeps its trace."""
    try:
        app(standalone_mode=True)
    except AssistantError as error:
        lines = error.message.splitlines()
        if len(lines) > MOST_LINES and sys.argv[1:2] != ["check"]:
            lines = [*lines[:MOST_LINES], f"  and {len(lines) - MOST_LINES} more; `handlamp check` lists all"]
        typer.echo("error: " + "\n".join(lines), err=True)
        if error.hint:
            typer.echo(f"  {error.hint}", err=True)
        sys.exit(1)
    except BrokenPipeError:
        sys.stderr.close()
        sys.exit(0)


if __name__ == "__main__":
    run()
