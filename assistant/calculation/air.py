"""Compressed air: cylinder force, consumption, leaks, suction, flow through a valve."""

from __future__ import annotations

import math

from assistant.calculation.tables import table
from assistant.calculation.worked import Worked, figure
from assistant.domain.calculation import Source
from assistant.errors import CalculationError

ANR_BAR = 1.0
"""Reference of ISO 8778 (ANR): 100 kPa."""
ATMOSPHERE_BAR = 1.01325


def _areas(bore: float, rod: float | None) -> tuple[float, float, tuple[Source, ...]]:
    """Piston area on both sides in mm²; a rod not given is the usual one of the table."""
    sources: tuple[Source, ...] = ()
    if rod is None:
        rows = table("cylinder_rods")
        rod, sources = float(rows.row(bore)[1]), (rows.cited,)
    if rod >= bore:
        raise CalculationError("The rod is as thick as the bore.", "Check bore and rod.")
    full = math.pi / 4 * bore**2
    return full, full - math.pi / 4 * rod**2, sources


def cylinder_force(bore: float, pressure: float, rod: float | None) -> Worked:
    """F = p A, theoretical, on both strokes; mm, bar (gauge) -> N."""
    full, ring, sources = _areas(bore, rod)
    return Worked(
        figures=(figure("force out", pressure * 0.1 * full, "N", 4), figure("force in", pressure * 0.1 * ring, "N", 4)),
        notes=("Theoretical: friction takes a part, and a load to be moved quickly leaves about half.",),
        sources=sources,
    )


def air_use(bore: float, stroke: float, rate: float, pressure: float, rod: float | None) -> Worked:
    """Air of a double-acting cylinder at the reference of ISO 8778; mm, double strokes a minute, bar -> L/min (ANR)."""
    full, ring, sources = _areas(bore, rod)
    litres = (full + ring) * stroke / 1e6
    used = litres * (pressure + ANR_BAR) / ANR_BAR * rate
    figures = (
        figure("air used", used, "L/min"),
        figure("stroke volume, out", full * stroke / 1e6, "L"),
        figure("ratio at 1 bar reference", (pressure + ANR_BAR) / ANR_BAR, ""),
        figure("ratio at 1.01325 bar", (pressure + ATMOSPHERE_BAR) / ATMOSPHERE_BAR, ""),
    )
    return Worked(
        figures=figures, notes=("Litres are of free air (ANR): 1 bar absolute, 20 °C, 65 % humidity.",), sources=sources
    )


def leak(volume: float, start: float, end: float, time: float) -> Worked:
    """Leak = V Δp / (p0 t); L, bar, s -> L/min (ANR)."""
    if end >= start:
        raise CalculationError("The pressure has not fallen.", "Shut the supply off before the test.")
    return Worked(figures=(figure("leak", volume * (start - end) / ANR_BAR / (time / 60), "L/min"),))


def suction(diameter: float, vacuum: float) -> Worked:
    """F = Δp A; mm, bar below atmosphere -> N."""
    return Worked(
        figures=(figure("holding force", vacuum * 0.1 * math.pi / 4 * diameter**2, "N"),),
        notes=(
            "Theoretical; a level load wants at least twice that, one held from the side four times (common practice, no source).",
        ),
    )


def valve_flow(conductance: float, inlet: float, outlet: float, critical: float) -> Worked:
    """ISO 6358: choked q = C p1, else C p1 √(1 - ((r - b)/(1 - b))²); dm³/(s·bar), bar absolute -> L/min (ANR)."""
    if outlet >= inlet:
        raise CalculationError("The outlet is not below the inlet.", "Give both pressures absolute.")
    ratio = outlet / inlet
    flow = conductance * inlet
    choked = ratio <= critical
    if not choked:
        flow *= math.sqrt(1 - ((ratio - critical) / (1 - critical)) ** 2)
    why = "The flow is choked: less pressure behind brings no more." if choked else "The flow is not choked."
    return Worked(
        figures=(
            figure("flow", flow * 60, "L/min", 4),
            figure("the same", flow, "dm³/s"),
            figure("pressure ratio", ratio, ""),
        ),
        why=why,
    )
