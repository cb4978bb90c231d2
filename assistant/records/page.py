"""A job, or the list of jobs -> one HTML page that needs nothing beside itself: readable, printable, light and dark."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from assistant.domain.job import JobState
from assistant.domain.job_terms import EventKind
from assistant.records.job_record import JobRecord, must_not, summary
from assistant.records.markdown import LIST_HEAD, list_row
from assistant.records.moments import moment
from assistant.records.wording import log_line, visible

TONES = {
    EventKind.PROOF_PASSED: "good",
    EventKind.PROOF_FAILED: "bad",
    EventKind.STEP_SKIPPED: "bad",
    EventKind.ISOLATION_VOIDED: "bad",
    EventKind.LEFT: "bad",
    EventKind.WARNINGS_SHOWN: "warn",
    EventKind.AMENDED: "warn",
}
"""Events that a reader looks for; the rest stay quiet. The title says the same, so that no meaning hangs on colour."""


@cache
def environment() -> Environment:
    """The templates of this folder; everything printed is escaped."""
    environment = Environment(
        loader=FileSystemLoader(Path(__file__).parent),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters["visible"] = visible
    environment.filters["moment_in_words"] = _moment_in_words
    return environment


def _moment_in_words(at: str) -> str:
    """`2026-11-25 08:01:00 +01:00`, which breaks between lines where a reader expects it to."""
    return moment(at).isoformat(sep=" ", timespec="seconds").replace("+", " +")


def job_as_page(record: JobRecord) -> str:
    """The whole job."""
    return (
        environment()
        .get_template("job_page.html.j2")
        .render(
            title=f"Job {record.state.job.id}",
            summary=summary(record),
            must_not=must_not(record.state),
            lines=[log_line(event) for event in record.events],
            tones=TONES,
        )
    )


def jobs_as_page(states: Sequence[JobState]) -> str:
    """The list of jobs."""
    rows = [list_row(state) for state in states]
    return environment().get_template("jobs_page.html.j2").render(title="Jobs", head=LIST_HEAD, rows=rows)
