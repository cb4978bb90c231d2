"""Film: pre-stretch, thickness, yield, roll length and mass, use and cost of a load."""

from __future__ import annotations

import math

from assistant.calculation.units import rounded
from assistant.calculation.worked import Worked, figure
from assistant.domain.calculation import Verdict
from assistant.errors import CalculationError

POLYETHYLENE = 0.92
"""g/cm³; usual for stretch film (a film yield chart)."""


def stretch_of_ratio(ratio: float) -> Worked:
    """Stretch % = (v_out / v_in - 1) × 100."""
    if ratio < 1:
        raise CalculationError(
            "The driven roller is slower than the driver: that is no stretch.",
            "Divide the outgoing speed by the incoming one.",
        )
    return Worked(
        figures=(figure("pre-stretch", (ratio - 1) * 100, "%"), figure("one metre of roll film becomes", ratio, "m")),
        notes=("A ratio of two is 100 %, not 200 %.",),
    )


def stretch_meaning(stretch: float, length: float) -> Worked:
    """What a stretch means in metres, and as a ratio; %, m."""
    ratio = 1 + stretch / 100
    return Worked(
        figures=(
            figure(f"{rounded(length)} m of roll film becomes", length * ratio, "m"),
            figure("gear ratio of equal rollers", ratio, "to one"),
            figure("thickness left, width kept", 100 / ratio, "%"),
            figure("roll film for one metre on the load", 1 / ratio, "m"),
        )
    )


def marks(before: float, after: float) -> Worked:
    """Two marks on the film: (after / before - 1) × 100; mm -> %."""
    if after < before:
        raise CalculationError(
            "The marks came closer together.", "Give the distance on the roll first, then on the load."
        )
    return Worked(
        figures=(figure("applied stretch", (after / before - 1) * 100, "%"),),
        notes=("It is the whole stretch: pre-stretch and the pull of the load together.",),
    )


def stretched_thickness(thickness: float, stretch: float) -> Worked:
    """Thickness / (1 + stretch), width kept; µm, %."""
    return Worked(
        figures=(figure("thickness on the load", thickness / (1 + stretch / 100), "µm"),),
        notes=("Film also grows narrower, so it stays a little thicker.",),
    )


def film_per_load(length: float, width: float, turns: float, stretch: float) -> Worked:
    """Perimeter × turns, and / (1 + stretch) off the roll; m, %."""
    applied = 2 * (length + width) * turns
    roll = applied / (1 + stretch / 100)
    figures = (
        figure("roll film for a load", roll, "m", 4),
        figure("film on the load", applied, "m"),
        figure("perimeter", 2 * (length + width), "m"),
    )
    return Worked(figures=figures, notes=("Tails and the first turn's overlap come on top.",))


def loads_per_roll(roll: float, per_load: float) -> Worked:
    """Whole loads from a roll; m."""
    loads = math.floor(roll / per_load + 1e-9)
    if loads == 0:
        return Worked(figures=(figure("loads", 0, ""),), verdict=Verdict.STOP, why="The roll does not last one load.")
    return Worked(figures=(figure("loads", loads, "", 6), figure("left on the core", roll - loads * per_load, "m")))


def film_mass(length: float, width: float, thickness: float, density: float) -> float:
    """Mass of a film in kg; m, mm, µm, g/cm³."""
    return length * (width / 1000) * (thickness / 1e6) * density * 1000


def roll_mass(length: float, width: float, thickness: float, density: float) -> Worked:
    """Net mass of a roll; m, mm, µm, g/cm³ -> kg."""
    mass = film_mass(length, width, thickness, density)
    return Worked(
        figures=(figure("net mass", mass, "kg"), figure("the same", mass / 0.45359237, "lb")),
        notes=("The core comes on top.",),
    )


def cost(roll_film: float, width: float, thickness: float, density: float, price: float) -> Worked:
    """Film mass of a load × price; m of roll film, mm, µm, g/cm³, money per kg."""
    mass = film_mass(roll_film, width, thickness, density)
    return Worked(
        figures=(
            figure("cost of a load, in the money of the price", mass * price, "", 3),
            figure("film of a load", mass * 1000, "g"),
        )
    )


def thickness(thickness: float) -> Worked:
    """100 gauge = 1 mil = 25.4 µm."""
    return Worked(
        figures=(
            figure("thickness", thickness, "µm"),
            figure("the same", thickness / 0.254, "gauge"),
            figure("the same", thickness / 25.4, "mil"),
        ),
        notes=("Trade sheets call 80 gauge and 20 µm equal; it is 20.3 µm.",),
    )


def film_yield(thickness: float, density: float) -> Worked:
    """Area of a kilogram: 1 / (t ρ); µm, g/cm³ -> m²/kg."""
    per_area = thickness * density
    return Worked(
        figures=(
            figure("yield", 1000 / per_area, "m²/kg"),
            figure("mass of a square metre", per_area, "g/m²"),
            figure("the same yield", 1000 / per_area / 0.0254**2 * 0.45359237, "in²/lb"),
        )
    )


def roll_length(diameter: float, core: float, thickness: float) -> Worked:
    """L = π (D² - d²)/(4 t); mm, mm, µm -> m."""
    if core >= diameter:
        raise CalculationError("The core is as thick as the roll.", "Give the roll's outside diameter first.")
    length = math.pi * (diameter**2 - core**2) / (4 * thickness / 1000) / 1000
    return Worked(
        figures=(figure("film on the roll", length, "m", 4),),
        notes=("Wound tight; air between the layers leaves less.",),
    )


def post_stretch(fed: float) -> Worked:
    """Film fed at a share of the perimeter: 1 / share - 1; %."""
    return Worked(figures=(figure("stretch by the load", 100 * (100 / fed - 1), "%"),))
