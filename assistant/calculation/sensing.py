"""Sensors: distance by target metal, inputs and leakage, what a meter shows at an output, encoders and pick-ups."""

from __future__ import annotations

import math

from assistant.calculation.tables import table
from assistant.calculation.units import rounded
from assistant.calculation.worked import Worked, figure
from assistant.domain.calculation import Verdict


def distance(rated: float, metal: str, factor: float | None, gap: float | None) -> Worked:
    """Assured distance 0.81 sn, times the metal's factor; mm."""
    rows = table("target_material")
    low, high = (factor, factor) if factor is not None else rows.word(metal)
    assured = 0.81 * rated * low
    figures = [figure("assured operating distance", assured, "mm")]
    if high != low:
        figures.append(figure("at the upper end of the factor", 0.81 * rated * high, "mm"))
    figures += [figure("surely off beyond, on steel", 1.43 * rated, "mm"), figure("factor taken", low, "")]
    sources = () if factor is not None or metal == "mild steel" else (rows.cited,)
    if gap is None:
        return Worked(figures=tuple(figures), sources=sources)
    verdict = Verdict.GOOD if gap <= assured else Verdict.ACT if gap <= 0.81 * rated * high else Verdict.STOP
    why = {
        Verdict.GOOD: "The gap is inside the assured distance.",
        Verdict.ACT: "The gap holds only if the sensor is a good one of its kind.",
        Verdict.STOP: "The gap is beyond the assured distance: it will drop out when warm or when the target shakes.",
    }[verdict]
    return Worked(figures=tuple(figures), verdict=verdict, why=why, sources=sources)


def standard_target(diameter: float, rated: float) -> Worked:
    """Side of the square standard target: the face diameter or 3 sn, whichever is greater; mm."""
    return Worked(
        figures=(figure("side of the square", max(diameter, 3 * rated), "mm"), figure("thickness", 1.0, "mm")),
        notes=("It is mild steel; a smaller or thinner target shortens the distance.",),
    )


def input_state(voltage: float, kind: str) -> Worked:
    """What a 24 V input makes of a voltage at its terminal; V."""
    rows = table("input_types")
    lowest, off, on, highest = rows.word(kind)
    figures = (
        figure("voltage at the terminal", voltage, "V"),
        figure("surely on from", on, "V"),
        figure("surely off up to", off, "V"),
    )
    if not lowest <= voltage <= highest:
        return Worked(
            figures=figures,
            verdict=Verdict.STOP,
            why="It is outside of what an input may be given.",
            sources=(rows.cited,),
        )
    if voltage <= off:
        return Worked(figures=figures, verdict=Verdict.GOOD, why="It reads off.", sources=(rows.cited,))
    if voltage >= on:
        return Worked(figures=figures, verdict=Verdict.GOOD, why="It reads on.", sources=(rows.cited,))
    return Worked(
        figures=figures,
        verdict=Verdict.ACT,
        why="It is in between: neither on nor off is guaranteed.",
        sources=(rows.cited,),
    )


def leakage(current: float, kind: str) -> Worked:
    """Whether a sensor's off-state current may hold an input on; mA."""
    rows = table("input_leakage")
    limit = float(rows.word(kind))
    figures = (figure("leakage", current, "mA"), figure("still read as off up to", limit, "mA"))
    good = current <= limit
    return Worked(
        figures=figures,
        verdict=Verdict.GOOD if good else Verdict.ACT,
        why="The input still reads off." if good else "The leakage may hold the input on.",
        sources=(rows.cited,),
    )


def output_test(supply: float, drop: float, kind: str) -> Worked:
    """What a meter to minus shows at a three-wire output with a load; V."""
    on = supply - drop if kind == "PNP" else drop
    off = 0.0 if kind == "PNP" else supply
    return Worked(
        figures=(figure("switched on", on, "V"), figure("switched off", off, "V")),
        notes=("Without a load an output that is off floats, and a meter shows anything.",),
    )


def encoder_speed(counts: float, time: float, pulses: float, edges: float) -> Worked:
    """Speed = counts / (edges × pulses) / t; s -> r/min."""
    per_turn = edges * pulses
    return Worked(
        figures=(
            figure("speed", counts / per_turn / time * 60, "r/min", 4),
            figure("counts in a turn", per_turn, "", 6),
        )
    )


def pulse_frequency(speed: float, pulses: float) -> Worked:
    """Frequency = n × pulses / 60; r/min -> Hz, and the time between pulses."""
    hertz = speed * pulses / 60
    return Worked(
        figures=(figure("pulse frequency", hertz, "Hz", 4), figure("time between pulses", 1000 / hertz, "ms")),
        notes=("A timer for no motion stays above the time between pulses at the slowest speed.",),
    )


def roller(diameter: float, speed: float, pulses: float | None) -> Worked:
    """Speed = π D n, and the travel of one pulse; mm, r/min -> m/min, mm."""
    metres = math.pi * diameter / 1000 * speed
    figures = [figure("surface speed", metres, "m/min", 4), figure("the same", metres / 60, "m/s", 4)]
    if pulses is not None:
        figures.append(figure("travel of one pulse", math.pi * diameter / pulses, "mm"))
    return Worked(figures=tuple(figures))


def thermistor(resistance: float, sensors: float) -> Worked:
    """What a motor's thermistor loop says; Ω."""
    each = resistance / sensors
    rows = table("thermistor").rows
    figures = (figure("resistance of one", each, "Ω"),)
    if each < 20:
        return Worked(
            figures=figures, verdict=Verdict.ACT, why="That is a short circuit in the loop, not a cold sensor."
        )
    if each <= rows["cold"]:
        return Worked(figures=figures, verdict=Verdict.GOOD, why="It is cold: at least 20 K below its temperature.")
    if each <= rows["below"]:
        return Worked(figures=figures, verdict=Verdict.GOOD, why="It is below its temperature.")
    if each >= rows["above"]:
        return Worked(
            figures=figures,
            verdict=Verdict.STOP,
            why="The winding is above the thermistor's temperature, or the loop is open.",
        )
    why = f"It is close to its temperature: {rounded(each)} Ω lies between the two gates."
    return Worked(figures=figures, verdict=Verdict.ACT, why=why)
