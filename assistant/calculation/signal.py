"""Analogue signals and temperature sensors: 4-20 mA to units with its fault levels, loop budget, Pt100 both ways."""

from __future__ import annotations

import math

from assistant.calculation.tables import table
from assistant.calculation.units import Amount, rounded
from assistant.calculation.worked import Worked, figure
from assistant.domain.calculation import Source, Verdict
from assistant.errors import CalculationError

A, B, C = 3.9083e-3, -5.775e-7, -4.183e-12
"""IEC 60751:2008 (2022), coefficients of platinum; C below 0 °C only."""
LOWEST_C, HIGHEST_C = -200.0, 850.0


def current_loop(current: float, low: Amount, high: Amount) -> Worked:
    """4-20 mA to units, and what NAMUR NE 43 makes of the current; mA."""
    unit = _one_unit(low, high)
    value = low.value + (high.value - low.value) * (current - 4.0) / 16.0
    share = 100 * (current - 4.0) / 16.0
    verdict, why = _band(current)
    figures = [figure("share of the span", share, "%")]
    if verdict is not Verdict.STOP:
        figures.insert(0, figure("value", value, unit))
    else:
        figures.insert(0, figure("current", current, "mA"))
    return Worked(figures=tuple(figures), verdict=verdict, why=why)


def _band(current: float) -> tuple[Verdict, str]:
    if current <= 3.6 or current >= 21.0:
        return Verdict.STOP, "That is a failure signal, no measurement."
    if current < 3.8 or current > 20.5:
        return Verdict.ACT, "It lies between the bands: neither a measurement nor a failure signal."
    if current < 4.0:
        return Verdict.ACT, "It is under the range, but still a measurement."
    if current > 20.0:
        return Verdict.ACT, "It is over the range, but still a measurement."
    return Verdict.GOOD, "It is a measurement within its range."


def current_wanted(value: Amount, low: Amount, high: Amount) -> Worked:
    """Units back to 4-20 mA."""
    _one_unit(low, high, value)
    current = 4.0 + 16.0 * (value.value - low.value) / (high.value - low.value)
    verdict, why = _band(current)
    return Worked(figures=(figure("current", current, "mA", 4),), verdict=verdict, why=why)


def _one_unit(low: Amount, high: Amount, *others: Amount) -> str:
    """The unit that all share."""
    units = dict.fromkeys(item.unit for item in (low, high, *others))
    if len(units) > 1:
        raise CalculationError(
            f"The range mixes units: {', '.join(unit or 'none' for unit in units)}.", "Give all in one unit."
        )
    if low.value == high.value:
        raise CalculationError("The range has no width.", "Give the values at 4 mA and at 20 mA.")
    return low.unit


def loop_budget(supply: float, transmitter: float, current: float) -> Worked:
    """R = (supply - transmitter) / I; V, mA -> Ω."""
    if transmitter >= supply:
        raise CalculationError("The transmitter needs the whole supply or more.", "Check the two voltages.")
    return Worked(figures=(figure("load of the loop, at most", (supply - transmitter) / current * 1000, "Ω"),))


def shunt(current: float, resistance: float) -> Worked:
    """U = I R; mA, Ω -> V."""
    return Worked(figures=(figure("voltage across it", current / 1000 * resistance, "V"),))


def ratio_at(celsius: float) -> float:
    """R / R0 of platinum at a temperature."""
    below = C * (celsius - 100) * celsius**3 if celsius < 0 else 0.0
    return 1 + A * celsius + B * celsius**2 + below


def celsius_at(ratio: float) -> float:
    """Temperature of a ratio: the quadratic above 0 °C, Newton's steps below."""
    guess = (-A + math.sqrt(A * A - 4 * B * (1 - ratio))) / (2 * B)
    if ratio >= 1:
        return guess
    for _ in range(20):
        slope = A + 2 * B * guess + C * (4 * guess**3 - 300 * guess**2)
        guess -= (ratio_at(guess) - ratio) / slope
    return guess


def pt_resistance(temperature: float, nominal: float, tolerance_class: str) -> Worked:
    """Resistance of a platinum sensor, and its tolerance; °C -> Ω."""
    tolerance, source = _tolerance(temperature, tolerance_class)
    return Worked(
        figures=(figure("resistance", nominal * ratio_at(temperature), "Ω", 5), figure("tolerance ±", tolerance, "K")),
        sources=(source,),
    )


def pt_temperature(resistance: float, nominal: float, lead: float, tolerance_class: str) -> Worked:
    """Temperature of a platinum sensor from its resistance, leads taken off; Ω -> °C."""
    if resistance <= lead:
        raise CalculationError("The leads have as much resistance as the reading.", "Check both figures.")
    ratio = (resistance - lead) / nominal
    if not ratio_at(LOWEST_C) <= ratio <= ratio_at(HIGHEST_C):
        raise CalculationError(
            f"{rounded(resistance, 5)} Ω is outside of what this sensor can be: {LOWEST_C:g} to {HIGHEST_C:g} °C.",
            "Open or shorted? Measure at the sensor with its wires off.",
        )
    value = celsius_at(ratio)
    tolerance, source = _tolerance(value, tolerance_class)
    figures = [figure("temperature", value, "°C", 4), figure("tolerance ±", tolerance, "K")]
    if lead:
        figures.append(figure("reads too high with the leads in, by", celsius_at(resistance / nominal) - value, "K"))
    return Worked(figures=tuple(figures), sources=(source,))


def _tolerance(celsius: float, name: str) -> tuple[float, Source]:
    rows = table("pt100_tolerance")
    fixed, each = rows.word(name)
    return fixed + each * abs(celsius), rows.cited
