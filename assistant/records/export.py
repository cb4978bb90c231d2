"""A job, or the list of jobs, and a form -> the text of a file; the same record gives the same text, byte for byte."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum

from assistant.domain.job import JobState
from assistant.records.job_json import job_as_json, jobs_as_json
from assistant.records.job_record import JobRecord
from assistant.records.markdown import job_as_markdown, jobs_as_markdown
from assistant.records.spreadsheet import job_as_csv, jobs_as_csv


class Form(StrEnum):
    """The forms of an export; the value is the file's ending."""

    MARKDOWN = "md"
    JSON = "json"
    CSV = "csv"
    HTML = "html"


def exported_job(record: JobRecord, form: Form) -> str:
    """One job."""
    match form:
        case Form.MARKDOWN:
            return job_as_markdown(record)
        case Form.JSON:
            return job_as_json(record)
        case Form.CSV:
            return job_as_csv(record)
        case Form.HTML:
            from assistant.records.page import job_as_page  # jinja2 takes a tenth of a second, and few exports need it

            return job_as_page(record)


def exported_jobs(states: Sequence[JobState], form: Form) -> str:
    """The list of jobs."""
    match form:
        case Form.MARKDOWN:
            return jobs_as_markdown(states)
        case Form.JSON:
            return jobs_as_json(states)
        case Form.CSV:
            return jobs_as_csv(states)
        case Form.HTML:
            from assistant.records.page import jobs_as_page

            return jobs_as_page(states)
