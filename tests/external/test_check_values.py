"""Published check points against calculators and tables; each row of points/*.yaml names its source, edition and standing."""

import shlex
from pathlib import Path

import pytest
import yaml

from assistant.calculation.registry import calculator_named
from assistant.calculation.running import calculate
from assistant.calculation.tables import table
from assistant.domain.calculation import Given
from assistant.errors import CalculationError

POINTS = [
    row
    for path in sorted((Path(__file__).parent / "points").glob("*.yaml"))
    for row in yaml.safe_load(path.read_text(encoding="utf-8"))
]
EXACT = 1e-6
"""Relative; where a source gives no tolerance it is a definition, a table value or a whole number."""


def result_of(row):
    pairs = (part.split("=", 1) for part in shlex.split(row["given"]))
    given = [Given(name=name, text=text) for name, text in pairs]
    return calculate(calculator_named(row["calculator"]), given)


def figure_of(result, name):
    if name.startswith("#"):
        return result.figures[int(name[1:]) - 1].value
    found = [item.value for item in result.figures if item.name == name]
    assert found, f"no figure `{name}` among {[item.name for item in result.figures]}"
    return found[0]


def near(value, wanted):
    if isinstance(wanted, list):
        return value == pytest.approx(wanted[0], abs=wanted[1])
    return value == pytest.approx(wanted, rel=EXACT, abs=1e-12)


@pytest.mark.parametrize("row", [r for r in POINTS if "calculator" in r], ids=lambda row: row["id"])
def test_a_calculator_gives_the_published_figure(row):
    if any(name == "error" for name in row["expected"]):
        with pytest.raises(CalculationError) as raised:
            result_of(row)
        assert row["expected"]["error"] in raised.value.message
        return
    result = result_of(row)
    texts = {"note": result.notes, "why": (result.why,), "limit": (result.limit,), "next": result.next}
    for name, wanted in row["expected"].items():
        if name == "verdict":
            assert str(result.verdict) == wanted
        elif name in texts:
            assert any(wanted in text for text in texts[name]), texts[name]
        else:
            assert near(figure_of(result, name), wanted), (name, figure_of(result, name), wanted)


@pytest.mark.parametrize("row", [r for r in POINTS if "table" in r], ids=lambda row: row["id"])
def test_a_table_holds_the_published_row(row):
    kept = table(row["table"]).rows[str(row["key"])]
    if "within" in row:
        assert kept == pytest.approx(row["expected"], abs=row["within"])
    else:
        assert kept == row["expected"]


def test_every_point_names_its_source_and_how_it_stands():
    assert len(POINTS) >= 120 and len({row["id"] for row in POINTS}) == len(POINTS)
    standings = ("confirmed", "arithmetic", "from memory", "common practice")
    assert all(row["source"] and row["status"].startswith(standings) for row in POINTS)


def test_what_a_person_should_check_first_never_counts_as_confirmed():
    assert all(not row["status"].startswith("confirmed") for row in POINTS if row.get("held_back"))
