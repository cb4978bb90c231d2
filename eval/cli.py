"""The author's command line: `python -m eval`, or `handlamp-eval`."""

from __future__ import annotations

import sys
from collections.abc import Collection, Iterable
from pathlib import Path
from typing import Annotated

import typer

from assistant.assembly import Options, clock_ms, make_assistant, make_encoder, shelf_of
from assistant.errors import AssistantError, UnknownName
from assistant.pipeline import Assistant
from assistant.settings import Settings, load_settings
from eval.cases import GATED, SETS, EvalCase, read_cases
from eval.progress import say
from eval.tables import Table, as_lines

app = typer.Typer(
    help="The bench of questions: does the right entry come first, do the right warnings come, what did an edit break.",
    invoke_without_command=True,
    pretty_exceptions_enable=False,
    add_completion=False,
    rich_markup_mode=None,
)
Sets = Annotated[
    list[str] | None,
    typer.Option("--set", "-s", help=f"A set of cases: {', '.join(sorted(SETS))}; without one: {', '.join(GATED)}."),
]
Misses = Annotated[bool, typer.Option("--misses", help="List every case that went wrong.")]
Model = Annotated[bool, typer.Option("--model", help="With the language model.")]
Machine = Annotated[str | None, typer.Option("--machine", "-m", help="The machine in scope.")]


def _names(sets: list[str] | None, among: Collection[str] = tuple(SETS)) -> list[str]:
    names = sorted(sets or GATED)
    for name in names:
        if name not in among:
            what = "baseline of" if name in SETS else "set"
            raise UnknownName(f"There is no {what} `{name}`.", f"Sets: {', '.join(sorted(among))}.")
    return names


def _assistant(settings: Settings, *, model: bool = False) -> Assistant:
    return make_assistant(settings, Options(model=model), say)


@app.callback()
def root(context: typer.Context, sets: Sets = None, misses: Misses = False) -> None:
    """Without a command: `quality`."""
    if context.invoked_subcommand is None:
        quality(sets, misses)
    elif sets or misses:
        raise typer.BadParameter(f"write it behind `{context.invoked_subcommand}`", param_hint="--set or --misses")


@app.command()
def quality(
    sets: Sets = None,
    misses: Misses = False,
    model: Model = False,
    fresh: Annotated[bool, typer.Option("--fresh", help="Ask again even if nothing has changed.")] = False,
    anyway: Annotated[bool, typer.Option("--anyway", help="Compare with a baseline of other conditions.")] = False,
) -> None:
    """Every measure with its interval, what changed against the baseline, and the gates; exit 1 if one is broken."""
    from eval.baseline import as_lines as comparison_lines
    from eval.baseline import broken_gates, compare
    from eval.quality import by_group, summary
    from eval.quality import misses as list_misses
    from eval.runs import known, run
    from eval.sentences import summary as sentence_summary

    settings = load_settings()
    done = run(settings, _names(sets), model=model, fresh=fresh)
    print(f"signature {done.signature}")
    broken: list[str] = []
    for name, seen in sorted(done.sets.items()):
        print(f"{name}: {len(seen)} cases")
        print("\n".join(f"  {row}" for row in summary(seen, done.signature.seed)))
        print("\n".join(by_group(seen)))
        if misses:
            print("\n".join(list_misses(seen)))
        if name not in GATED:
            continue
        comparison = compare(done, name, known(settings), anyway=anyway)
        print("\n".join(comparison_lines(name, comparison)))
        broken += broken_gates(done, name, comparison)
    print("answers, graded sentence by sentence:")
    print("\n".join(f"  {row}" for row in sentence_summary(done.sentences, done.signature.seed)))
    if broken:
        print("BROKEN GATES\n" + "\n".join(broken))
        raise typer.Exit(1)
    print("all gates hold" if set(done.sets) & set(GATED) else "no gates: this set is only looked at")


@app.command()
def report(
    path: Annotated[Path, typer.Argument(help="The page to write.")] = Path("bench.html"),
    sets: Sets = None,
    robust: Annotated[bool, typer.Option("--robust", help="With the perturbed questions (two minutes).")] = False,
    scale: Annotated[
        bool, typer.Option("--scale", help="With the curve of passages against time (half a minute).")
    ] = False,
) -> None:
    """One page to look at: plots, every question, every entry, the findings; works from disk, without a network."""
    from eval.baseline import bars
    from eval.bench import scale_points
    from eval.report.page import write_report
    from eval.runs import known, run
    from eval.wording.coverage import tables as coverage_tables
    from eval.wording.robustness import tables as robustness_tables
    from eval.wording.sayability import tables as sayability_tables

    settings = load_settings()
    done = run(settings, _names(sets))
    knowledge = known(settings)
    tables = [*coverage_tables(done, settings), *sayability_tables(knowledge)]
    if robust:
        tables += robustness_tables(done, settings)
    write_report(path, done, knowledge, [t.head(REPORT_ROWS) for t in tables], scale_points() if scale else (), bars())
    print(f"wrote {path}, {path.stat().st_size / 1e6:.1f} MB")


@app.command()
def baseline(sets: Sets = None) -> None:
    """Keep the present results as the baseline that later runs are compared with."""
    from eval.baseline import write
    from eval.runs import run

    names = _names(sets, GATED)
    done = run(load_settings(), names)
    for name in names:
        print(f"wrote {write(done, name).name}: {len(done.sets[name])} cases")


@app.command()
def why(
    question: str,
    expect: Annotated[str | None, typer.Option("--expect", "-e", help="The entry that should come first.")] = None,
    machine: Machine = None,
) -> None:
    """Why the first five stand where they stand, and what would let the expected entry win."""
    from assistant.dialogue.session import Session
    from eval.authoring.why import Inquiry
    from eval.authoring.why import as_lines as why_lines

    settings = load_settings()
    assistant = _assistant(settings)
    case = next((c for n in sorted(SETS) for c in read_cases(SETS[n], assistant.knowledge) if c.q == question), None)
    if expect is None and case is not None:
        expect = min(case.wanted, default=None)
    answer = Session(assistant, machine or settings.machine).say(question)
    told = Inquiry(assistant).why(question, expect, machine or settings.machine, str(answer.outcome))
    print("\n".join(why_lines(told)))


@app.command()
def new(question: str, machine: Machine = None) -> None:
    """Make a case of a question, by asking."""
    from eval.authoring.new_case import append, interview
    from eval.observation import Observer

    assistant = _assistant(load_settings())
    case = EvalCase(q=question, outcome="answered", machine=machine or "")
    seen = Observer(assistant, clock_ms).observe(case)
    path = append(interview(seen, assistant.knowledge, input, print), assistant.knowledge)
    print(f"added to {path.name}; run `python -m eval baseline` when the new cases are in")


@app.command()
def inbox(
    take: Annotated[int | None, typer.Option(help="Make a case of this one, by asking, and take it out.")] = None,
    drop: Annotated[int | None, typer.Option(help="Take this one out.")] = None,
) -> None:
    """Questions from use that found nothing or were marked wrong; they lie only on this machine."""
    from assistant.inbox import INBOX, Inbox

    settings = load_settings()
    box = Inbox(settings.data_dir / INBOX)
    letters = box.letters()
    chosen = take if take is not None else drop
    if chosen is None:
        for number, letter in enumerate(letters, start=1):
            remark = f" ({letter.remark})" if letter.remark else ""
            print(
                f"{number:>3}  {letter.day}  {letter.reason}: {letter.question!r}{remark}  first: {', '.join(letter.first[:1])}"
            )
        print(f"{len(letters)} in {box.path}")
        return
    if not 1 <= chosen <= len(letters):
        raise UnknownName(f"There is no question {chosen} in the inbox.", f"It holds {len(letters)}.")
    letter = letters[chosen - 1]
    if take is not None:
        new(letter.question, letter.machine or None)
    box.remove(letter)
    print("taken out of the inbox")


REPORT_ROWS = 60
"""Rows of a finding on the page; the commands print all."""
Rows = Annotated[int, typer.Option(help="Rows a table; 0 for all.")]


def _print(tables: Iterable[Table], rows: int) -> None:
    for table in tables:
        print("\n".join(as_lines(table.head(rows))), end="\n\n")


@app.command()
def coverage(sets: Sets = None, rows: Rows = 25) -> None:
    """Entries that nobody asks for or finds, that steal questions, that are too alike; values, steps and sentences to mend."""
    from eval.runs import run
    from eval.wording.coverage import tables

    settings = load_settings()
    _print(tables(run(settings, _names(sets)), settings), rows)


@app.command()
def sayability(rows: Rows = 25) -> None:
    """Words that a recogniser will lack or take for another entry's."""
    from eval.runs import known
    from eval.wording.sayability import tables

    _print(tables(known(load_settings())), rows)


@app.command()
def robustness(
    sets: Sets = None,
    count: Annotated[int, typer.Option(help="Cases a kind.")] = 150,
    seed: Annotated[int, typer.Option(help="Seed of the perturbations.")] = 0,
) -> None:
    """The same questions with typos, words left out, misheard, turned round or in another English."""
    from eval.runs import run
    from eval.wording.robustness import tables

    settings = load_settings()
    _print(tables(run(settings, _names(sets)), settings, count, seed), 0)


@app.command()
def ablation(sets: Sets = None) -> None:
    """Each ranker alone, fusion, the whole, and the whole without each part, with paired significance."""
    from assistant.retrieval.retriever import HybridRetriever
    from eval.ablation import ablation as table
    from eval.calibrate import look

    settings = load_settings()
    assistant = _assistant(settings)
    retriever = assistant.retriever
    assert isinstance(retriever, HybridRetriever)
    print("\n".join(table(retriever, look(assistant, make_encoder(shelf_of(settings)), _cases(assistant, sets)))))


@app.command()
def calibrate(
    wishes: Annotated[bool, typer.Option(help="Fit what is refused too, which takes some minutes.")] = True,
) -> None:
    """Fit the weights of ranking, coverage and wishes anew on the development cases, and print cross-validated figures."""
    from eval.calibrate import calibrate as fit

    settings = load_settings()
    assistant = _assistant(settings)
    fit(
        assistant, make_encoder(shelf_of(settings)), read_cases(SETS["development"], assistant.knowledge), wishes=wishes
    )


def _cases(assistant: Assistant, sets: list[str] | None) -> list[EvalCase]:
    return [case for name in _names(sets) for case in read_cases(SETS[name], assistant.knowledge)]


@app.command()
def compose() -> None:
    """How well each composer chooses sentences, against graded ones."""
    from eval.compose import compose_table

    settings = load_settings()
    print("\n".join(compose_table(settings, _assistant(settings).knowledge)))


@app.command()
def fuzz(drafts: Annotated[int, typer.Option(help="How many.")] = 10_000) -> None:
    """Lying drafts of a scripted model: none may reach an answer."""
    from eval.fuzz import fuzz as lie

    assistant = _assistant(load_settings())
    tried, passed = lie(assistant.knowledge, assistant.rules, drafts)
    print(f"{tried} lying drafts, {len(passed)} reached an answer")
    if passed:
        raise typer.Exit(1)


@app.command()
def isolation(
    faults: Annotated[int, typer.Option(help="Simulated faults a model.")] = 10_000,
    instances: Annotated[int, typer.Option(help="Small models solved exactly.")] = 300,
    large: Annotated[int, typer.Option(help="Simulated faults of each large model.")] = 150,
    plot: Annotated[Path | None, typer.Option(help="Write the reliability plot into this SVG file.")] = None,
) -> None:
    """Fault isolation against its bars: the exact optimum, other orders, calibration, every authored fault model."""
    from eval.isolation.bench import Amount, isolation_bench, with_outcomes
    from eval.runs import known

    ready, ladders = with_outcomes(known(load_settings()))
    amount = Amount(faults=faults, instances=instances, large_faults=large)
    if isolation_bench(ready, ladders, amount, plot):
        raise typer.Exit(1)


@app.command()
def sound(
    questions: Annotated[
        int, typer.Option(help="Questions; of commands, codes and figures no more than that each.")
    ] = 24,
    noise: Annotated[
        list[float] | None, typer.Option(help="Signal over noise in dB, besides clean; repeatable.")
    ] = None,
    voices: Annotated[list[str] | None, typer.Option(help="Voices by name; repeatable.")] = None,
    engine: Annotated[str, typer.Option(help="vosk or whisper; the one in use when left out.")] = "",
    misses: Annotated[bool, typer.Option("--misses", help="Print what was said and heard where they differ.")] = False,
    unprimed: Annotated[bool, typer.Option("--unprimed", help="Hear the questions without priming too.")] = False,
) -> None:
    """Words, commands and waits of the recogniser in use, said by synthetic voices clean and in noise."""
    from eval.sound.run import Wish, main

    main(
        Wish(
            questions=questions,
            noises=tuple(noise or ()),
            voices=tuple(voices or ()),
            engine=engine,
            misses=misses,
            unprimed=unprimed,
        )
    )


@app.command("first-sound")
def first_sound() -> None:
    """Time from the end of speech to the first sound of the answer."""
    from eval.sound.first_sound import main

    main()


@app.command("sound-device")
def sound_device() -> None:
    """Microphone and loudspeaker through virtual sound devices, barge-in and unplugging included."""
    from eval.sound.device import main

    if main():
        raise typer.Exit(1)


@app.command()
def bench() -> None:
    """Times and memory beside their bars."""
    from eval.bench import bench as table

    table(load_settings())


def run() -> None:
    """The entry point: the program's own errors in two lines and exit 1."""
    try:
        app()
    except AssistantError as error:
        print(f"error: {error.message}\n  {error.hint}", file=sys.stderr)
        sys.exit(1)
