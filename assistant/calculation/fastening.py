"""Bolts and bearings: stress area, preload, torque, and basic rating life."""

from __future__ import annotations

import math

from assistant.calculation.tables import table
from assistant.calculation.worked import Worked, figure
from assistant.domain.calculation import Source, Standing
from assistant.errors import CalculationError


def stress_area(diameter: float, pitch: float) -> float:
    """As = π/4 (d - 0.9382 P)²; mm -> mm²."""
    return math.pi / 4 * (diameter - 0.9382 * pitch) ** 2


def bolt(diameter: float, property_class: str, share: float, nut_factor: float, pitch: float | None) -> Worked:
    """Preload as a share of proof load, and T = K F d; mm, % -> kN, N·m."""
    rows = table("coarse_pitch")
    taken = float(rows.row(diameter)[1]) if pitch is None else pitch
    area = stress_area(diameter, taken)
    stress = float(table("proof_stress").word(property_class))
    if property_class == "8.8" and diameter > 16:
        stress = 600.0
    proof = stress * area
    preload = proof * share / 100
    figures = (
        figure("torque", nut_factor * preload * diameter / 1000, "N·m"),
        figure("preload", preload / 1000, "kN"),
        figure("proof load", proof / 1000, "kN"),
        figure("stress area", area, "mm²"),
    )
    notes = (
        "A lubricated thread takes a quarter less torque for the same preload; the machine's own figure comes first.",
    )
    cited = (table("proof_stress").cited, rows.cited) if pitch is None else (table("proof_stress").cited,)
    return Worked(figures=figures, notes=notes, sources=cited)


def preload(torque: float, diameter: float, nut_factor: float) -> Worked:
    """F = T / (K d); N·m, mm -> kN."""
    return Worked(figures=(figure("preload", torque / (nut_factor * diameter / 1000) / 1000, "kN"),))


def torque_for(preload: float, diameter: float, nut_factor: float) -> Worked:
    """T = K F d; N, mm -> N·m."""
    value = nut_factor * preload * diameter / 1000
    return Worked(figures=(figure("torque", value, "N·m"), figure("the same", value / 0.1129848290276167, "lbf·in")))


def bearing_life(rating: float, load: float, speed: float | None, kind: str) -> Worked:
    """L10 = (C/P)^p, p = 3 for balls and 10/3 for rollers; kN, r/min -> million turns, h."""
    if load > rating:
        raise CalculationError(
            "The load is above the dynamic rating.", "The rule does not hold there: a larger bearing is needed."
        )
    millions = (rating / load) ** (3 if kind == "ball" else 10 / 3)
    figures = [figure("basic rating life", millions, "million turns", 4)]
    if speed is not None:
        figures.insert(0, figure("basic rating life in hours", millions * 1e6 / (60 * speed), "h", 4))
    return Worked(
        figures=tuple(figures),
        notes=("Nine of ten bearings reach it; half of them reach about five times that.",),
        sources=(Source(text="ISO 281, reliability of 90 %", standing=Standing.CONFIRMED),),
    )


def grease(outside: float, width: float) -> Worked:
    """G = 0.005 D B; mm -> g."""
    return Worked(figures=(figure("grease", 0.005 * outside * width, "g", 2),))
