"""Capacitors: how long they hold a dangerous voltage, what resistor drains them, what they store."""

from __future__ import annotations

import math

from assistant.calculation.worked import Worked, figure
from assistant.domain.calculation import Verdict
from assistant.errors import CalculationError

SAFE_SECONDS = 5.0
EXEMPT_MICROCOULOMB = 60.0


def discharge(capacitance: float, resistance: float, voltage: float, target: float) -> Worked:
    """Time = R C ln(V0 / Vf); µF, Ω, V -> s, held against 60 V within 5 s."""
    if target >= voltage:
        raise CalculationError(
            "It is at or below the wanted voltage already.", "Measure it all the same before you touch it."
        )
    seconds = resistance * capacitance * 1e-6 * math.log(voltage / target)
    good = seconds <= SAFE_SECONDS
    figures = (
        figure("time to the wanted voltage", seconds, "s", 4),
        figure("energy at the start", capacitance * 1e-6 * voltage**2 / 2, "J"),
        figure("charge at the start", capacitance * voltage, "µC"),
    )
    return Worked(
        figures=figures,
        verdict=Verdict.GOOD if good else Verdict.STOP,
        why="A sound drain resistor brings it down within five seconds."
        if good
        else "It holds a dangerous voltage for longer than five seconds; a durable warning with the waiting time is owed.",
        notes=("An open drain resistor drains nothing: the figure holds only if the resistor is sound.",),
    )


def drain_resistor(capacitance: float, voltage: float, target: float, time: float) -> Worked:
    """R = t / (C ln(V0 / Vf)); µF, V, s -> kΩ and the power it takes at the start."""
    if target >= voltage:
        raise CalculationError("It is at or below the wanted voltage already.", "Check voltage and target.")
    ohms = time / (capacitance * 1e-6 * math.log(voltage / target))
    return Worked(
        figures=(
            figure("resistance, at most", ohms / 1000, "kΩ"),
            figure("power while it stays connected", voltage**2 / ohms, "W"),
        )
    )


def charge(capacitance: float, voltage: float) -> Worked:
    """Q = C V and E = C V² / 2; µF, V -> µC, J."""
    stored = capacitance * voltage
    exempt = stored <= EXEMPT_MICROCOULOMB
    return Worked(
        figures=(figure("charge", stored, "µC"), figure("energy", capacitance * 1e-6 * voltage**2 / 2, "J")),
        verdict=Verdict.GOOD if exempt else Verdict.ACT,
        why="The rule on residual voltage does not apply to so little charge."
        if exempt
        else "The rule on residual voltage applies.",
    )


def link_voltage(voltage: float) -> Worked:
    """√2 × the rms supply: peak of the rectified supply; V -> V."""
    return Worked(figures=(figure("direct voltage of the link", math.sqrt(2) * voltage, "V"),))
