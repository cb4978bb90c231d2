"""`handlamp prepare`: a complaint, codes or an open job -> the visit, as text, JSON or a printable page."""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from assistant.errors import RecordError

if TYPE_CHECKING:
    from assistant.assembly import Say
    from assistant.domain.visit import Visit


def visit_of(complaint: str, machine: str | None, job: str | None, target: float, say: Say) -> Visit:
    """The visit for a complaint in words, or for an open job.

    Raises:
        UnknownName: nothing fits, or there is no such job.

    """
    from assistant.assembly import Options, make_assistant
    from assistant.domain.terms import EntryId
    from assistant.settings import load_settings
    from assistant.visit import VisitPlanner

    settings = load_settings()
    assistant = make_assistant(settings, Options(model=False), say)
    planner = VisitPlanner(assistant, assistant.guide.isolator_of)
    if job is None:
        return planner.of_words(complaint, machine or settings.machine, target)
    from assistant.jobs_cli import job_ledger
    from assistant.records.resumption import event_of

    with job_ledger() as ledger:
        state = ledger.state(job)
    log = tuple(event_of(item) for item in state.belief)
    return planner.of_job(state.job.complaint, EntryId(state.job.fault), log, target)


def show(visit: Visit, *, as_json: bool, page: Path | None) -> None:
    """Print it, or write the page.

    Raises:
        RecordError: the page cannot be written.

    """
    if page is not None:
        from assistant.records.visit_page import visit_as_page

        try:
            page.write_text(visit_as_page(visit), encoding="utf-8")
        except OSError as error:
            raise RecordError(f"The page cannot be written: {error}", "Give --page another place.") from error
        typer.echo(f"{page}", err=True)
    elif as_json:
        typer.echo(json.dumps(dataclasses.asdict(visit), ensure_ascii=False))
    else:
        from assistant.rendering.screen import screen_style
        from assistant.rendering.visit_text import visit_lines

        typer.echo("\n".join(visit_lines(visit, screen_style().columns)))


def prepare(
    complaint: Annotated[list[str] | None, typer.Argument(help="What the caller says, or the codes shown.")] = None,
    machine: Annotated[str | None, typer.Option("--machine", "-m", help="The machine.")] = None,
    job: Annotated[str | None, typer.Option("--job", help="An open job's id, instead of a complaint.")] = None,
    target: Annotated[float, typer.Option(help="Chance of finishing in one visit that is packed for.")] = 0.9,
    as_json: Annotated[bool, typer.Option("--json", help="Print a JSON object instead of text.")] = False,
    page: Annotated[Path | None, typer.Option("--page", help="Write a printable HTML page.")] = None,
) -> None:
    """Before the visit: likely causes, what to bring, who must be there, how long, what to ask the caller now."""
    from assistant.errors import BadQuestion

    text = " ".join(complaint or ())
    if bool(text) == bool(job):
        raise BadQuestion("Give a complaint, or an open job.", 'handlamp prepare "the film keeps snapping"')
    if not 0.0 < target < 1.0:
        raise BadQuestion(f"The target {target} is no chance.", "Above 0 and below 1; 0.9 is usual.")
    show(
        visit_of(text, machine, job, target, lambda line: typer.echo(f"note: {line}", err=True)),
        as_json=as_json,
        page=page,
    )
