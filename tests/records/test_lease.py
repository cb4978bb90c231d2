import os
import subprocess
import sys
from dataclasses import replace

import pytest

from assistant.domain.job import JobStatus
from assistant.domain.job_events import Amended, Closed, Left, NoteTaken
from assistant.errors import EventRefused, JobInUse, RecordError, UnknownName
from assistant.records.job_session import JobSession
from assistant.records.lease import STALE_MINUTES, own_mark, process_alive
from assistant.records.ledger import open_ledger
from tests.conftest import ROOT
from tests.records.story import DATE, OPENING, at, begin, mark, write


def session(ledger, number, job, minute=2):
    return JobSession.resumed(ledger, mark(number), job, at=at(minute), who=f"person-{number}")


def test_a_second_session_is_told_who_holds_the_job(ledger):
    job = begin(ledger, number=1)
    with pytest.raises(JobInUse, match="process 4001 on bench, last heard 2026-11-25T08:01") as caught:
        session(ledger, 2, job)
    assert caught.value.hint
    assert ledger.state(job).seq == 1


def test_what_the_second_session_writes_all_the_same_is_refused(ledger):
    job = begin(ledger, number=1)
    with pytest.raises(JobInUse):
        write(ledger, job, [NoteTaken(text="x")], number=2)
    write(ledger, job, [NoteTaken(text="x")], number=1)
    assert ledger.state(job).seq == 2


def test_a_session_whose_process_is_gone_is_taken_over_with_a_notice(path):
    with open_ledger(path, alive=lambda pid: pid != 4001) as ledger:
        job = begin(ledger, number=1)
        second = session(ledger, 2, job)
        assert "is gone (process 4001)" in second.notice
        with pytest.raises(JobInUse, match="process 4002"):
            ledger.append(job, NoteTaken(text="x"), at=at(3), who="ada", mark=mark(1))


@pytest.mark.parametrize(("silent", "taken"), [(STALE_MINUTES, False), (STALE_MINUTES + 1, True)])
def test_a_silent_session_is_taken_over_after_a_while(ledger, silent, taken):
    job = begin(ledger, number=1)
    later = 1 + int(silent)
    if not taken:
        with pytest.raises(JobInUse):
            session(ledger, 2, job, later)
        return
    assert f"said nothing for {silent:.0f} minutes" in session(ledger, 2, job, later).notice


def test_a_heartbeat_keeps_the_job(ledger):
    first = JobSession.begun(ledger, mark(1), OPENING, date=DATE, at=at(1), who="ada")
    first.beat(at(25))
    with pytest.raises(JobInUse):
        session(ledger, 2, first.job, minute=1 + int(STALE_MINUTES) + 1)
    session(ledger, 2, first.job, minute=25 + int(STALE_MINUTES) + 1)
    with pytest.raises(JobInUse):
        first.beat(at(60))


def test_every_answer_is_a_heartbeat(ledger):
    first = JobSession.begun(ledger, mark(1), OPENING, date=DATE, at=at(1), who="ada")
    first.record(NoteTaken(text="still here"), at(30))
    with pytest.raises(JobInUse, match="last heard 2026-11-25T08:30"):
        session(ledger, 2, first.job, minute=50)


def test_a_process_of_another_machine_is_judged_by_its_heartbeat_alone(path):
    far = replace(mark(1), host="elsewhere")
    with open_ledger(path, alive=lambda pid: False) as ledger:
        job = ledger.open_job(OPENING, date=DATE, at=at(1), who="ada", mark=far).job
        with pytest.raises(JobInUse, match="on elsewhere"):
            session(ledger, 2, job)


@pytest.mark.parametrize("ending", [Left(machine_state="chain off"), Closed()])
def test_leaving_and_closing_give_the_job_back(ledger, ending):
    job = begin(ledger, number=1)
    write(ledger, job, [ending])
    assert ledger.take(job, mark(2), at(3)) == ""


def test_a_released_job_is_free_and_the_lease_of_another_stays(ledger):
    first = JobSession.begun(ledger, mark(1), OPENING, date=DATE, at=at(1), who="ada")
    ledger.give_back(first.job, mark(2))
    with pytest.raises(JobInUse):
        session(ledger, 2, first.job)
    first.release()
    assert session(ledger, 2, first.job).notice == ""


def test_resuming_says_who_took_the_job_up_and_is_no_way_into_a_closed_one(ledger):
    job = begin(ledger, number=1)
    write(ledger, job, [Left(machine_state="x")])
    second = session(ledger, 2, job)
    assert second.state.job.status is JobStatus.OPEN and ledger.events(job)[-1].who == "person-2"
    second.record(Closed(), at(5))
    with pytest.raises(EventRefused, match="was closed"):
        session(ledger, 3, job)
    ledger.append(job, Amended(reason="x"), at=at(6), who="lead", mark=mark(4))


def test_the_session_state_is_the_replay(ledger):
    first = JobSession.begun(ledger, mark(1), OPENING, date=DATE, at=at(1), who="ada")
    first.record(NoteTaken(text="x"), at(2))
    assert first.state == ledger.state(first.job)


def test_a_refused_event_leaves_neither_row_nor_heartbeat(ledger):
    job = begin(ledger, number=1)
    with pytest.raises(EventRefused):
        write(ledger, job, [Amended(reason="x")], start=20)
    assert ledger.state(job).seq == 1 and ledger.verify() == 1
    with pytest.raises(JobInUse, match="08:01"):
        session(ledger, 2, job)


def test_ids_are_the_date_and_the_next_number_of_that_day(ledger):
    ids = [begin(ledger) for _ in range(11)]
    assert ids == [f"{DATE}-{n}" for n in range(1, 12)]
    other = ledger.open_job(OPENING, date="2026-11-24", at=at(1), who="ada", mark=mark()).job
    assert ledger.ids() == (other, *ids)


def test_dates_and_times_that_are_none_are_refused(ledger):
    with pytest.raises(RecordError, match="no date"):
        ledger.open_job(OPENING, date="25.11.2026", at=at(1), who="ada", mark=mark())
    for wrong in ("yesterday", "2026-11-25T08:00:00"):
        with pytest.raises(RecordError, match="no time"):
            ledger.open_job(OPENING, date=DATE, at=wrong, who="ada", mark=mark())
    assert ledger.ids() == ()


def test_an_unknown_job_is_named_with_near_ones(ledger):
    begin(ledger)
    with pytest.raises(UnknownName) as caught:
        ledger.state("2026-11-25-7")
    assert "2026-11-25-1" in caught.value.hint


def test_the_current_job_is_kept_between_runs_and_refused_when_it_is_held(path):
    with open_ledger(path, alive=lambda pid: True) as ledger:
        job = begin(ledger, number=1)
        with pytest.raises(JobInUse):
            ledger.set_current(job, mark(2), at(2))
        ledger.give_back(job, mark(1))
        ledger.set_current(job, mark(2), at(2))
    with open_ledger(path) as ledger:
        assert ledger.current() == job
        ledger.clear_current()
        assert ledger.current() is None


HOLDER = """
import sys
from pathlib import Path
from assistant.records.ledger import open_ledger
from assistant.records.lease import own_mark
from tests.records.story import DATE, OPENING, at
with open_ledger(Path(sys.argv[1])) as ledger:
    print(ledger.open_job(OPENING, date=DATE, at=at(1), who="ada", mark=own_mark("first")).job, flush=True)
    sys.stdin.read()
"""


def test_two_processes_on_one_job_and_the_second_takes_over_when_the_first_is_killed(path):
    first = subprocess.Popen(
        [sys.executable, "-c", HOLDER, str(path)], cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    with first:
        job = first.stdout.readline().strip()
        with open_ledger(path) as ledger:
            with pytest.raises(JobInUse, match=f"process {first.pid}"):
                JobSession.resumed(ledger, own_mark("second"), job, at=at(2), who="bo")
            first.kill()
            first.wait()
            second = JobSession.resumed(ledger, own_mark("second"), job, at=at(3), who="bo")
            assert f"process {first.pid}" in second.notice


def test_this_process_lives_and_an_impossible_one_does_not():
    assert process_alive(os.getpid())
    gone = subprocess.Popen([sys.executable, "-c", ""])
    gone.wait()
    assert not process_alive(gone.pid)
