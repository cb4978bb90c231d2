import subprocess
import sys

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.calculation.units import amount_of, converted, rounded
from assistant.errors import CalculationError

FIGURES = st.floats(min_value=1e-6, max_value=1e6)
SAME = [("in", "inch", "mm"), ("lbf", "force_pound", "N"), ("psi", "psi", "bar"), ("hp", "horsepower", "kW"), ("ft", "foot", "m"),
        ("lb", "pound", "kg"), ("kN", "kilonewton", "N"), ("mil", "thou", "µm"), ("h", "hour", "s"), ("MΩ", "megaohm", "Ω"), ("r/min", "rpm", "rpm")]  # fmt: skip


def in_unit(text, unit):
    return converted(amount_of(text, "x"), unit, "x")


def test_fractions_are_read_as_people_write_motor_sizes():
    assert (
        in_unit("3/4 hp", "hp") == 3 / 4
        and in_unit("1-1/2 hp", "hp") == 1 + 1 / 2
        and in_unit("7 1/2 hp", "hp") == 7 + 1 / 2
    )


def test_milliohm_and_megohm_are_told_apart():
    assert in_unit("4 MΩ", "Ω") == 4 * 10**6 and in_unit("4 mΩ", "Ω") == 4 / 10**3


def test_nm_on_a_torque_is_newton_metres_never_nanometres():
    assert in_unit("5 Nm", "N·m") == 5
    with pytest.raises(CalculationError):
        in_unit("5 nm", "N·m")


def test_fahrenheit_has_its_offset():
    assert in_unit("68 °F", "°C") == pytest.approx((68 - 32) * 5 / 9)


@pytest.mark.parametrize("ours, theirs, wanted", SAME)
def test_our_own_registry_agrees_with_the_whole_of_pint(ours, theirs, wanted):
    whole = pint.UnitRegistry()
    there = {"Ω": "ohm", "µm": "micrometer"}.get(wanted, wanted)
    assert in_unit(f"3.7 {ours}", wanted) == pytest.approx(whole.Quantity(3.7, theirs).to(there).magnitude, rel=1e-9)


@given(FIGURES)
def test_a_unit_and_back_is_the_same_figure(value):
    there = in_unit(f"{value!r} in", "mm")
    assert in_unit(f"{there!r} mm", "in") == pytest.approx(value, rel=1e-9)


@pytest.mark.parametrize(
    "text, unit, message, hint",
    [
        ("24", "V", "has no unit", "24 V"),
        ("3 A", "V", "does not measure this", "V"),
        ("4 bananas", "V", "not a unit known here", "V"),
        ("1,500 V", "V", "comma", "1500"),
        ("nan V", "V", "not a number", "finite"),
        ("inf V", "V", "not a number", "finite"),
        ("twelve", "V", "not a figure", "24 V"),
        ("5 V", "", "has a unit", "Write 5"),
    ],
)
def test_what_is_wrong_and_what_would_be_right(text, unit, message, hint):
    with pytest.raises(CalculationError) as raised:
        in_unit(text, unit)
    assert message in raised.value.message and hint in raised.value.hint


@pytest.mark.parametrize(
    "value, text", [(0.30214, "0.302"), (27.0, "27"), (1178.1, "1178"), (0.0, "0"), (12345.6, "12346"), (-2.5, "-2.5")]
)
def test_sensible_digits_have_no_exponent(value, text):
    assert rounded(value) == text


def test_neither_the_package_nor_the_chat_loads_pint():
    code = (
        "import sys, assistant, assistant.chat, assistant.cli\nfrom assistant.assembly import *\n"
        "from assistant.dialogue.session import Session\nfrom assistant.settings import load_settings\n"
        "a = make_assistant(load_settings({}), Options(model=False), lambda t: None)\n"
        "Session(a).say('where is FC3')\nprint('pint' in sys.modules)\n"
        "Session(a).say('80 gauge in micron')\nprint('pint' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["False", "True"]
