import json
import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import date

import pytest
from typer.testing import CliRunner

from assistant.cli import app
from assistant.corpus.reader import read_knowledge
from assistant.domain.terms import Value
from assistant.errors import CalculationError
from assistant.records.care import CareDone, due_next
from assistant.records.database import opened
from assistant.records.ledger import open_ledger
from assistant.records.schema import MIGRATIONS
from tests.conftest import ROOT

WEEKLY = "drumlin/maintenance/weekly"
DONE = CareDone(task=WEEKLY, day="2026-01-31", hours=1000.0, cycles=50.0, who="x", at="2026-01-31T08:00:00+00:00")


@pytest.fixture(scope="module")
def weekly():
    return next(t for t in read_knowledge(ROOT / "knowledge").maintenance if t.full_id == WEEKLY)


@pytest.fixture
def run(tmp_path, monkeypatch):
    monkeypatch.setenv("HANDLAMP_DATA_DIR", str(tmp_path / "data"))
    monkeypatch.setattr("assistant.upkeep_cli.now", lambda: "2026-02-05T08:00:00+00:00")
    return lambda *arguments: CliRunner().invoke(app, ["jobs", *arguments])


@pytest.mark.parametrize(
    ("value", "unit", "at", "today", "standing"),
    [
        (1, "week", "2026-02-07", "2026-02-05", "not due"),
        (1, "week", "2026-02-07", "2026-02-07", "due soon"),
        (1, "week", "2026-02-07", "2026-02-08", "overdue"),
        (1, "month", "2026-02-28", "2026-02-10", "not due"),
        (1, "year", "2027-01-31", "2027-01-01", "due soon"),
        (10, "days", "2026-02-10", "2026-02-09", "due soon"),
    ],
)
def test_the_calendar(weekly, value, unit, at, today, standing):
    task = replace(weekly, interval=Value(value=value, unit=unit))
    (found,) = due_next([task], [DONE], date.fromisoformat(today), None, None)
    assert (found.at, found.standing) == (at, standing)


@pytest.mark.parametrize(
    ("unit", "hours", "cycles", "at", "left", "standing"),
    [
        ("h", 1400.0, None, "1500", 100, "not due"),
        ("h", 1460.0, None, "1500", 40, "due soon"),
        ("h", None, 9.0, "1500", None, "counter not given"),
        ("cycles", None, 551.0, "550", -1, "overdue"),
    ],
)
def test_counters(weekly, unit, hours, cycles, at, left, standing):
    task = replace(weekly, interval=Value(value=500, unit=unit))
    (found,) = due_next([task], [DONE], date(2026, 2, 1), hours, cycles)
    assert (found.at, found.left, found.standing) == (at, left, standing)


def test_a_counter_below_its_reading_and_an_interval_that_is_none_are_errors(weekly):
    task = replace(weekly, interval=Value(value=500, unit="h"))
    with pytest.raises(CalculationError, match="below the last reading"):
        due_next([task], [DONE], date(2026, 2, 1), 999.0, None)
    with pytest.raises(CalculationError, match="cannot be counted"):
        due_next([replace(weekly, interval=Value(value=5, unit="mm"))], [], date(2026, 2, 1), None, None)


def test_done_is_recorded_and_due_tells_it(run):
    assert run("done", WEEKLY, "--at", "2026-01-20").exit_code == 0
    tasks = json.loads(run("due", "-m", "drumlin", "--json").stdout)["tasks"]
    assert tasks[0]["task"] == WEEKLY and tasks[0]["at"] == "2026-01-27" and tasks[0]["standing"] == "overdue"
    assert {t["standing"] for t in tasks[1:]} == {"no record"}
    run("done", WEEKLY)
    assert "due 2026-02-12, last 2026-02-05" in run("due", "-m", "drumlin").stdout


def test_what_cannot_be_is_refused(run):
    assert "still to come" in str(run("done", WEEKLY, "--at", "2026-02-06").exception)
    assert "no date" in str(run("done", WEEKLY, "--at", "soon").exception)
    assert "There is no maintenance" in str(run("done", "weekly").exception)
    assert "one machine" in str(run("due", "--hours", "5").exception)
    assert "No counter reads" in str(run("due", "-m", "drumlin", "--hours", "-5").exception)


def test_version_2_takes_maintenance_and_what_was_done_stays(path):
    with closing(opened(path, MIGRATIONS[:2])) as connection:
        connection.execute("INSERT INTO job VALUES ('2026-11-25-1')")
    with open_ledger(path) as ledger:
        ledger.note_care(DONE)
        assert ledger.cares() == (DONE,) and ledger.ids() == ("2026-11-25-1",)
    with closing(sqlite3.connect(path)) as connection:
        for change in ("UPDATE care SET day = '2026-01-01'", "DELETE FROM care"):
            with pytest.raises(sqlite3.IntegrityError, match="never"):
                connection.execute(change)
