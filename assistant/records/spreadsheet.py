"""A job, or the list of jobs -> CSV that a spreadsheet shows and never computes."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence

from assistant.domain.job import JobState
from assistant.records.job_record import JobRecord
from assistant.records.markdown import LIST_HEAD, list_row
from assistant.records.wording import LogLine, log_line, visible

HEAD = (
    "job", "seq", "at", "who", "kind", "subject", "result", "value", "unit", "energy", "minutes", "words", "text"
)  # fmt: skip
_FORMULA = re.compile(r"""(^[\s'"]*|[,;|\t]["'\s]*)([=+\-@＝＋－＠])""")
"""Where a spreadsheet may see a formula begin: at the cell's start, and behind anything that another locale splits cells at
(OWASP, "CSV Injection")."""


def harmless(text: str) -> str:
    """The text with an apostrophe before every sign that a spreadsheet may take for the start of a formula; one line."""
    return _FORMULA.sub(r"\1'\2", visible(text))


def written(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Every cell quoted, lines ended by CR LF (RFC 4180)."""
    out = io.StringIO()
    writer = csv.writer(out, quoting=csv.QUOTE_ALL, lineterminator="\r\n")
    writer.writerow(head)
    writer.writerows(rows)
    return out.getvalue()


def job_as_csv(record: JobRecord) -> str:
    """One row an event; `value` and `minutes` are plain figures."""
    return written(HEAD, [_row(record.state.job.id, log_line(event)) for event in record.events])


def _row(job: str, line: LogLine) -> tuple[str, ...]:
    before = (job, str(line.seq), line.at, line.who, str(line.kind), line.subject, line.result)
    after = (line.unit, line.energy)
    texts = (line.words, line.text)
    # Figures are the program's own and are left as figures: a reading of -5 is no formula.
    return (
        *map(harmless, before), line.value, *map(harmless, after), line.minutes, *map(harmless, texts)
    )  # fmt: skip


def jobs_as_csv(states: Sequence[JobState]) -> str:
    """One row a job."""
    head = [name.lower().replace(" ", "_") for name in LIST_HEAD]
    return written(head, [tuple(map(harmless, list_row(state))) for state in states])
