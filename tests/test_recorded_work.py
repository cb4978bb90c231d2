"""Guided work and its record: what a turn writes, how a job is taken up after a crash, what a closed job teaches."""

import itertools
import os
import signal
import subprocess
import sys

import pytest

from assistant.assembly import lessons_of
from assistant.chat import Chat, make_recorder
from assistant.dialogue.planners import Isolators
from assistant.domain.job import JobStatus
from assistant.domain.job_events import (
    CheckAnswered,
    EnergyDeclared,
    IsolationVoided,
    QuestionAsked,
    StepConfirmed,
    ValueAsked,
)
from assistant.domain.job_terms import Verdict
from assistant.domain.terms import Energy
from assistant.records.ledger import FILE, open_ledger
from tests.conftest import ROOT

pytestmark = pytest.mark.engine
SLOW = ["the turntable turns slowly with heavy loads", "guide me", "stopped", "the second one"]
"""The second outcome of whatever check comes first."""


@pytest.fixture
def ledger(tmp_path):
    with open_ledger(tmp_path / FILE) as opened:
        yield opened


def chat_of(assistant, settings, ledger, machine="drumlin"):
    from dataclasses import replace

    said = []
    chat = Chat(
        assistant,
        replace(settings, machine=machine),
        said.append,
        json_lines=False,
        recorder=make_recorder(assistant, ledger),
    )
    return chat, said


def take(chat, *lines):
    for line in lines:
        chat.take(line)


def details(ledger, kind):
    return [e.detail for job in ledger.ids() for e in ledger.events(job) if isinstance(e.detail, kind)]


def isolate(chat, assistant):
    take(chat, *["yes"] * len(assistant.knowledge.energy.items("drumlin")))


def test_questions_alone_open_no_job(assistant, settings, ledger):
    chat, _ = chat_of(assistant, settings, ledger)
    take(chat, "where is FC3", "what does 204 mean")
    assert ledger.ids() == ()


def test_a_hunt_is_written_turn_by_turn(assistant, settings, ledger):
    chat, _ = chat_of(assistant, settings, ledger)
    take(chat, *SLOW, "where is FC3?")
    (job,) = ledger.ids()
    state = ledger.state(job)
    assert state.job.complaint == SLOW[0] and state.job.fault == "drumlin/fault/turntable-slow"
    assert chat.session.conversation.state.job == job
    (answer,) = details(ledger, CheckAnswered)
    assert answer.said == "the second one" and answer.energy is Energy.STOPPED and answer.minutes > 0
    assert [q.entry for q in details(ledger, QuestionAsked)] == ["drumlin/component/FC3"]
    assert state.energy is Energy.STOPPED and "shock-isolate" in state.warnings


def test_a_proved_job_is_closed_with_its_cause_and_teaches_the_weights(assistant, settings, ledger, tmp_path):
    from dataclasses import replace

    chat, _ = chat_of(assistant, settings, ledger)
    take(chat, *SLOW, "i found it: chain is dry")
    isolate(chat, assistant)
    take(chat, "done", "running")
    for _ in range(4):
        if chat.session.conversation.work.going_on:
            take(chat, "it is gone")
    (job,) = ledger.ids()
    state = ledger.state(job)
    assert state.job.status is JobStatus.CLOSED and state.proved
    (share,) = state.found
    fault = next(f for f in assistant.knowledge.faults if f.full_id == "drumlin/fault/turntable-slow")
    learned = lessons_of(replace(settings, data_dir=tmp_path))(fault)
    total = sum(cause.weight for cause in fault.causes)
    authored = (1 - fault.something_else) * next(c.weight for c in fault.causes if c.id == share.name) / total
    assert learned.jobs == 1 and learned.weights[share.name] == pytest.approx((15 * authored + 1) / 16)
    planner = Isolators(assistant.knowledge, lessons_of(replace(settings, data_dir=tmp_path)))
    model = planner(fault).model
    assert model.prior[model.causes.index(share.name)] == pytest.approx((15 * authored + 1) / 16)


def test_power_back_is_a_voided_isolation_in_the_record(assistant, settings, ledger):
    chat, _ = chat_of(assistant, settings, ledger)
    take(chat, *SLOW, "i found it: chain is dry")
    isolate(chat, assistant)
    assert details(ledger, EnergyDeclared)[-1].energy is Energy.ISOLATED
    take(chat, "power is back on")
    assert details(ledger, IsolationVoided) and details(ledger, EnergyDeclared)[-1].energy is Energy.RUNNING


def test_steps_and_their_figures_are_written_and_a_job_goes_back_to_its_step(assistant, settings, ledger):
    chat, _ = chat_of(assistant, settings, ledger)
    take(chat, "walk me through setting the turntable chain tension")
    isolate(chat, assistant)
    while "Press the slack span" not in (chat._last.lead):
        take(chat, "done")
    take(chat, "25 mm", "stop and keep")
    (value,) = details(ledger, ValueAsked)
    assert (value.verdict, value.value, value.unit) == (Verdict.ABOVE, 25.0, "mm")
    (job,) = ledger.ids()
    state = ledger.state(job)
    assert state.job.status is JobStatus.LEFT_OPEN and state.left.must_not
    assert [s.step for s in details(ledger, StepConfirmed)] == list(range(1, state.position.next_step))

    from assistant.records.lease import own_mark

    ledger.set_current(job, own_mark("lead"), "2026-01-02T08:00:00+00:00")
    later, said = chat_of(assistant, settings, ledger, machine=None)
    later.take_up()
    assert later.session.conversation.scope == "drumlin"
    assert later.session.conversation.state.energy is Energy.UNKNOWN
    assert "Isolate" in said[-1] and f"Job {job} is taken up" in said[0]
    isolate(later, assistant)
    assert "Press the slack span" in later._last.lead


def test_a_job_killed_in_the_middle_is_taken_up_where_it_stood(settings, tmp_path):
    (tmp_path / "models").symlink_to(settings.data_dir / "models")
    environment = {**os.environ, "HANDLAMP_DATA_DIR": str(tmp_path)}
    command = [sys.executable, "-m", "assistant.cli", "chat", "--json", "-m", "drumlin"]
    running = subprocess.Popen(
        command, cwd=ROOT, env=environment, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    for line in SLOW:
        running.stdin.write(line + "\n")
        running.stdin.flush()
        answer = running.stdout.readline()
    os.kill(running.pid, signal.SIGKILL)
    running.communicate()
    with open_ledger(tmp_path / FILE) as ledger:
        (job,) = ledger.ids()
        assert [b.said for b in ledger.state(job).belief] == ["the second one"]
    resumed = subprocess.run(
        [sys.executable, "-m", "assistant.cli", "jobs", "resume", job],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        check=True,
    )
    assert "energy state has to be declared again" in resumed.stdout
    after = subprocess.run(
        command[:-2], cwd=ROOT, env=environment, input="stopped\n", capture_output=True, text=True, check=True
    )
    import json

    first = json.loads(after.stdout.splitlines()[0])
    again = json.loads(after.stdout.splitlines()[1])
    assert first["pending"]["choices"] == ["running", "stopped", "isolated"] and first["state"]["energy"] == "unknown"
    assert again["lead"] == json.loads(answer)["lead"] and again["state"]["job"] == job


def test_a_record_that_cannot_be_written_is_said_once_and_the_work_goes_on(assistant, settings, ledger, monkeypatch):
    from assistant.errors import RecordError

    chat, said = chat_of(assistant, settings, ledger)

    def full(*_a, **_k):
        raise RecordError("The disk is full.", "Make room.")

    monkeypatch.setattr(ledger, "append", full)
    take(chat, *SLOW)
    notes = [text for text in said if "disk is full" in text]
    assert len(notes) == 1 and "not recorded" in notes[0]
    assert chat.session.conversation.work.going_on


def test_ids_of_jobs_count_within_a_day(assistant, settings, ledger):
    chat, _ = chat_of(assistant, settings, ledger)
    take(chat, *SLOW[:2], "stop", "guide me through the film keeps snapping", "stop")
    ids = ledger.ids()
    assert [i.rpartition("-")[2] for i in ids] == ["1", "2"] and len({i.rpartition("-")[0] for i in ids}) == 1
    assert all(a < b for a, b in itertools.pairwise(ids))
