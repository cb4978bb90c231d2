"""Windings: unbalance of voltage and current, insulation resistance, polarisation index, resistance and temperature."""

from __future__ import annotations

import math
from collections.abc import Sequence

from assistant.calculation.tables import table
from assistant.calculation.units import rounded
from assistant.calculation.worked import Worked, figure, judged
from assistant.domain.calculation import Verdict
from assistant.errors import CalculationError

COPPER_K = 234.5
"""Kelvin; zero of the copper line in IEEE and NEMA practice (IEC 60034-1 takes 235)."""
LEAST_WINDING_MOHM = 5.0
"""IEEE 43-2013, random-wound stator and form-wound below 1 kV, at 40 °C after one minute."""
LEAST_MACHINE_MOHM = 1.0
"""IEC 60204-1:2016, 18.3, at 500 V DC."""


def unbalance_of(values: Sequence[float]) -> tuple[float, float]:
    """Average, and the largest deviation from it in % of it; nothing is rounded on the way."""
    if len(values) != 3:
        raise CalculationError(
            f"There are three phases, but {len(values)} figures.", "Give three, with commas between."
        )
    average = sum(values) / 3
    if average == 0:
        raise CalculationError("All three figures are zero.", "Measure with the load on.")
    return average, 100 * max(abs(value - average) for value in values) / average


def voltage_unbalance(voltages: tuple[float, ...]) -> Worked:
    """100 × largest deviation from average / average; V -> %, with the share of rated load that is left."""
    average, percent = unbalance_of(voltages)
    figures = [figure("voltage unbalance", percent, "%"), figure("average", average, "V", 5)]
    verdict = judged(percent, 1.0, 5.0)
    curve = table("voltage_derating")
    if percent <= 5.0:
        figures.append(figure("share of rated load left, about", 100 * curve.read(percent), "%", 2))
    why = {
        Verdict.GOOD: "The motor may carry its rated load.",
        Verdict.ACT: "Above one percent a motor runs hotter; its load is cut to that share, and the cause found.",
        Verdict.STOP: "Above this a motor is not to run at all.",
    }[verdict]
    note = (
        f"Currents may differ by about 6 to 10 times that: {rounded(6 * percent, 2)} % to {rounded(10 * percent, 2)} %."
    )
    return Worked(figures=tuple(figures), verdict=verdict, why=why, notes=(note,), sources=(curve.cited,))


def current_unbalance(currents: tuple[float, ...]) -> Worked:
    """The same formula on currents; A -> %."""
    average, percent = unbalance_of(currents)
    verdict = judged(percent, 10.0, 30.0)
    why = {
        Verdict.GOOD: "The currents agree.",
        Verdict.ACT: "The supply, a contact or the winding is uneven.",
        Verdict.STOP: "A phase is missing or nearly so, or a winding is faulty.",
    }[verdict]
    return Worked(
        figures=(figure("current unbalance", percent, "%"), figure("average", average, "A", 4)),
        verdict=verdict,
        why=why,
    )


def insulation(resistance: float, temperature: float | None, insulation: str) -> Worked:
    """One-minute insulation resistance brought to 40 °C and held against the least; MΩ, °C -> MΩ."""
    at_40, notes = resistance, list[str]()
    if temperature is None:
        notes.append(
            "Without the winding's temperature it is taken as it stands; a cold winding reads two to four times higher."
        )
    else:
        at_40 = resistance * correction_to_40(temperature, insulation)
    figures = [figure("insulation resistance at 40 °C", at_40, "MΩ", 2), figure("measured", resistance, "MΩ")]
    if at_40 >= LEAST_WINDING_MOHM:
        verdict, why = Verdict.GOOD, "It is at or above the least for a random-wound stator below one kilovolt."
    elif resistance >= LEAST_MACHINE_MOHM:
        verdict, why = (
            Verdict.ACT,
            "It is below the least for a winding, but above the least for a machine's wiring as measured.",
        )
    else:
        verdict, why = (
            Verdict.STOP,
            "It is below the least for a machine's wiring, so neither motor nor cable goes back on supply.",
        )
    notes.append("A part with a slip ring or a busbar has its own, lower least value of 50 kΩ.")
    return Worked(figures=tuple(figures), verdict=verdict, why=why, notes=tuple(notes))


def correction_to_40(temperature: float, insulation: str) -> float:
    """Factor to 40 °C: halving each 10 K (thermoplastic), or the exponential of IEEE 43-2013 (thermosetting, 10 to 40 °C)."""
    if insulation == "thermoplastic":
        return float(0.5 ** ((40 - temperature) / 10))
    if not 10 <= temperature <= 40:
        raise CalculationError(
            f"The factor for thermosetting insulation is given from 10 to 40 °C, not for {rounded(temperature)} °C.",
            "Let the winding come into that range and measure again.",
        )
    return math.exp(-4230 * (1 / (temperature + 273) - 1 / 313))


def polarisation(one_minute: float, ten_minutes: float, insulation_class: str) -> Worked:
    """PI = R at 10 min / R at 1 min; MΩ -> a ratio."""
    index = ten_minutes / one_minute
    least = 1.5 if insulation_class == "A" else 2.0
    good = index >= least
    notes = ["On small random-wound motors the index may not apply: their absorption current is gone in seconds."]
    if one_minute > 5000:
        notes.append("Above 5000 MΩ at one minute the index may mean nothing (from memory).")
    return Worked(
        figures=(figure("polarisation index", index, ""),),
        verdict=Verdict.GOOD if good else Verdict.ACT if index >= 1 else Verdict.STOP,
        why="The winding is dry and clean enough." if good else "Damp or dirt is likely.",
        limit=f"At least {least:g} for class {insulation_class}.",
        notes=tuple(notes),
    )


def resistance_at(resistance: float, temperature: float, wanted: float, constant: float) -> Worked:
    """R2 = R1 (k + T2) / (k + T1); Ω, °C -> Ω."""
    value = resistance * (constant + wanted) / (constant + temperature)
    return Worked(figures=(figure("resistance at the wanted temperature", value, "Ω"),))


def temperature_from(
    resistance: float, temperature: float, hot: float, constant: float, thermal_class: str | None
) -> Worked:
    """T2 = R2 / R1 (k + T1) - k; Ω, °C -> °C and the rise in K."""
    value = hot / resistance * (constant + temperature) - constant
    rise = value - temperature
    figures = (figure("winding temperature", value, "°C"), figure("rise", rise, "K"))
    if thermal_class is None:
        return Worked(figures=figures)
    rows = table("winding_rise")
    limit = float(rows.word(thermal_class))
    verdict = judged(rise, limit, limit + 10)
    return Worked(
        figures=figures,
        verdict=verdict,
        why="The rise is within its class."
        if verdict is Verdict.GOOD
        else "The winding is hotter than its class allows for long.",
        limit=f"At most {limit:g} K for class {thermal_class}.",
        sources=(rows.cited,),
    )


def winding_balance(resistances: tuple[float, ...]) -> Worked:
    """Three windings against each other; Ω -> %."""
    average, percent = unbalance_of(resistances)
    verdict = judged(percent, 3.0, 10.0)
    why = "The windings agree." if verdict is Verdict.GOOD else "A winding, a joint or a link is not like the others."
    return Worked(
        figures=(figure("largest deviation", percent, "%"), figure("average", average, "Ω", 4)),
        verdict=verdict,
        why=why,
    )
