"""Writes the golden exports anew: `python -m tests.records.golden_files`; read the difference before it is committed."""

import tempfile
from pathlib import Path

from assistant.domain.job_events import Opened
from assistant.records.export import Form, exported_job, exported_jobs
from assistant.records.job_record import record_of
from assistant.records.ledger import open_ledger
from tests.records.story import begin, whole_story

GOLDEN = Path(__file__).parent / "golden"

if __name__ == "__main__":
    GOLDEN.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder, open_ledger(Path(folder) / "j", alive=lambda pid: True) as ledger:
        job = whole_story(ledger)
        for form in Form:
            (GOLDEN / f"job.{form}").write_bytes(exported_job(record_of(ledger, job), form).encode())
        begin(ledger, opening=Opened(machine="skerry", complaint="tape not cut"))
        for form in Form:
            (GOLDEN / f"jobs.{form}").write_bytes(exported_jobs(ledger.states(), form).encode())
