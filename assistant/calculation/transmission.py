"""Chains, belts and gears: sag, wear, lengths, tension, ratios to the speed of a table."""

from __future__ import annotations

import math

from assistant.calculation.worked import Worked, figure, judged
from assistant.domain.calculation import Verdict
from assistant.errors import CalculationError

NORMAL_SAG, TIGHT_SAG = 0.04, 0.02
"""Share of the span, slack side: horizontal and moderate; vertical, heavy start-stop, reversing (maker guides)."""


def chain_sag(span: float, drive: str, sag: float | None) -> Worked:
    """Sag of the slack side as a share of the span; mm. The whole movement at mid-span is about twice that."""
    wanted = span * (NORMAL_SAG if drive == "horizontal" else TIGHT_SAG)
    figures = [figure("sag wanted", wanted, "mm"), figure("movement up and down, about", 2 * wanted, "mm")]
    if sag is None:
        return Worked(figures=tuple(figures))
    ratio = sag / wanted
    verdict = Verdict.GOOD if 0.5 <= ratio <= 1.5 else Verdict.ACT if ratio <= 3 else Verdict.STOP
    if ratio < 0.5:
        why = "It is too tight: chain, bearings and motor suffer."
    else:
        why = {
            Verdict.GOOD: "The sag is about right.",
            Verdict.ACT: "It is too slack.",
            Verdict.STOP: "It is so slack that it may jump a tooth.",
        }[verdict]
    return Worked(figures=(*figures, figure("measured over wanted", ratio, "times", 2)), verdict=verdict, why=why)


def chain_wear(measured: float, pitch: float, links: float, teeth: float | None, drive: str) -> Worked:
    """Elongation over a number of pitches against the limit; mm -> %."""
    new = pitch * links
    percent = 100 * (measured / new - 1)
    if percent < -0.5:
        raise CalculationError(
            f"{measured:g} mm over {links:g} pitches is shorter than new ({new:g} mm).",
            "Count the pitches and check the pitch.",
        )
    limit = 3.0
    if teeth is not None and teeth > 67:
        limit = min(limit, 200 / teeth)
    if drive == "fixed centres":
        limit = min(limit, 1.5)
    verdict = judged(percent, 0.8 * limit, limit)
    why = {
        Verdict.GOOD: "The chain is well within its limit.",
        Verdict.ACT: "The chain is near its limit: order one.",
        Verdict.STOP: "The chain is worn out.",
    }[verdict]
    figures = (
        figure("elongation", percent, "%"),
        figure("new length", new, "mm", 5),
        figure("length at the limit", new * (1 + limit / 100), "mm", 5),
    )
    return Worked(figures=figures, verdict=verdict, why=why, limit=f"At most {limit:.3g} %.")


def chain_length(pitch: float, centres: float, small: float, large: float) -> Worked:
    """Length in pitches = 2C/p + (N1 + N2)/2 + ((N2 - N1)/2π)² p/C; mm."""
    low, high = sorted((small, large))
    ratio = centres / pitch
    pitches = 2 * ratio + (low + high) / 2 + ((high - low) / (2 * math.pi)) ** 2 / ratio
    even = 2 * math.ceil(pitches / 2 - 1e-9)
    notes = () if 30 <= ratio <= 50 else ("Layouts usually have centres of 30 to 50 pitches.",)
    figures = (
        figure("length, next even number", even, "pitches", 6),
        figure("computed", pitches, "pitches", 5),
        figure("length", even * pitch, "mm", 6),
    )
    return Worked(figures=figures, notes=notes)


def sprocket(pitch: float, teeth: float, speed: float | None) -> Worked:
    """D = p / sin(180°/N) and v = p N n; mm, r/min -> mm, m/s."""
    figures = [figure("pitch diameter", pitch / math.sin(math.pi / teeth), "mm", 4)]
    if speed is not None:
        figures.append(figure("chain speed", pitch / 1000 * teeth * speed / 60, "m/s"))
    return Worked(figures=tuple(figures))


def belt_length(large: float, small: float, centres: float, run: str) -> Worked:
    """L = 2C + π(D + d)/2 + (D ∓ d)²/(4C); mm."""
    if centres < (large + small) / 2:
        raise CalculationError(
            "The pulleys overlap at that distance.", "Give centre distance and diameters in the same sense."
        )
    square = (large + small) ** 2 if run == "crossed" else (large - small) ** 2
    length = 2 * centres + math.pi * (large + small) / 2 + square / (4 * centres)
    return Worked(figures=(figure("belt length", length, "mm", 5),))


def belt_tension(mass: float, span: float, frequency: float) -> Worked:
    """T = 4 m L² f²; kg/m, m, Hz -> N."""
    return Worked(figures=(figure("tension of one strand", 4 * mass * span**2 * frequency**2, "N"),))


def belt_frequency(mass: float, span: float, tension: float) -> Worked:
    """Frequency = √(T / (4 m L²)); kg/m, m, N -> Hz."""
    return Worked(figures=(figure("frequency of the free span", math.sqrt(tension / (4 * mass * span**2)), "Hz"),))


def belt_deflection(span: float, force: float | None, deflection: float | None) -> Worked:
    """Deflection of span/64, and the tension that a force and a deflection speak for: T = F L / (4 d); mm, N."""
    wanted = span / 64
    figures = [figure("deflection wanted at mid-span", wanted, "mm")]
    if force is not None:
        taken = deflection if deflection is not None else wanted
        figures.append(figure("tension, belt stiffness left out", force * span / (4 * taken), "N"))
    if deflection is None:
        return Worked(figures=tuple(figures))
    ratio = deflection / wanted
    verdict = Verdict.GOOD if 0.75 <= ratio <= 1.25 else Verdict.ACT
    if verdict is Verdict.GOOD:
        why = "The deflection is about right."
    else:
        why = "It is too tight." if ratio < 1 else "It is too slack."
    return Worked(figures=tuple(figures), verdict=verdict, why=why)


def pulley(pitch: float, teeth: float, speed: float | None) -> Worked:
    """D = z p / π, and the belt's speed; mm, r/min."""
    diameter = teeth * pitch / math.pi
    figures = [figure("pitch diameter", diameter, "mm", 4)]
    if speed is not None:
        figures.append(figure("belt speed", math.pi * diameter / 1000 * speed / 60, "m/s"))
    return Worked(figures=tuple(figures))


def belt_speed(diameter: float, speed: float) -> Worked:
    """Speed = π D n; mm, r/min -> m/s."""
    return Worked(figures=(figure("belt speed", math.pi * diameter / 1000 * speed / 60, "m/s"),))


def table_speed(motor_speed: float, gear: float, driver: float, driven: float) -> Worked:
    """Table speed = motor speed / gearbox × z1 / z2; r/min."""
    speed = motor_speed / gear * driver / driven
    return Worked(
        figures=(
            figure("speed of the table", speed, "r/min", 4),
            figure("whole ratio", gear * driven / driver, "to one", 4),
            figure("one turn takes", 60 / speed, "s"),
        )
    )
