"""A job, or the list of jobs -> Markdown in which nothing that was typed can be markup."""

from __future__ import annotations

import re
from collections.abc import Sequence

from assistant.domain.job import JobState
from assistant.records.job_record import JobRecord, finding, must_not, place_in_work, summary
from assistant.records.wording import LogLine, log_line, visible

_MARKUP = re.compile(r"([\\`*_\[\]|~#])")
_ENTITIES = {"&": "&amp;", "<": "&lt;", ">": "&gt;"}


def escaped(text: str) -> str:
    """The text as it reads: no markup, no HTML, no link made of a bare address, one line."""
    safe = "".join(_ENTITIES.get(c, c) for c in _MARKUP.sub(r"\\\1", visible(text)))
    return safe.replace("://", ":&#47;&#47;").replace("www.", "www&#46;")


def table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    """Lines of a table; the cells are escaped here."""
    lines = [f"| {' | '.join(head)} |", f"|{'|'.join(' --- ' for _ in head)}|"]
    return lines + [f"| {' | '.join(escaped(cell) for cell in row)} |" for row in rows]


def what(line: LogLine) -> str:
    """Subject, result, figures and words of a line as one text."""
    measured = f"{line.value} {line.unit}".strip()
    energy = f"energy {line.energy}" if line.energy and line.energy != "unknown" else ""
    minutes = f"{line.minutes} min" if line.minutes else ""
    words = f"“{line.words}”" if line.words else ""
    parts = (line.subject, line.text, measured, line.result, words, energy, minutes)
    return "; ".join(part for part in parts if part)


def job_as_markdown(record: JobRecord) -> str:
    """The whole job."""
    lines = [f"# Job {escaped(record.state.job.id)}", "", *table(("", ""), summary(record)), ""]
    if forbidden := must_not(record.state):
        lines += ["## While it is left", "", *(f"- {escaped(item)}" for item in forbidden), ""]
    rows = [(str(row.seq), row.at, row.who, row.title, what(row)) for row in map(log_line, record.events)]
    return "\n".join([*lines, "## Log", "", *table(("#", "Time", "Who", "Event", "What"), rows), ""])


LIST_HEAD = ("Job", "Status", "Machine", "Complaint", "Opened", "Who", "Stands or found")


def list_row(state: JobState) -> tuple[str, ...]:
    """One job as a row under LIST_HEAD."""
    job = state.job
    stands = finding(state) or place_in_work(state)
    return (job.id, str(job.status), job.machine, job.complaint, job.opened_at, job.who, stands)


def jobs_as_markdown(states: Sequence[JobState]) -> str:
    """The list of jobs."""
    return "\n".join(["# Jobs", "", *table(LIST_HEAD, [list_row(state) for state in states]), ""])
