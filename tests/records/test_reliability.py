import json

import pytest
from typer.testing import CliRunner

from assistant.cli import app
from assistant.domain.job_events import Closed, FaultNamed, Opened
from assistant.domain.job_terms import Share
from assistant.records.ledger import FILE, open_ledger
from assistant.records.reliability import figures_of
from tests.records.story import mark


@pytest.fixture
def run(tmp_path, monkeypatch):
    monkeypatch.setenv("HANDLAMP_DATA_DIR", str(tmp_path / "data"))
    return lambda *arguments: CliRunner().invoke(app, ["jobs", *arguments])


def stop(ledger, day, hours, *found, machine="drumlin", minute=0):
    """A job that was opened on that day of June at 08:00 and closed whole hours later."""
    at, end = f"2026-06-{day:02}T08:{minute:02}:00+00:00", f"2026-06-{day:02}T{8 + hours:02}:{minute:02}:00+00:00"
    opening = Opened(machine=machine, complaint="it stands")
    job = ledger.open_job(opening, date=at[:10], at=at, who="x", mark=mark()).job
    if found:
        ledger.append(job, FaultNamed(fault="drumlin/fault/table-dead"), at=at, who="x", mark=mark())
    ledger.append(job, Closed(found=tuple(Share(name=n, share=s) for n, s in found)), at=end, who="x", mark=mark())


@pytest.fixture
def book(tmp_path):
    with open_ledger(tmp_path / "data" / FILE, alive=lambda pid: True) as ledger:
        yield ledger


def three(ledger):
    stop(ledger, 1, 2, ("chain-off", 1.0))
    stop(ledger, 6, 1, ("chain-off", 0.5), ("relay", 0.5))
    stop(ledger, 11, 4)


def test_calendar_time_leaves_out_the_hours_down_and_the_first_failure(book):
    three(book)
    (found,) = figures_of(book.states(), 90)
    # 240 h from the first opening to the third, 4 h to its end; 2 + 1 + 4 h of it down.
    assert found.hours_up == pytest.approx(237) and found.failures == 2
    assert found.mtbf.value == pytest.approx(118.5) and found.mttr.value == pytest.approx(7 / 3)
    assert found.availability.value == pytest.approx(100 * 118.5 / (118.5 + 7 / 3))
    assert found.availability.low < found.availability.value < found.availability.high
    assert found.mttr.low < found.mttr.value < found.mttr.high


def test_two_jobs_at_once_are_down_once(book):
    stop(book, 1, 4)
    stop(book, 1, 2, minute=30)
    stop(book, 2, 1)
    assert figures_of(book.states(), 90)[0].hours_up == pytest.approx(25 - 5)


def test_run_hours_count_every_failure(book):
    three(book)
    (found,) = figures_of(book.states(), 90, 600)
    assert found.failures == 3 and found.mtbf.value == pytest.approx(200)


def test_causes_stand_by_share_and_reach_the_whole(book):
    three(book)
    rows = figures_of(book.states(), 90)[0].causes
    assert [(r.cause, r.jobs) for r in rows] == [
        ("drumlin/fault/table-dead: chain-off", 1.5), ("no cause found", 1.0), ("drumlin/fault/table-dead: relay", 0.5),
    ]  # fmt: skip
    assert [r.together for r in rows] == pytest.approx([50, 250 / 3, 100])


def test_one_job_says_plainly_that_it_is_too_few(book, run):
    stop(book, 1, 2, ("chain-off", 1.0))
    told = run("figures").stdout
    assert "Too few closed jobs for a mean time between failures" in told and "cannot be said" in told
    assert "2.00 h, no bounds" in told and "Only 1 closed job:" in told


def test_open_jobs_and_other_machines_are_left_out(book, run):
    three(book)
    stop(book, 3, 1, machine="skerry")
    book.open_job(
        Opened(machine="drumlin", complaint="x"),
        date="2026-06-20",
        at="2026-06-20T08:00:00+00:00",
        who="x",
        mark=mark(),
    )
    found = json.loads(run("figures", "-m", "drumlin", "--json").stdout)["machines"]
    assert [(m["machine"], m["jobs"]) for m in found] == [("drumlin", 3)]
    assert [m["machine"] for m in json.loads(run("figures", "--json").stdout)["machines"]] == ["drumlin", "skerry"]


def test_without_closed_jobs_it_says_so(run):
    assert run("figures", "-m", "drumlin").stdout == "There are no closed jobs of drumlin.\n"


def test_run_hours_ask_for_a_machine_and_a_figure_above_zero(run):
    assert "belong to one machine" in str(run("figures", "--hours", "5").exception)
    assert "above zero" in str(run("figures", "--hours", "0", "-m", "drumlin").exception)
