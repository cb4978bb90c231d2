import json

import pytest
from typer.testing import CliRunner

from assistant.cli import app
from assistant.errors import UnknownName
from assistant.retrieval.listing import HEADINGS, Listed, listed


def run(*arguments):
    return CliRunner().invoke(app, ["list", *arguments])


@pytest.mark.parametrize("what", list(Listed))
def test_each_table_is_printed_whole_within_eighty_columns(what, knowledge):
    done = run(what)
    lines = done.stdout.splitlines()
    assert done.exit_code == 0 and max(map(len, lines)) <= 80
    assert {"Drumlin 40", "Skerry 3"} <= set(lines)
    for row in listed(knowledge, what, None):
        assert row.cells[0].split()[0] in done.stdout


@pytest.mark.parametrize("what", list(Listed))
def test_as_json_each_row_is_an_object_with_its_machine(what):
    rows = json.loads(run(what, "-m", "skerry", "--json").stdout)
    assert rows and {row["machine"] for row in rows} == {"skerry"}
    assert all(list(row)[1:] == [h.replace(" ", "_") for h in HEADINGS[what]] for row in rows)


def test_words_narrow_it_down_and_a_figure_is_only_itself(knowledge):
    assert [row.cells[0] for row in listed(knowledge, Listed.WIRES, "drumlin", ["BG5"])] == ["16", "73"]
    assert [row.cells[0] for row in listed(knowledge, Listed.WIRES, "drumlin", ["xd2:5"])] == ["75"]
    assert [row.cells[0] for row in listed(knowledge, Listed.CODES, "drumlin", ["mast", "brake", "releas"])] == ["306"]
    assert listed(knowledge, Listed.IO, "drumlin", ["nothing", "like", "this"]) == ()
    assert run("io", "zzz").stdout.strip() == "No row of the io holds zzz."


def test_terminals_and_addresses_stand_in_the_order_of_their_numbers(knowledge):
    assert [row.cells[0] for row in listed(knowledge, Listed.TERMINALS, "skerry")][:11] == [
        *(f"XD3:{n}" for n in (1, 2, 3, 4, 5, 6, 7, 8, "PE")), "XD4:1", "XD4:2"
    ]  # fmt: skip
    inputs = [row.cells[0] for row in listed(knowledge, Listed.IO, "drumlin")][:12]
    assert inputs == [f"I{n}" for n in range(1, 13)]


def test_a_machine_or_a_table_that_does_not_exist_is_said():
    assert isinstance(run("wires", "-m", "nowhere").exception, UnknownName)
    assert run("cables").exit_code == 2
