import json
import subprocess
import sys

import pytest
from typer.testing import CliRunner

from assistant.calc_cli import pairs_of
from assistant.calculation.registry import calculators
from assistant.cli import app
from assistant.errors import AssistantError, CalculationError


def run(*arguments):
    return CliRunner().invoke(app, ["calc", *arguments])


def test_without_a_name_all_calculators_are_listed_by_trade():
    lines = run().stdout.splitlines()
    assert {line.split()[0] for line in lines if line.startswith("  ")} == set(calculators())
    assert json.loads(run("--json").stdout)[0].keys() >= {"name", "title", "inputs", "formula", "sources", "example"}


def test_with_a_name_alone_it_says_what_it_takes_and_an_example_that_runs():
    done = run("shaft-torque")
    assert done.exit_code == 0 and "shaft power, in kW" in done.stdout and "Source:" in done.stdout
    example = done.stdout.strip().splitlines()[-1].removeprefix("handlamp calc ").split(maxsplit=1)
    assert run(*example).exit_code == 0


def test_the_result_shows_figure_verdict_inputs_with_origin_rule_source_and_what_to_do():
    text = run("insulation-resistance", "resistance=4MΩ temperature=20°C").stdout
    for part in (
        "1.6 MΩ",
        "act.",
        "At least 5 MΩ",
        "4 MΩ (you)",
        "assumed: usual for motors",
        "IEEE 43-2013",
        "(from memory)",
        "Do next:",
        "DANGER",
    ):
        assert part in text, part


def test_pairs_may_be_one_argument_or_many_and_values_may_hold_spaces():
    one, many = (
        run("shaft-torque", "power=0.75 kW speed=1400 r/min"),
        run("shaft-torque", "power=0.75kW", "speed=1400r/min"),
    )
    assert one.exit_code == many.exit_code == 0
    assert one.stdout.splitlines()[-12:-8] == many.stdout.splitlines()[-12:-8]
    assert pairs_of("voltages=462, 463, 455 V motor='squirrel cage'") == {
        "voltages": "462, 463, 455 V",
        "motor": "squirrel cage",
    }


@pytest.mark.parametrize("text", ["12 kW", "power=1kW power=2kW"])
def test_pairs_that_cannot_be_read_are_refused(text):
    with pytest.raises(CalculationError):
        pairs_of(text)


def test_a_component_brings_what_the_machine_knows_of_it():
    done = run("measured-current", "current=2.5A motor=MA1", "--machine", "drumlin", "--json")
    data = json.loads(done.stdout)
    taken = {item["name"]: (item["text"], item["origin"], item["place"]) for item in data["calculation"]["taken"]}
    assert taken["rated"] == ("2.6 A", "the machine's knowledge", "MA1") and taken["current"][1] == "you"
    assert data["calculation"]["verdict"] == "good" and data["sources"] == ["drumlin/component/MA1"]
    assert {warning["hazard"] for warning in data["warnings"]} >= {"electric-shock", "entanglement"}


def test_the_brake_of_the_machine_is_judged_by_its_own_gap_and_by_what_hangs_on_it():
    gap = json.loads(run("brake-gap", "gap=0.35mm", "-m", "drumlin", "--json").stdout)["calculation"]
    assert gap["verdict"] == "act" and [t["text"] for t in gap["taken"]] == ["0.35 mm", "0.2 mm", "0.3 mm", "0.5 mm"]
    hold = json.loads(run("holding-torque", "component=MB1", "-m", "drumlin", "--json").stdout)["calculation"]
    assert hold["figures"][0]["value"] == pytest.approx(5 / (85 * 9.80665 * 0.063 / 2 / 40))


@pytest.mark.parametrize(
    "arguments, message",
    [
        (("shaft-torq",), "shaft-torque"),
        (("shaft-torque", "power=0.75kW speed=1400"), "has no unit"),
        (("shaft-torque", "power=0.75A speed=1400r/min"), "does not fit"),
        (("measured-current", "current=2A motor=MA9", "-m", "drumlin"), "no component `MA9`"),
        (("measured-current", "current=2A motor=MA1"), "Say which machine"),
        (("measured-current", "current=2A motor=MA1", "-m", "nowhere"), "no machine `nowhere`"),
    ],
)
def test_an_error_says_what_and_what_to_do(arguments, message):
    error = run(*arguments).exception
    assert isinstance(error, AssistantError) and error.hint
    assert message in f"{error.message} {error.hint}"


def test_at_the_shell_an_error_is_two_lines_and_exit_1():
    done = subprocess.run(
        [sys.executable, "-m", "assistant.cli", "calc", "shaft-torque", "power=1kW"], capture_output=True, text=True
    )
    assert done.returncode == 1 and done.stderr.startswith("error: ") and "Traceback" not in done.stderr
