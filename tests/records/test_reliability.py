import json
import os
import subprocess
import sys

import pytest
from scipy.stats import chi2

from assistant.domain.job import Job, JobState, JobStatus
from assistant.domain.job_terms import JobId, Share
from assistant.errors import BadQuestion
from assistant.records.ledger import FILE, open_ledger
from assistant.records.reliability import reliability
from tests.conftest import ROOT
from tests.records.story import whole_story

NOW = "2026-03-01T08:00:00+01:00"


def job(number, minutes, found=(), machine="drumlin", status=JobStatus.CLOSED):
    head = Job(
        id=JobId(f"2026-01-{number:02}-1"), machine=machine, complaint="x", fault="drumlin/fault/f", who="a",
        opened_at=f"2026-01-{number:02}T08:00:00+01:00", closed_at="c", status=status,
    )  # fmt: skip
    shares = tuple(Share(name=name, share=share) for name, share in found)
    return JobState(job=head, seq=1, last_at=NOW, minutes=minutes, found=shares)


JOBS = (
    job(1, 60, [("chain", 1.0)]),
    job(5, 30, [("chain", 0.5), ("pinion", 0.5)]),
    job(9, 90, [("chain", 1.0)]),
    job(12, 0),
    job(20, 600, machine="skerry"),
    job(21, 20, status=JobStatus.OPEN),
)


def test_times_between_failures_and_their_bounds_are_those_of_chi_square():
    # two-sided, observed for a fixed time: 2T/chi2(0.95; 2r+2) and 2T/chi2(0.05; 2r); quantiles by scipy
    found = reliability(JOBS, "drumlin", NOW, hours=1000.0)
    assert found.failures == 4 and found.between.mean_h == 1000 / 4
    assert found.between.low_h == pytest.approx(2000 / chi2.ppf(0.95, 10))
    assert found.between.high_h == pytest.approx(2000 / chi2.ppf(0.05, 8))


def test_repair_times_count_where_minutes_were_said_and_availability_follows():
    found = reliability(JOBS, "drumlin", NOW, hours=1000.0)
    assert found.to_repair.mean_h == (1.0 + 0.5 + 1.5) / 3
    assert found.to_repair.low_h == pytest.approx(6 / chi2.ppf(0.95, 6))
    assert found.availability == (1000 - 3) / 1000
    assert (found.open_jobs, found.unnamed) == (1, 1)


def test_causes_are_ordered_with_their_share_so_far():
    causes = reliability(JOBS, "drumlin", NOW, hours=1000.0).causes
    assert [(c.cause, c.jobs) for c in causes] == [("chain", 2.5), ("pinion", 0.5)]
    assert [round(c.together, 3) for c in causes] == [83.333, 100.0]


def test_without_hours_the_calendar_counts_from_the_first_job():
    found = reliability(JOBS, "drumlin", NOW)
    assert found.hours == 59 * 24 and not found.measured  # 1 January to 1 March 2026


@pytest.mark.parametrize(("machine", "hours"), [("nope", None), ("drumlin", 2.0), ("drumlin", float("nan"))])
def test_what_cannot_be_reckoned_is_said(machine, hours):
    with pytest.raises(BadQuestion):
        reliability(JOBS, machine, NOW, hours=hours)


def test_the_command_tells_the_figures_of_a_record(tmp_path):
    with open_ledger(tmp_path / FILE, alive=lambda pid: True) as ledger:
        whole_story(ledger)
    run = [sys.executable, "-m", "assistant.cli", "jobs", "figures", "--hours", "500"]
    env = {**os.environ, "HANDLAMP_DATA_DIR": str(tmp_path)}
    text = subprocess.run(run, cwd=ROOT, env=env, capture_output=True, text=True, timeout=60)
    assert text.returncode == 0 and "1 closed jobs in 500 h of operation" in text.stdout and "pinion-loose" in text.stdout
    told = subprocess.run([*run, "--json"], cwd=ROOT, env=env, capture_output=True, text=True, timeout=60)
    assert json.loads(told.stdout)["failures"] == 1
