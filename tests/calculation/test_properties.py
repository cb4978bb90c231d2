"""What holds for every figure: units, monotony, inverses, limits, and other implementations of the same."""

import math
import shlex

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from assistant.calculation.registry import calculator_named
from assistant.calculation.running import calculate
from assistant.calculation.signal import celsius_at, ratio_at
from assistant.calculation.upkeep import chi_square, poisson_tail
from assistant.calculation.winding import unbalance_of
from assistant.domain.calculation import Given

LONG = st.floats(min_value=100, max_value=5000)
SHARE = st.floats(min_value=0, max_value=90)


def first(name, text):
    pairs = (part.split("=", 1) for part in shlex.split(text))
    return calculate(calculator_named(name), [Given(name=k, text=v) for k, v in pairs]).figures[0].value


@given(st.floats(min_value=-199, max_value=849))
def test_platinum_there_and_back_is_the_same_temperature(celsius):
    assert celsius_at(ratio_at(celsius)) == pytest.approx(celsius, abs=1e-6)


@given(st.floats(min_value=-199, max_value=848))
def test_platinum_rises_with_temperature(celsius):
    assert ratio_at(celsius + 1) > ratio_at(celsius)


@given(
    st.floats(min_value=0.01, max_value=100),
    st.floats(min_value=0.05, max_value=5),
    st.floats(min_value=1, max_value=500),
)
@settings(max_examples=40)
def test_belt_frequency_is_the_inverse_of_belt_tension(mass, span, hertz):
    pull = first("belt-tension", f"mass={mass / 10!r}kg/m span={span!r}m frequency={hertz!r}Hz")
    if pull < 1e6:
        assert first("belt-frequency", f"mass={mass / 10!r}kg/m span={span!r}m tension={pull!r}N") == pytest.approx(
            hertz, rel=1e-6
        )


@given(st.floats(min_value=1, max_value=400))
@settings(max_examples=40)
def test_stretch_of_a_ratio_is_the_inverse_of_the_ratio_of_a_stretch(percent):
    ratio = 1 + percent / 100
    assert first("pre-stretch", f"ratio={ratio!r}") == pytest.approx(percent, abs=1e-6)
    assert first("stretch-in-metres", f"stretch={percent!r}%") == pytest.approx(ratio, rel=1e-9)


@given(LONG, st.floats(min_value=200, max_value=1000), SHARE)
@settings(max_examples=60)
def test_the_turns_of_a_wrap_cover_the_height_and_one_fewer_would_not(height, width, overlap):
    turns = first("film-turns", f"height={height!r}mm width={width!r}mm overlap={overlap!r}%")
    rise = width * (1 - overlap / 100)
    assert width + (turns - 1) * rise >= height - 1e-3
    assert turns == 1 or width + (turns - 2) * rise < height + 1e-3


@given(LONG, SHARE, st.floats(min_value=1, max_value=9))
@settings(max_examples=40)
def test_more_overlap_never_takes_fewer_turns(height, overlap, more):
    few, many = (
        first("film-turns", f"height={height!r}mm width=500mm overlap={o!r}%")
        for o in (overlap, min(overlap + more, 95.0))
    )
    assert many >= few


@given(st.lists(st.floats(min_value=100, max_value=500), min_size=3, max_size=3))
def test_unbalance_is_none_for_equal_phases_and_does_not_depend_on_their_order(volts):
    assert unbalance_of([volts[0]] * 3)[1] == pytest.approx(0, abs=1e-9)
    assert unbalance_of(volts)[1] == pytest.approx(unbalance_of(volts[::-1])[1])
    assert unbalance_of([v * 2 for v in volts])[1] == pytest.approx(unbalance_of(volts)[1])


@given(st.floats(min_value=1, max_value=1000), st.floats(min_value=1, max_value=100))
@settings(max_examples=40)
def test_a_longer_cable_drops_more_and_in_proportion(metres, amps):
    one = first("voltage-drop", f"length={metres!r}m size=16mm² current={amps / 10!r}A voltage=1000V")
    two = first("voltage-drop", f"length={2 * metres!r}m size=16mm² current={amps / 10!r}A voltage=1000V")
    assert two == pytest.approx(2 * one, rel=1e-6)


@given(st.floats(min_value=0.1, max_value=100))
@settings(max_examples=40)
def test_the_same_power_in_kilowatts_and_horsepower_gives_the_same_torque(kilowatts):
    hp = kilowatts * 1000 / (550 * 0.3048 * 4.4482216152605)
    assert first("shaft-torque", f"power={kilowatts!r}kW speed=1400r/min") == pytest.approx(
        first("shaft-torque", f"power={hp!r}hp speed=1400r/min"), rel=1e-9
    )


@given(st.floats(min_value=61, max_value=1000), st.floats(min_value=100, max_value=1e6))
@settings(max_examples=40)
def test_a_drain_resistor_discharges_in_the_time_that_it_was_made_for(volts, microfarad):
    kilohm = first("drain-resistor", f"capacitance={microfarad / 10!r}µF voltage={volts!r}V")
    seconds = first(
        "capacitor-discharge", f"capacitance={microfarad / 10!r}µF voltage={volts!r}V resistance={kilohm!r}kΩ"
    )
    assert seconds == pytest.approx(5.0, rel=1e-6)


@given(st.floats(min_value=0.001, max_value=0.999), st.integers(min_value=1, max_value=60))
@settings(max_examples=60)
def test_chi_square_agrees_with_scipy(chance, half):
    assert chi_square(chance, 2 * half) == pytest.approx(stats.chi2.ppf(chance, 2 * half), rel=1e-6)


@given(st.floats(min_value=0.01, max_value=50), st.integers(min_value=1, max_value=60))
@settings(max_examples=60)
def test_the_tail_of_a_poisson_variable_agrees_with_scipy(mean, count):
    assert poisson_tail(mean, count) == pytest.approx(stats.poisson.sf(count - 1, mean), abs=1e-9)


def test_bounds_of_the_mean_time_between_failures_as_scipy_has_them():
    result = calculate(calculator_named("mtbf"), [Given(name="hours", text="2000 h"), Given(name="failures", text="5")])
    low, high = 2 * 2000 / stats.chi2.ppf(0.95, 12), 2 * 2000 / stats.chi2.ppf(0.05, 10)
    assert [f.value for f in result.figures] == pytest.approx([2000 / 5, low, high], rel=1e-6)


def test_without_a_failure_only_a_lower_bound_is_given():
    result = calculate(calculator_named("mtbf"), [Given(name="hours", text="1000 h"), Given(name="failures", text="0")])
    assert [f.value for f in result.figures] == pytest.approx([1000 / -math.log(1 - 0.9)], rel=1e-6)


@given(st.floats(min_value=1.01, max_value=50))
@settings(max_examples=60)
def test_a_fuse_never_holds_longer_at_more_current(multiple):
    def span(times):
        pairs = f"kind='T low breaking' rating=1A current={times!r}A"
        given_ = [Given(name=k, text=v) for k, v in (p.split("=", 1) for p in shlex.split(pairs))]
        figures = {f.name: f.value for f in calculate(calculator_named("fuse-time"), given_).figures}
        return figures.get("opens within", math.inf)

    assert span(multiple * 1.5) <= span(multiple)
