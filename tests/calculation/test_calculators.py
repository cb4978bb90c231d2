"""Every calculator as declared: it is whole, its example runs, and bad input is refused with what would be right."""

import inspect
import re
import shlex
from dataclasses import fields

import pytest
import yaml

from assistant.calculation.declaration import Assumption, Calculator, Input
from assistant.calculation.registry import DECLARATIONS, TRADES, calculator_named, calculators, function_of
from assistant.calculation.running import calculate
from assistant.calculation.tables import FOLDER, Table, table, tables
from assistant.dialogue.calculation_wish import wish_of
from assistant.domain.calculation import Given, Source, Verdict
from assistant.errors import CalculationError
from assistant.rules.calculation_page import result_page
from assistant.rules.grounding import figures_in

ALL = list(calculators().values())
NAMES = [c.name for c in ALL]


def run(name, text):
    pairs = (part.split("=", 1) for part in shlex.split(text))
    return calculate(calculator_named(name), [Given(name=key, text=value) for key, value in pairs])


def keys(kind):
    return {f.name for f in fields(kind)}


@pytest.mark.parametrize("calculator", ALL, ids=NAMES)
def test_every_example_runs_and_shows_rule_source_and_figures_of_its_own(calculator):
    result = run(calculator.name, calculator.example)
    assert result.figures and result.formula and result.sources and result.taken
    for line in result_page(result):
        assert all(word in line.computed for word, _ in figures_in(line.text)), line


@pytest.mark.parametrize("calculator", ALL, ids=NAMES)
def test_a_function_takes_what_is_declared_and_every_question_is_written(calculator):
    assert list(inspect.signature(function_of(calculator)).parameters) == list(calculator.inputs)
    for name, wanted in calculator.inputs.items():
        assert wanted.optional or wanted.ask.endswith("?"), name
        assert not (wanted.assume and wanted.optional and wanted.ask == "?")
    assert calculator.wishes and all(re.compile(p) for group in calculator.wishes for p in group)


@pytest.mark.parametrize("trade", TRADES)
def test_no_key_of_a_declaration_is_unknown(trade):
    for row in yaml.safe_load((DECLARATIONS / f"{trade}.yaml").read_text(encoding="utf-8")):
        assert set(row) <= keys(Calculator) - {"trade"}, row["name"]
        assert set(row.get("next", {})) <= {str(v) for v in Verdict}
        for source in row["sources"]:
            assert set(source) == keys(Source)
        for name, wanted in row["inputs"].items():
            assert set(wanted) <= keys(Input), (row["name"], name)
            assert set(wanted.get("assume", {"text", "why"})) == keys(Assumption)


def test_no_key_of_a_table_is_unknown_and_names_are_told_once():
    for path in sorted(FOLDER.glob("*.yaml")):
        for name, row in yaml.safe_load(path.read_text(encoding="utf-8")).items():
            assert set(row) <= keys(Table), name
    assert len(NAMES) == len(set(NAMES)) == len(ALL) >= 70


@pytest.mark.parametrize("calculator", [c for c in ALL if any(i.unit for i in c.inputs.values())], ids=lambda c: c.name)
def test_a_missing_and_a_wrong_unit_are_refused_everywhere(calculator):
    given = dict(part.split("=", 1) for part in shlex.split(calculator.example))
    name = next(n for n, i in calculator.inputs.items() if i.unit and n in given)
    for bad in ("3", "3 bananas", "3 EUR", "nan V", "-1e30 " + calculator.inputs[name].unit):
        items = [Given(name=key, text=bad if key == name else value) for key, value in given.items()]
        with pytest.raises(CalculationError) as raised:
            calculate(calculator, items)
        assert raised.value.hint


@pytest.mark.parametrize(
    "name, text, message, hint",
    [
        ("motor-current-table", "power=4hp voltage=460V phases=3", "no row for power 4 hp", "3 and 5"),
        ("motor-current-table", "power=2hp voltage=400V phases=3", "no column for 400 V", "motor-current"),
        ("motor-current-table", "power=3hp voltage=115V phases=3", "no column for 115 V", "200, 208"),
        ("motor-current-table", "power=2hp voltage=460V phases=2", "1 or 3 phases", "phases=3"),
        ("motor-current-table", "power=60hp voltage=460V phases=3", "no row", "30 hp"),
        ("synchronous-speed", "frequency=50Hz poles=3", "even number", "pole pairs"),
        ("slip", "frequency=50Hz poles=4 speed=1600r/min", "above the synchronous", "poles"),
        ("voltage-unbalance", "voltages='400, 401 V'", "three phases", "three"),
        ("conductor-resistance", "size=3mm² length=1m", "no row for size 3", "2.5 and 4"),
        ("insulation-resistance", "resistance=4MΩ temperature=60°C insulation=thermosetting", "from 10 to 40", "range"),
        ("fuse-size", "current=9A load=motor voltage=24V", "ends at 10 A", "larger"),
        ("fuse-time", "kind='T high breaking' rating=3.5A current=7A", "not for 3.5 A", "maker"),
        ("pt100-temperature", "resistance=900Ω", "outside", "sensor"),
        ("chain-wear", "measured=120mm pitch=12.7mm links=10", "shorter than new", "Count"),
        ("bearing-life", "rating=2kN load=3kN kind=ball", "above the dynamic rating", "larger"),
        ("bolt-torque", "diameter=7mm property_class=8.8", "no row for diameter 7", "6 and 8"),
        ("cylinder-force", "bore=33mm pressure=6bar", "no row for bore 33", "32 and 40"),
        ("stretch-marks", "before=320mm after=100mm", "closer together", "roll first"),
        ("next-due", "interval=500h last=2000h now=1560h", "below its last", "reset"),
        ("next-due", "interval=500cycles last=2000h now=2560h", "mix units", "all in hours"),
        ("current-loop", "current=12mA low=0bar high=10N", "mixes units", "one unit"),
        ("pareto", "causes='film, jam 3'", "no name with a count", "jam 7"),
        ("shaft-torque", "power=0.75kW", "still needs speed", "What speed?"),
        ("shaft-torque", "power=0.75kW speed=1400r/min torque=3", "no input `torque`", "It takes"),
        ("shaft-torque", "power=0.75kW sped=1400r/min", "no input `sped`", "`speed`"),
        ("shaft-torque", "power=-0.75kW speed=1400r/min", "makes no sense", "above 0"),
        ("synchronous-speed", "frequency=50Hz poles=4.5", "not a whole number", "whole"),
        ("sensing-distance", "rated=8mm metal=cheese", "none of the choices", "aluminium"),
    ],
)
def test_bad_input_says_what_is_wrong_and_what_would_be_right(name, text, message, hint):
    with pytest.raises(CalculationError) as raised:
        run(name, text)
    assert message in raised.value.message and hint in raised.value.hint, (raised.value.message, raised.value.hint)


def test_an_unknown_calculator_offers_the_nearest():
    with pytest.raises(CalculationError) as raised:
        calculator_named("chain-sagg")
    assert "chain-sag" in raised.value.hint


def test_what_is_unknown_is_assumed_only_where_the_declaration_says_so_and_shown_as_assumed():
    result = run("motor-current", "power=1.5kW voltage=400V phases=3 power_factor=unknown efficiency=unknown")
    assumed = {item.name: item.place for item in result.taken if item.origin == "assumed"}
    assert assumed == {"power_factor": "common practice, no source", "efficiency": "common practice, no source"}
    with pytest.raises(CalculationError):
        run("motor-current", "power=unknown voltage=400V phases=3")


def test_a_kilowatt_size_is_taken_as_its_twin_in_the_table_and_nothing_further_away():
    result = run("motor-current-table", "power=1.5kW voltage=460V phases=3")
    assert result.figures[0].value == 3.4 and "2 hp row" in result.notes[0]
    with pytest.raises(CalculationError):
        run("motor-current-table", "power=1.6kW voltage=460V phases=3")


def test_only_a_curve_is_read_between_its_points():
    assert table("voltage_derating").read(2.5) == pytest.approx((0.95 + 0.89) / 2)
    assert [name for name, rows in tables().items() if rows.between] == ["voltage_derating"]
    with pytest.raises(CalculationError):
        table("voltage_derating").read(5.1)
    with pytest.raises(CalculationError):
        table("conductor_class_5").read(3)


@pytest.mark.parametrize("calculator", ALL, ids=NAMES)
def test_every_calculator_is_reached_by_its_name_in_words(calculator):
    wish = wish_of(f"calculate {calculator.name.replace('-', ' ')}")
    assert wish is not None
    others = [c.name for c in ALL if set(c.name.split("-")) <= set(calculator.name.split("-"))]
    assert wish.calculator.name in others
