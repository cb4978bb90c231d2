"""Conductors and supplies: resistance, voltage drop, what is left at the far end, how far a power supply is loaded."""

from __future__ import annotations

import math

from assistant.calculation.tables import table
from assistant.calculation.worked import Worked, figure, judged
from assistant.domain.calculation import Source, Verdict
from assistant.errors import CalculationError

COPPER_ALPHA = 0.00393
"""Per kelvin at 20 °C, for the tables of gauge numbers."""
IEC_ALPHA = 0.004
"""Per kelvin at 20 °C, rounded as IEC 60228's own correction factors are (1.064 at 5 °C, 0.781 at 90 °C)."""
KM_PER_1000_FT = 0.3048
ADVICE = (3.0, 5.0)
"""Percent; branch circuit, and feeder with branch: informational notes of the code, advice and no rule."""


def ohm_per_km(size: float, conductor: str, temperature: float) -> tuple[float, Source]:
    """Resistance of one conductor at a temperature; mm² (class 1, 2, 5) or AWG (solid, stranded) -> Ω/km."""
    name = {
        "class 5": "conductor_class_5",
        "class 2": "conductor_class_2",
        "AWG solid": "conductor_awg_solid",
        "AWG stranded": "conductor_awg_stranded",
    }[conductor]
    rows = table(name)
    _, value = rows.row(size)
    if conductor.startswith("AWG"):
        at_75 = float(value) / KM_PER_1000_FT
        return at_75 * (1 + COPPER_ALPHA * (temperature - 20)) / (1 + COPPER_ALPHA * (75 - 20)), rows.cited
    return float(value) * (1 + IEC_ALPHA * (temperature - 20)), rows.cited


def default_temperature(conductor: str, temperature: float | None) -> float:
    """The table's own temperature where none is given."""
    return temperature if temperature is not None else (75.0 if conductor.startswith("AWG") else 20.0)


def conductor_resistance(size: float, length: float, conductor: str, temperature: float | None) -> Worked:
    """Resistance of a length of one conductor; mm² or AWG, m, °C -> Ω."""
    at = default_temperature(conductor, temperature)
    per_km, source = ohm_per_km(size, conductor, at)
    return Worked(
        figures=(
            figure("resistance of one conductor", per_km * length / 1000, "Ω"),
            figure("per length", per_km, "Ω/km"),
            figure("at", at, "°C"),
        ),
        sources=(source,),
    )


def voltage_drop(
    length: float,
    size: float,
    current: float,
    voltage: float,
    conductor: str,
    system: str,
    power_factor: float,
    temperature: float | None,
) -> Worked:
    """2 L R I on two wires, √3 L R I cos φ on three phases, reactance left out; m, mm² or AWG, A, V -> V and %."""
    per_km, source = ohm_per_km(size, conductor, default_temperature(conductor, temperature))
    one_way = per_km * length / 1000
    drop = math.sqrt(3) * one_way * current * power_factor if system == "three-phase" else 2 * one_way * current
    percent = 100 * drop / voltage
    verdict = judged(percent, *ADVICE)
    if drop >= voltage:
        raise CalculationError("The drop is more than the whole voltage.", "Check length, size and current.")
    why = {
        Verdict.GOOD: "It is within the advice for a branch circuit.",
        Verdict.ACT: "It is above the advice for a branch circuit alone.",
        Verdict.STOP: "It is above the advice for feeder and branch together.",
    }[verdict]
    figures = (
        figure("voltage drop", drop, "V"),
        figure("share", percent, "%"),
        figure("left at the far end", voltage - drop, "V"),
    )
    return Worked(figures=figures, verdict=verdict, why=why, sources=(source,))


def far_end(
    supply: float, length: float, size: float, current: float, conductor: str, least: float, temperature: float | None
) -> Worked:
    """What is left of a DC supply at the end of two wires, against what the device needs; V, m, mm², A -> V."""
    per_km, source = ohm_per_km(size, conductor, default_temperature(conductor, temperature))
    drop = 2 * per_km * length / 1000 * current
    left = supply - drop
    verdict = Verdict.GOOD if left >= least + 1 else Verdict.ACT if left >= least else Verdict.STOP
    why = {
        Verdict.GOOD: "It is enough, with at least one volt to spare.",
        Verdict.ACT: "It is enough, but by less than one volt.",
        Verdict.STOP: "It is too low for the device.",
    }[verdict]
    figures = (figure("left at the far end", left, "V"), figure("drop", drop, "V"))
    return Worked(figures=figures, verdict=verdict, why=why, limit=f"At least {least:g} V.", sources=(source,))


def supply_loading(rated: float, loads: tuple[float, ...]) -> Worked:
    """Sum of the loads against the rating of a power supply; A -> %."""
    total = sum(loads)
    percent = 100 * total / rated
    verdict = judged(percent, 80.0, 100.0)
    why = {
        Verdict.GOOD: "There is room for switching on and for warm days.",
        Verdict.ACT: "It carries it, with little to spare.",
        Verdict.STOP: "It is asked for more than it is rated for, and will fold back.",
    }[verdict]
    figures = (
        figure("loading", percent, "%"),
        figure("sum of the loads", total, "A"),
        figure("left", rated - total, "A"),
    )
    return Worked(figures=figures, verdict=verdict, why=why)
