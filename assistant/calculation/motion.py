"""What moves and is held: braking torque, brake gap, carriage and holding torque, inertia of a load, springs."""

from __future__ import annotations

import math

from assistant.calculation.worked import Worked, figure, judged
from assistant.domain.calculation import Verdict
from assistant.errors import CalculationError

GRAVITY = 9.80665
"""Standard gravity, m/s²."""


def inertia(mass: float, length: float, width: float) -> float:
    """J = m (a² + b²)/12 of a cuboid about its vertical axis; kg, m -> kg·m²."""
    return mass * (length**2 + width**2) / 12


def turning(mass: float, length: float, width: float, speed: float, time: float, ratio: float | None) -> Worked:
    """Torque to start or stop a load on a table, and the energy in it; kg, m, r/min, s."""
    j = inertia(mass, length, width)
    omega = 2 * math.pi * speed / 60
    torque = j * omega / time
    figures = [
        figure("torque at the table", torque, "N·m", 4),
        figure("inertia of the load", j, "kg·m²", 4),
        figure("energy at speed", j * omega**2 / 2, "J", 4),
    ]
    if ratio is not None:
        figures.append(figure("torque at the motor, without loss", torque / ratio, "N·m"))
    return Worked(
        figures=tuple(figures),
        notes=("The table itself and the drive train come on top; friction helps a stop and hinders a start.",),
    )


def holding(mass: float, diameter: float, gear: float, brake: float, efficiency: float) -> Worked:
    """Reserve of a holding brake on the motor shaft under a carriage; kg, mm, N·m -> times."""
    force = mass * GRAVITY
    drum = force * diameter / 2000
    needed = drum / gear
    reserve = brake / (needed * efficiency)
    verdict = Verdict.GOOD if reserve >= 2 else Verdict.ACT if reserve >= 1.5 else Verdict.STOP
    why = {
        Verdict.GOOD: "The brake holds at least twice what hangs on it.",
        Verdict.ACT: "The brake holds it with a small reserve.",
        Verdict.STOP: "The brake has too little reserve to stand under.",
    }[verdict]
    figures = (
        figure("reserve", reserve, "times"),
        figure("torque needed at the motor", needed, "N·m"),
        figure("torque at the pulley", drum, "N·m"),
        figure("weight", force, "N"),
    )
    notes = ("Nobody stands under a carriage that only a brake holds, whatever the reserve: it is propped.",)
    return Worked(figures=figures, verdict=verdict, why=why, notes=notes)


def brake_gap(gap: float, least: float, most: float, limit: float) -> Worked:
    """A measured air gap against its setting and its limit; mm."""
    if not least <= most <= limit:
        raise CalculationError("The limits do not stand in order: least, most, limit.", "Check the three figures.")
    figures = (figure("gap", gap, "mm"), figure("left until the limit", max(0.0, limit - gap), "mm"))
    if gap < least:
        return Worked(figures=figures, verdict=Verdict.ACT, why="It is too small: the lining may drag and run hot.")
    verdict = judged(gap, most, limit)
    why = {
        Verdict.GOOD: "It is within its setting.",
        Verdict.ACT: "It is above its setting but below the limit: set it again.",
        Verdict.STOP: "It is above the limit: the coil may not lift the brake, or lift it late.",
    }[verdict]
    return Worked(figures=figures, verdict=verdict, why=why)


def braking(mass: float, speed: float, distance: float) -> Worked:
    """Deceleration and force to stop a mass within a distance; kg, m/min, mm."""
    v = speed / 60
    rate = v**2 / (2 * distance / 1000)
    return Worked(
        figures=(
            figure("force, weight left out", mass * rate, "N"),
            figure("deceleration", rate, "m/s²"),
            figure("time", v / rate, "s"),
        )
    )


def spring(modulus: float, wire: float, coil: float, turns: float) -> Worked:
    """Rate = G d⁴/(8 D³ n); MPa, mm -> N/mm."""
    if wire >= coil:
        raise CalculationError("The wire is thicker than the coil.", "Give the mean coil diameter.")
    return Worked(figures=(figure("spring rate", modulus * wire**4 / (8 * coil**3 * turns), "N/mm"),))


def springs_together(rates: tuple[float, ...], way: str) -> Worked:
    """Rates in series or parallel; N/mm."""
    total = sum(rates) if way == "parallel" else 1 / sum(1 / rate for rate in rates)
    return Worked(figures=(figure("rate together", total, "N/mm"),))
