import json
import os
import subprocess
import sys
from dataclasses import replace

import pytest
from typer.testing import CliRunner

from assistant.cli import app
from assistant.domain.job import JobStatus
from assistant.domain.job_events import FaultNamed, Left, ProcedureStarted, ProofPassed, RepairDone, StepConfirmed
from assistant.errors import BadQuestion, EventRefused, JobInUse, RecordBroken, RecordError, UnknownName
from assistant.jobs_cli import now, resume, shares_of
from assistant.records.lease import own_mark
from assistant.records.ledger import FILE, open_ledger
from tests.conftest import ROOT, make_pack
from tests.records.story import CHAIN, DATE, OPENING, begin, mark, whole_story, write

GONE = 4194304 + 7
"""Above the largest process number there can be (4194304 on Linux, from memory), so nothing of that number lives."""


@pytest.fixture
def run(tmp_path, monkeypatch):
    monkeypatch.setenv("HANDLAMP_DATA_DIR", str(tmp_path / "data"))
    monkeypatch.setenv("USER", "lead")

    def command(*arguments):
        return CliRunner().invoke(app, ["jobs", *arguments])

    return command


@pytest.fixture
def record(tmp_path, run):
    """Opens the record that the commands use; the sessions that write to it here live."""
    return lambda: open_ledger(tmp_path / "data" / FILE, alive=lambda pid: True)


def open_job(record, *details):
    with record() as ledger:
        job = begin(ledger)
        write(ledger, job, details)
        ledger.give_back(job, mark())
    return job


def test_without_jobs_it_says_so(run):
    done = run("list")
    assert done.exit_code == 0 and done.stdout == "There are no jobs yet.\n"
    assert json.loads(run("list", "--json").stdout) == {"schema": "handlamp-jobs/1", "jobs": []}


def test_list_and_show_tell_where_a_job_stands(run, record):
    job = open_job(record, ProcedureStarted(procedure=CHAIN, steps=3), StepConfirmed(procedure=CHAIN, step=1))
    assert f"{CHAIN}, step 2 of 3" in run("list").stdout
    shown = run("show", job).stdout
    assert "table stands, mast moves" in shown and "Step done" in shown
    assert json.loads(run("show", job, "--json").stdout)["state"]["step"] == f"{CHAIN}#2"
    assert json.loads(run("list", "--json").stdout)["jobs"][0]["job"]["id"] == job


def test_show_puts_what_must_not_be_done_before_the_log(run, record):
    job = open_job(record, Left(machine_state="chain off", must_not=("do not start it\x1b[2J",)))
    shown = run("show", job).stdout
    assert "\x1b" not in shown and shown.index("WHILE IT IS LEFT: do not start it") < shown.index("Job opened")


def test_resume_prints_the_step_and_sets_the_job_of_the_next_session(run, record):
    job = open_job(record, ProcedureStarted(procedure=CHAIN, steps=3), Left(machine_state="x", must_not=("start it",)))
    said = run("resume", job).stdout
    assert f"{CHAIN}, step 1 of 3" in said and "WHILE IT IS LEFT: start it" in said and "declared again" in said
    with record() as ledger:
        assert ledger.current() == job and ledger.state(job).seq == 3
    assert resume(job).step == f"{CHAIN}#1"


def test_a_job_that_another_session_holds_is_neither_resumed_nor_closed(run, record):
    with record() as ledger:
        job = ledger.open_job(OPENING, date=DATE, at=now(), who="ada", mark=own_mark("another session")).job
    assert isinstance(run("resume", job).exception, JobInUse)
    assert isinstance(run("close", job, "--not-found").exception, JobInUse)


def test_a_job_whose_session_is_gone_is_closed_with_a_notice(run, record):
    with record() as ledger:
        gone = replace(own_mark("another session"), pid=GONE)
        job = ledger.open_job(OPENING, date=DATE, at=now(), who="ada", mark=gone).job
    done = run("close", job, "--not-found")
    assert done.exit_code == 0 and f"is gone (process {GONE})" in done.stderr


def test_close_writes_shares_and_warns_when_nothing_was_proved(run, record):
    job = open_job(record, RepairDone(repair="r"))
    done = run("close", job, "--found", "relay=0.5", "--found", "cable", "--note", "turns", "--who", "ada")
    assert "relay 50 %, cable 50 % (not proved)" in done.stdout and "nothing is learnt" in done.stderr
    with record() as ledger:
        assert ledger.state(job).job.status is JobStatus.CLOSED and ledger.events(job)[-1].who == "ada"
    assert isinstance(run("close", job, "--not-found").exception, EventRefused)
    assert isinstance(run("resume", job).exception, EventRefused)


def test_a_cause_that_the_fault_does_not_have_is_refused_and_nothing_is_written(run, record):
    job = open_job(record, FaultNamed(fault="skerry/fault/tape-not-cut"))
    refused = run("close", job, "--found", "teeth-gumed").exception
    assert isinstance(refused, UnknownName) and "teeth-gummed" in refused.hint and "something_else" in refused.hint
    with record() as ledger:
        assert ledger.state(job).seq == 2
    assert run("close", job, "--found", "teeth-gummed").exit_code == 0
    assert isinstance(run("amend", job, "no", "--found", "nobody").exception, UnknownName)


@pytest.mark.parametrize("arguments", [(), ("--found", "a", "--not-found"), ("--found", "a=much")])
def test_close_wants_to_know_what_was_found(run, record, arguments):
    job = open_job(record)
    assert isinstance(run("close", job, *arguments).exception, BadQuestion)
    with record() as ledger:
        assert ledger.state(job).seq == 1


def test_amend_adds_and_overwrites_nothing(run, record):
    job = open_job(record, RepairDone(repair="r"), ProofPassed())
    run("close", job, "--found", "relay")
    done = run("amend", job, "it was the cable", "--found", "cable")
    assert "cable (proved)" in done.stdout
    shown = run("show", job).stdout
    assert "found relay" in shown and "found cable" in shown and "lead: Amended" in shown
    assert isinstance(run("amend", job, "x", "--found", "a", "--not-found").exception, BadQuestion)


def test_export_writes_every_form_to_a_file_and_to_standard_output(run, record, tmp_path):
    with record() as ledger:
        job = whole_story(ledger)
    for form in ("md", "json", "csv", "html"):
        golden = (ROOT / "tests/records/golden" / f"job.{form}").read_bytes()
        out = tmp_path / f"out.{form}"
        assert run("export", job, "-f", form, "-o", str(out)).exit_code == 0
        assert out.read_bytes() == golden == run("export", job, "-f", form).stdout_bytes
    assert run("export").stdout.startswith("# Jobs")
    assert isinstance(run("export", job, "-f", "docx").exception, UnknownName)
    assert isinstance(run("export", job, "-o", str(tmp_path / "no" / "x.md")).exception, RecordError)


def test_verify_says_how_many_events_are_sound_and_compares_a_seal(run, record):
    with record() as ledger:
        job = whole_story(ledger)
        seals = ledger.seals(job)
    assert run("verify").stdout == f"{len(seals)} events, all as they were written.\n"
    assert f"event 3 of {len(seals)}" in run("verify", job, "--seal", seals[2]).stdout
    assert isinstance(run("verify", job, "--seal", "0" * 64).exception, RecordBroken)
    assert isinstance(run("verify", "--seal", seals[2]).exception, BadQuestion)


def test_shares_left_out_are_an_equal_part_of_the_rest():
    assert [s.share for s in shares_of(["a"])] == [1.0]
    assert [s.share for s in shares_of(["a=0.5", "b", "c"])] == [0.5, (1 - 0.5) / 2, (1 - 0.5) / 2]


FAULT = """\
- id: gap-lost
  title: The flag is not seen
  phrasings: [flag not seen, sensor never switches, it does not see the flag, no light at the sensor]
  hazards: []
  source: scenario
  symptom: ["The lamp of the sensor stays dark."]
  meaning: ["The flag is too far away or the sensor is dead."]
  causes:
    - {id: wide, name: The gap is wide, weight: 3, sign: ["The gap is wide."], remedy: ["Set the gap."]}
    - {id: dead, name: The sensor is dead, weight: 1, sign: ["Steel leaves it dark."], remedy: ["Replace the sensor."]}
  checks:
    - id: steel
      title: Steel before the sensor
      energy: stopped
      minutes: 1
      do: ["Hold steel before the sensor."]
      good: ["It lights."]
      bad: ["It stays dark."]
      outcomes:
        - {says: [dark], likely: {wide: never, dead: always}}
        - {says: [lit], normal: true}
  repairs:
    - {id: set, title: Set the gap, minutes: 3, energy: stopped, cures: {wide: 1}}
    - {id: swap, title: Replace the sensor, minutes: 9, energy: stopped, cures: {dead: 1}}
  proof: {minutes: 2}
  afterwards: ["Run it once."]
"""


def test_learned_prints_authored_learned_and_jobs(run, record, tmp_path, monkeypatch):
    root = make_pack(tmp_path / "knowledge")
    (root / "machines/tiny/faults.yaml").write_text(FAULT)
    monkeypatch.setenv("HANDLAMP_KNOWLEDGE", str(root))
    job = open_job(record, FaultNamed(fault="tiny/fault/gap-lost"), RepairDone(repair="swap"), ProofPassed())
    run("close", job, "--found", "dead")
    done = run("learned", "tiny/fault/gap-lost")
    authored, learned = 0.95 / 4, (15 * 0.95 / 4 + 1) / 16
    assert f"dead {authored:>32.3f} {learned:>8.3f}  1.00" in done.stdout, done.exception
    assert json.loads(run("learned", "tiny/fault/gap-lost", "--json").stdout)["weights"]["counted"] == [job]
    assert isinstance(run("learned", "tiny/fault/nothing").exception, UnknownName)


def test_an_error_is_two_lines_and_exit_1_at_the_terminal(tmp_path):
    (tmp_path / FILE).write_bytes(b"no record at all")
    done = subprocess.run(
        [sys.executable, "-m", "assistant.cli", "jobs", "list"],
        capture_output=True, cwd=ROOT, env={**os.environ, "HANDLAMP_DATA_DIR": str(tmp_path)},
    )  # fmt: skip
    assert done.returncode == 1 and b"is no job record" in done.stderr and b"Traceback" not in done.stderr
    assert (tmp_path / FILE).read_bytes() == b"no record at all"
